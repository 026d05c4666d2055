"""What must be declared before a verdict is given."""

from __future__ import annotations

import pytest

from linemap.domain.design.declaration import Declaration
from linemap.units import LengthUnit


@pytest.mark.parametrize(
    ("factor", "base_point", "vertical_datum", "missing"),
    [
        ("", "", "", ("combined factor", "base point")),
        ("0.9995", " ", "", ("base point",)),
        ("0.9995", "none", "", ()),
        ("auto", "none", "", ("vertical datum",)),
        ("Auto", "N 900000 E 2250000", "NAVD88, GEOID18", ()),
    ],
)
def test_missing_declarations_are_named(
    factor: str, base_point: str, vertical_datum: str, missing: tuple[str, ...]
) -> None:
    declared = Declaration(
        crs="EPSG:6515",
        unit=LengthUnit.FOOT,
        combined_factor=factor,
        base_point=base_point,
        vertical_datum=vertical_datum,
    )
    assert declared.missing == missing
