"""The staking table: circle readings and distances from the centre hub."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.figures import Figures
from linemap.domain.staking.stakeout import StakePlan, stake_points
from linemap.domain.staking.staking_table import format_circle, staking_rows

Build = Callable[..., Figures]
PLAN = StakePlan(pole_along=(25.0,), pole_arm=(10.0,), centre_along=(50.0,))


def readings(figures: Figures, row: int) -> dict[str, tuple[float | None, float]]:
    (entry,) = staking_rows(figures, stake_points(figures, PLAN, rows=[row]))
    return {point.stake.description: (point.circle_deg, point.distance) for point in entry.points}


def test_a_tangent_structure_is_turned_from_its_back_neighbour(build: Build) -> None:
    """Facing back with the circle at 0, ahead is 180, pole A (left looking ahead) is 90, pole B 270."""
    seen = readings(build(), 1)
    assert seen["1/2 CL HUB"] == (None, 0.0)
    assert seen["1/2 A HUB"] == pytest.approx((90.0, 6.25))
    assert seen["1/2 B HUB"] == pytest.approx((270.0, 6.25))
    assert seen["1/2 B OS10R"] == pytest.approx((270.0, 16.25))
    assert seen["1/2 CL OS50AH"] == pytest.approx((180.0, 50.0))
    assert seen["1/2 CL OS50BK"][0] in (pytest.approx(0.0), pytest.approx(360.0))
    circle, distance = seen["1/2 A OS25BK"]
    assert circle == pytest.approx(math.degrees(math.atan2(6.25, 25.0)))
    assert distance == pytest.approx(math.hypot(6.25, 25.0))


def test_the_set_up_names_both_neighbours_with_distances(build: Build) -> None:
    figures = build(azimuth_deg=65.45, turn_deg=-18.75, factor=0.999217)
    (entry,) = staking_rows(figures, stake_points(figures, PLAN, rows=[2]))
    set_up = entry.set_up
    assert (set_up.backsight, set_up.backsight_way, set_up.check) == ("1/2", "back", "2/1")
    assert set_up.backsight_azimuth_deg == pytest.approx(245.45)
    assert set_up.backsight_distance == pytest.approx(1000.0)
    assert set_up.check_circle_deg == pytest.approx(180.0 - 18.75)
    assert set_up.check_distance == pytest.approx(1000.0)
    assert (entry.row, entry.grounds) == (2, {})


def test_half_the_angle_lies_on_either_side_of_the_arm(build: Build) -> None:
    """A party chief's check: the angle left and the angle right of the arm line are equal."""
    seen = readings(build(turn_deg=-30.0), 2)
    a, b = seen["1/3 A HUB"][0], seen["1/3 B HUB"][0]
    assert a is not None
    assert b is not None
    ahead = 150.0
    assert ahead - a == pytest.approx(a, abs=1e-6)
    assert b - a == pytest.approx(180.0, abs=1e-6)


def test_the_first_structure_is_turned_from_the_ahead_one(build: Build) -> None:
    figures = build()
    first, last = staking_rows(figures, stake_points(figures, PLAN, rows=[4, 0]))
    assert (first.set_up.backsight, first.set_up.backsight_way, first.set_up.check) == ("1/2", "ahead", "")
    assert math.isnan(first.set_up.check_circle_deg)
    assert (last.set_up.backsight, last.set_up.check) == ("2/1", "")
    assert readings(figures, 0)["1/1 A HUB"] == pytest.approx((270.0, 6.25))


def test_the_middle_pole_of_three_shares_the_centre_hub(build: Build) -> None:
    seen = readings(build(pole_count=3), 1)
    assert seen["1/2 B HUB"] == (None, 0.0)


@pytest.mark.parametrize(
    ("circle", "text"),
    [(0.0, "0-00-00"), (359.99999, "0-00-00"), (90.5, "90-30-00"), (179.9997, "179-59-59"), (math.nan, "")],
)
def test_circle_readings_as_instruments_show_them(circle: float, text: str) -> None:
    assert format_circle(circle) == text


@settings(max_examples=examples(60))
@given(
    azimuth=st.floats(0.0, 359.9),
    turn=st.floats(-90.0, 90.0),
    factor=st.floats(0.999, 1.001),
    row=st.integers(1, 4),
)
def test_turning_and_measuring_lands_on_the_coordinates(
    build: Build, azimuth: float, turn: float, factor: float, row: int
) -> None:
    figures = build(azimuth_deg=azimuth, turn_deg=turn, factor=factor)
    (entry,) = staking_rows(figures, stake_points(figures, PLAN, rows=[row]))
    for point in entry.points:
        if point.circle_deg is None:
            continue
        angle = math.radians(entry.set_up.backsight_azimuth_deg + point.circle_deg)
        reach = point.distance * float(figures.combined_factor[row])
        east, north = figures.centre_of(row)
        assert east + reach * math.sin(angle) == pytest.approx(point.stake.easting, abs=1e-6)
        assert north + reach * math.cos(angle) == pytest.approx(point.stake.northing, abs=1e-6)
