"""Stakes: where they stand and what they are called."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.figures import Figures
from linemap.domain.design.guy import Guy
from linemap.domain.design.structure import Pole
from linemap.domain.guying.anchor import required_anchors
from linemap.domain.staking.stakeout import StakePlan, StakePoint, point_numbers, stake_points, stakes_of_row
from linemap.domain.survey.description import parse_description
from linemap.errors import InputRefused

Build = Callable[..., Figures]
EAST, NORTH = 2_250_000.0, 900_000.0


def renamed(figures: Figures, number: str, *, row: int = 1) -> Figures:
    numbers = figures.structures.number.copy()
    numbers[row] = number
    return dataclasses.replace(figures, structures=dataclasses.replace(figures.structures, number=numbers))


def by_description(points: tuple[StakePoint, ...]) -> dict[str, tuple[float, float]]:
    return {
        point.description: (round(point.easting - EAST, 6) + 0.0, round(point.northing - NORTH, 6))
        for point in points
    }


def test_the_stakes_of_a_tangent_structure_on_a_line_due_north(build: Build) -> None:
    plan = StakePlan(pole_along=(25.0,), pole_arm=(10.0,), centre_along=(50.0,))
    assert by_description(stake_points(build(), plan, rows=[1])) == {
        "1/2 CL HUB": (0.0, 1000.0),
        "1/2 A HUB": (-6.25, 1000.0),
        "1/2 B HUB": (6.25, 1000.0),
        "1/2 CL OS50BK": (0.0, 950.0),
        "1/2 CL OS50AH": (0.0, 1050.0),
        "1/2 A OS25BK": (-6.25, 975.0),
        "1/2 A OS25AH": (-6.25, 1025.0),
        "1/2 B OS25BK": (6.25, 975.0),
        "1/2 B OS25AH": (6.25, 1025.0),
        "1/2 A OS10L": (-16.25, 1000.0),
        "1/2 B OS10R": (16.25, 1000.0),
    }


def test_distances_are_ground_and_coordinates_grid(build: Build) -> None:
    (*_, back, _) = stake_points(
        build(factor=0.999217), StakePlan(pole_along=(), pole_arm=(), centre_along=(1000.0,)), rows=[2]
    )
    assert back.description == "1/3 CL OS1000BK"
    assert (back.easting, back.northing) == (pytest.approx(EAST), pytest.approx(NORTH + 999.217, abs=1e-6))


def test_pole_a_may_stand_right_and_c_outside(build: Build) -> None:
    plan = StakePlan(pole_along=(), pole_arm=(10.0,))
    points = by_description(stake_points(build(pole_a="right", pole_count=3, spacing=15.0), plan, rows=[1]))
    assert points["1/2 A HUB"] == (15.0, 1000.0)
    assert points["1/2 A OS10R"] == (25.0, 1000.0)
    assert points["1/2 C OS10L"] == (-25.0, 1000.0)
    assert points["1/2 B HUB"] == points["1/2 CL HUB"]


def test_at_an_angle_centre_stakes_lie_on_the_tangents_and_pole_stakes_square_to_the_arm(
    build: Build,
) -> None:
    """A turn of 60 degrees right: the arm faces 30 degrees."""
    plan = StakePlan(pole_along=(20.0,), pole_arm=(), centre_along=(10.0,))
    points = by_description(stake_points(build(turn_deg=60.0), plan, rows=[2]))
    assert points["1/3 CL OS10BK"] == (0.0, 1990.0)
    assert points["1/3 CL OS10AH"] == pytest.approx((10.0 * math.sin(math.radians(60.0)), 2005.0), abs=2e-6)
    pole, ahead = np.array(points["1/3 A HUB"]), np.array(points["1/3 A OS20AH"])
    assert (ahead - pole).tolist() == pytest.approx([10.0, 20.0 * math.cos(math.radians(30.0))], abs=3e-6)


def test_anchor_hubs_stand_where_the_anchors_belong(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    guys = [
        Guy(line="North", structure="1/3", id="G1", kind="bisector", lead=45.0),
        Guy(line="North", structure="1/3", id="G2", kind="bisector", lead=60.0),
        Guy(line="North", structure="1/3", id="G3", kind="back"),
    ]
    required, _ = required_anchors(figures, guys)
    plan = StakePlan(pole_along=(), pole_arm=())
    anchors = [
        point for point in stake_points(figures, plan, rows=[2], anchors=required) if point.kind == "anchor"
    ]
    assert [point.description for point in anchors] == ["1/3 ANC HUB BIS R1", "1/3 ANC HUB BIS R2"]
    centre = figures.centre_of(2)
    leads = [math.dist((point.easting, point.northing), centre) for point in anchors]
    assert leads == pytest.approx([45.0, 60.0])
    assert (anchors[0].easting, anchors[0].northing) == required[0].position


def test_ground_is_given_where_it_is_known(build: Build) -> None:
    figures = build()
    elevation = figures.structures.easting * 0.0 + 3975.123456
    known = dataclasses.replace(
        figures, structures=dataclasses.replace(figures.structures, elevation=elevation)
    )
    poles = {1: [Pole(line="North", structure="1/2", letter="A", ground_elevation=3975.57)]}
    centre, a, b, *offsets = stake_points(known, StakePlan(), rows=[1], poles=poles)
    assert (centre.elevation, a.elevation, b.elevation) == (3975.123456, 3975.57, None)
    assert {point.elevation for point in offsets} == {None}


def test_without_a_spacing_only_the_centre_is_staked(build: Build) -> None:
    points = stake_points(build(spacing=float("nan")), StakePlan(centre_along=(25.0,)), rows=[1])
    assert [point.description for point in points] == ["1/2 CL HUB", "1/2 CL OS25BK", "1/2 CL OS25AH"]


@pytest.mark.parametrize(
    ("number", "written"),
    [
        ("12/3A", "12/3A"),
        ("47", "STR 47"),
        ("47B", "STR 47B"),
        ("12/3.5", "12/3.5"),
        ("Bay 2, old; x", "BAY 2 OLD X"),
    ],
)
def test_numbers_are_written_so_that_they_are_read_again(build: Build, number: str, written: str) -> None:
    figures = renamed(build(), number)
    points = tuple(stakes_of_row(figures, 1, StakePlan()))
    assert points[0].description == f"{written} CL HUB"
    for point in points:
        parsed = parse_description(point.description)
        assert parsed.item == "hub"
        if not number.startswith("Bay"):
            assert (parsed.structure, parsed.pole) == (number, point.pole)


def test_two_lines_with_the_same_numbers_are_not_staked_together(build: Build) -> None:
    figures = build(names=("North", "South"))
    with pytest.raises(
        InputRefused, match=r"1/1 CL HUB.*North 1/1 and of South 1/1; stake one line at a time"
    ):
        stake_points(figures, StakePlan())
    assert len(stake_points(figures, StakePlan(pole_along=(), pole_arm=()), rows=[0, 1])) == 6


@pytest.mark.parametrize("distance", [0.0, -5.0, float("nan"), 12.345])
def test_distances_that_cannot_be_written_are_refused(distance: float) -> None:
    with pytest.raises(ValueError, match="not above 0 with at most two decimals"):
        StakePlan(pole_arm=(distance,))
    with pytest.raises(ValueError, match="one distance twice"):
        StakePlan(pole_along=(25.0, 25.0))


def test_point_numbers_leave_out_what_is_taken() -> None:
    assert point_numbers(4, first=9, taken={"10", " 0012", "A1", ""}) == ["9", "11", "13", "14"]


@settings(max_examples=examples(60))
@given(
    azimuth=st.floats(0.0, 359.9),
    turn=st.floats(-90.0, 90.0),
    count=st.sampled_from([2, 3]),
    a_side=st.sampled_from(["left", "right"]),
    number=st.builds(
        lambda mile, sequence, letter: f"{mile}/{sequence}{letter}",
        st.integers(0, 999),
        st.integers(1, 99),
        st.sampled_from(["", "A", "C", "D", ".5"]),
    ),
    distances=st.sets(st.sampled_from([5.0, 10.0, 12.5, 25.0, 50.0, 7.62]), max_size=3),
)
def test_no_stake_can_pass_for_a_pole_even_when_its_description_is_cut_short(
    build: Build, azimuth: float, turn: float, count: int, a_side: str, number: str, distances: set[float]
) -> None:
    figures = renamed(
        build(azimuth_deg=azimuth, turn_deg=turn, pole_count=count, pole_a=a_side, factor=0.9992),
        number,
        row=2,
    )
    guys = [
        Guy(line="North", structure=number, id="G1", kind="bisector", side="left", lead=45.0),
        Guy(line="North", structure=number, id="G2", kind="ahead", side="right", lead=45.0),
        Guy(line="North", structure=number, id="G3", kind="azimuth", azimuth_deg=3.0, lead=45.0),
    ]
    required, _ = required_anchors(figures, guys)
    plan = StakePlan(pole_along=tuple(distances), pole_arm=tuple(distances), centre_along=tuple(distances))
    points = stake_points(figures, plan, rows=[2], anchors=required)
    assert len({point.description for point in points}) == len(points)
    assert len(points) == 1 + count + len(distances) * (2 + 2 * count + 2) + 3
    for point in points:
        parsed = parse_description(point.description)
        assert (parsed.item, parsed.structure, parsed.pole) == ("hub", number, point.pole)
        # some controllers keep 16 characters of a description
        assert parse_description(point.description[:16]).item == "hub"


def test_what_is_not_given_is_as_in_the_plan_that_stands() -> None:
    declared = StakePlan(pole_along=(10.0, 30.0), pole_arm=(40.0,))
    assert StakePlan.read(None, None, declared) == declared
    assert StakePlan.read("50", None, declared) == StakePlan(pole_along=(50.0,), pole_arm=(40.0,))
    assert StakePlan.read(None, "", declared) == StakePlan(pole_along=(10.0, 30.0), pole_arm=())
    assert StakePlan.read(None, "15") == StakePlan(pole_arm=(15.0,))
    assert StakePlan.usual("m").pole_along == (7.62,)
