"""Lines as declared: units, lengths and the names of vertices."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.design.line import Centreline, Declaration, Limits, Line
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit

LENGTHS = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)


def line(
    points: list[tuple[float, float]], *, unit: LengthUnit = LengthUnit.FOOT, factor: float = 1.0
) -> Line:
    return Line(
        name="North",
        crs="EPSG:6515",
        unit=unit,
        combined_factor=factor,
        centreline=Centreline.from_points(np.array(points), names=("POB", "")),
        stationing=Stationing(),
    )


def test_length_is_the_sum_of_the_legs() -> None:
    assert line([(0, 0), (3, 4), (3, 16)]).length == 17.0


def test_ground_length_is_grid_length_by_the_combined_factor() -> None:
    """12,470.48 of grid is 12,480.25 of ground where the factor is 0.999217."""
    assert line([(0, 0), (0, 12470.48)], factor=0.999217).length == pytest.approx(12480.25, abs=0.005)


@pytest.mark.parametrize(
    ("unit", "per_plus", "decimals"),
    [(LengthUnit.METRE, 1000, 3), (LengthUnit.FOOT, 100, 2), (LengthUnit.US_SURVEY_FOOT, 100, 2)],
)
def test_stations_are_printed_as_the_unit_is_used(unit: LengthUnit, per_plus: int, decimals: int) -> None:
    one = line([(0, 0), (1, 0)], unit=unit)
    assert (one.unit.per_plus, one.station_decimals) == (per_plus, decimals)


def test_limits_are_the_round_feet_of_practice_on_any_line() -> None:
    feet, metres = line([(0, 0), (1, 0)]), line([(0, 0), (1, 0)], unit=LengthUnit.METRE)
    limits = feet.limits
    rounds = [limits.pi_snap_m, limits.off_line_m, limits.competing_m, limits.station_m]
    assert [feet.ground(limit) for limit in rounds] == pytest.approx([5.0, 0.25, 12.0, 0.05])
    assert [metres.ground(limit) for limit in rounds] == rounds
    assert limits == Limits()


def test_vertices_are_named_or_counted_from_one() -> None:
    centreline = line([(0, 0), (1, 0), (2, 0)]).centreline
    assert [centreline.name(vertex) for vertex in range(3)] == ["POB", "vertex 2", "vertex 3"]


def test_what_nobody_declared_is_known_as_such() -> None:
    plain = line([(0, 0), (1, 0)])
    assert (plain.back_end, plain.ahead_end, plain.pole_a) == ("", "", "left")
    assert plain.combined_factor_declared


@given(
    points=st.lists(st.tuples(LENGTHS, LENGTHS), min_size=2, max_size=6),
    factor=st.floats(min_value=0.9, max_value=1.1),
    east=LENGTHS,
)
def test_length_grows_with_the_factor_and_not_with_the_place(
    points: list[tuple[float, float]], factor: float, east: float
) -> None:
    here = line(points)
    moved = line([(easting + east, northing) for easting, northing in points], factor=factor)
    assert moved.length * factor == pytest.approx(here.length, abs=1e-6, rel=1e-9)
    assert line(points[::-1]).length == pytest.approx(here.length)


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
