"""Which readings are asked for, from whatever stakes stand."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import numpy as np
import pytest
from taped_frames import frame_design, stakes_around

from linemap.domain.crew_check.frame import FrameDesign
from linemap.domain.crew_check.pole_size import TapeErrors
from linemap.domain.crew_check.tape import Stake
from linemap.domain.crew_check.tape_sets import (
    CLEAR_FT,
    HOLE_FT,
    REACH_FT,
    SetsOfStakes,
    candidates,
    sets_of,
    stakes_outside,
    to_tape_from,
    unguarded,
)
from linemap.domain.design.figures import Figures
from linemap.domain.design.guy import Guy
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.guying.anchor import required_anchors
from linemap.domain.staking.stakeout import StakePlan, stake_points, stakes_of_row
from linemap.units import LengthUnit

Build = Callable[..., Figures]
DESIGNS = [
    frame_design(),
    frame_design("BA", tight=True),
    frame_design("ABC"),
    frame_design("CBA", 15.0, tight=True),
]


def standing(figures: Figures, row: int, plan: StakePlan) -> tuple[Stake, ...]:
    return stakes_outside(figures, row, stakes_of_row(figures, row, plan))


def sets_for(design: FrameDesign, lost: tuple[str, ...] = ()) -> tuple[SetsOfStakes, ...]:
    stakes = stakes_around(design, lost=lost)
    return sets_of(design, stakes, TapeErrors(), (False,) * len(design.letters))


def test_two_poles_take_four_readings_then_seven() -> None:
    first = sets_for(frame_design())[0]
    assert first.quick is not None
    assert first.quick.readings == (("A OS25AH", "A"), ("A OS25AH", "B"), ("B OS25R", "B"), ("A", "B"))
    assert first.full.readings[4:] == (("A OS25BK", "A"), ("A OS25BK", "B"), ("A OS25L", "A"))
    assert first.more is not None
    assert len(first.more.readings) == 9


def test_three_poles_take_six_readings_then_nine() -> None:
    first = sets_for(frame_design("ABC"))[0]
    assert first.quick is not None
    assert {start for start, _ in first.quick.readings} == {"B OS25AH", "C OS25R", "A", "B"}
    assert (len(first.quick.readings), len(first.full.readings)) == (6, 9)
    assert first.full.worst < 0.31


@pytest.mark.parametrize("design", DESIGNS, ids=lambda design: f"{design.letters} {design.spacing}")
def test_every_set_proves_the_frame_from_stakes_that_stand_and_goes_through_no_pole(
    design: FrameDesign,
) -> None:
    places = {stake.name: np.array([stake.right, stake.ahead]) for stake in stakes_around(design)}
    poles = dict(zip(design.letters, design.poles, strict=True))
    for one in sets_for(design):
        sets = [each for each in (one.quick, one.full) if each is not None]
        for tape_set in sets:
            assert tape_set.worst <= 1.0
            assert {start for start, _ in tape_set.readings} <= {*one.stakes, *design.letters}
        assert one.full.spare >= 1
        for start, end in {
            reading for each in (*sets, *([one.more] if one.more else [])) for reading in each.readings
        }:
            begin = places.get(start, poles.get(start))
            assert begin is not None
            for other in set(design.letters) - {start, end}:
                along = np.linspace(begin, poles[end], 200)
                assert np.hypot(*(along - poles[other]).T).min() > CLEAR_FT - 0.05
            assert np.hypot(*(poles[end] - begin)) <= REACH_FT


@pytest.mark.parametrize("design", DESIGNS[::2], ids=lambda design: design.letters)
def test_whatever_two_stakes_stand_prove_it_but_the_two_along_the_arm(design: FrameDesign) -> None:
    names = [stake.name for stake in stakes_around(design)]
    for kept in combinations(names, 2):
        standing = sets_for(design, lost=tuple(set(names) - set(kept)))
        sides = {name[-1] for name in kept}
        is_useless = sides == {"L", "R"}
        if is_useless:
            assert standing == ()
        elif sides <= {"K", "H"}:
            assert standing, kept
    for kept_one in names:
        assert sets_for(design, lost=tuple(set(names) - {kept_one})) == ()


def test_sets_are_offered_best_first_and_none_that_an_earlier_one_makes_needless() -> None:
    found = sets_for(frame_design())
    for index, one in enumerate(found):
        assert not any(set(earlier.stakes) <= set(one.stakes) for earlier in found[:index])
    sides = [len({name[-2:].strip("5") for name in one.stakes}) for one in found]
    assert sides == sorted(sides, reverse=True)


def test_the_arm_stake_is_not_asked_for_the_far_pole() -> None:
    design = frame_design()
    asked = candidates(design, stakes_around(design))
    assert ("A OS25L", "A") in asked
    assert ("A OS25L", "B") not in asked
    assert ("A", "B") in asked


def test_stakes_of_a_structure_stand_in_its_own_frame(build: Build) -> None:
    figures = build(azimuth_deg=71.0, turn_deg=12.0, factor=0.9992)
    design = FrameDesign.of(figures, 2, Tolerances.default(LengthUnit.FOOT))
    assert design is not None
    assert standing(figures, 2, StakePlan()) == stakes_around(design)


def test_no_stake_is_taped_from_that_stands_in_a_hole(build: Build) -> None:
    figures = build()
    near = standing(figures, 1, StakePlan(pole_along=(HOLE_FT - 1.0, 25.0), pole_arm=(HOLE_FT, 2.0)))
    assert sorted(stake.name for stake in near) == [
        "A OS25AH", "A OS25BK", "A OS5L", "B OS25AH", "B OS25BK", "B OS5R",
    ]  # fmt: skip


def test_of_several_distances_the_usual_one_is_taped_from(build: Build) -> None:
    stakes = standing(build(), 1, StakePlan(pole_along=(10.0, 30.0), pole_arm=(50.0,)))
    assert [stake.distance for stake in to_tape_from(stakes, "ft")] == [30.0, 30.0, 30.0, 30.0, 50.0, 50.0]


def test_structures_that_keep_no_stake_back_or_ahead_are_named_with_what_survives(build: Build) -> None:
    figures = build()
    assert unguarded(figures, stake_points(figures, StakePlan())) == {}
    near = stake_points(figures, StakePlan(pole_along=(3.0,)), rows=[1, 3])
    assert unguarded(figures, near) == {1: ("A OS25L", "B OS25R"), 3: ("A OS25L", "B OS25R")}
    none = stake_points(figures, StakePlan(pole_along=(), pole_arm=()), rows=[1])
    assert unguarded(figures, none) == {1: ()}


def test_an_anchor_hole_takes_the_stakes_beside_it(build: Build) -> None:
    figures = build()
    guys = [
        Guy(line="North", structure="1/2", id=f"G{pole}", kind="back", pole=pole, lead=25.0) for pole in "AB"
    ]
    anchors, _ = required_anchors(figures, guys)
    points = stake_points(figures, StakePlan(), rows=[1], anchors=anchors)
    assert any(point.kind == "anchor" for point in points)
    (names,) = unguarded(figures, points).values()
    assert {name[-2:] for name in names} == {"AH", "5L", "5R"}


def test_a_structure_without_poles_in_place_is_not_named(build: Build) -> None:
    unknown = build(spacing=float("nan"))
    assert unguarded(unknown, stake_points(unknown, StakePlan())) == {}
