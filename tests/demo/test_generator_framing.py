"""The invented framing table: every type whole, read without a problem."""

from __future__ import annotations

from pathlib import Path

import pytest

from linemap.domain.framing.framing_type import framing_types
from linemap.io.design.rows import read_rows
from linemap.io.source.read import read_source
from linemap.kinds.registry import FRAMING
from linemap.units import LengthUnit

Key = dict[str, list[dict[str, str]]]


def test_every_type_of_the_line_is_in_the_framing_table(demo_files: Path, key: Key) -> None:
    source = read_source(demo_files / "framing_types.csv")
    assert source.kind == "framing"
    loaded = read_rows(source.tables[0], FRAMING, unit=LengthUnit.FOOT)
    assert loaded.problems == ()
    types = framing_types(loaded.value)
    assert set(types) == {row["type"] for row in key["structures"]}
    for kind in types.values():
        assert kind.blocks == 5
        assert kind.embedment is not None
        assert kind.embedment.minimum(75.0) == pytest.approx(9.5)
        assert kind.number("minimum drop") == pytest.approx(1.0)
        assert (kind.bolting == "none") == kind.code.startswith("P3")
        assert len(kind.drawings) == 4
    assert types["H-TAN"].number("brace length") == pytest.approx(17.5)
    assert types["H-LONG"].bolting == "inside face"
