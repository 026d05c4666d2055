"""What became of a shot, and which design poles are near it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from linemap.domain.design.figures import Figures
from linemap.domain.survey.open_shots import near_poles, state_of
from linemap.domain.survey.shot import Shot, ShotItem

Build = Callable[..., Figures]


def a_shot(item: ShotItem) -> Shot:
    return Shot(point="1", easting=0.0, northing=0.0, item=item, file="may.csv", row=7)


@pytest.mark.parametrize(
    ("item", "code", "assigned", "state"),
    [
        ("pole", "", False, None),
        ("pole", "", True, "assigned"),
        ("pole", "unknown structure", True, "unused"),
        ("pole", "shots disagree", True, "conflicting"),
        ("pole", "shots nowhere near", False, "conflicting"),
        ("other", "", False, "unread"),
        ("anchor", "", False, "no pole"),
        ("check", "", True, "assigned"),
    ],
)
def test_the_state_of_a_shot(item: ShotItem, code: str, assigned: bool, state: str | None) -> None:
    unused = {("may.csv", 7, "1"): code} if code else {}
    assert (
        state_of(a_shot(item), {("may.csv", 7, "2"): "unknown structure", **unused}, assigned=assigned)
        == state
    )


def test_what_is_set_aside_is_so_whatever_else_was_said() -> None:
    assert state_of(None, {}, assigned=True) == "set aside"


@pytest.mark.parametrize("factor", [1.0, 0.9996])
def test_the_nearest_poles_with_their_way(build: Build, factor: float) -> None:
    figures = build(azimuth_deg=90.0, factor=factor)
    # the line runs east: 3 ahead is east, 4 right is south
    at = figures.poles[1, 1] + np.array([3.0, -4.0]) * factor
    (near,) = near_poles(figures, at[np.newaxis], 3)
    assert [(each.row, each.pole) for each in near][:2] == [(1, 1), (1, 0)]
    assert near[0][2:] == pytest.approx((5.0, 3.0, 4.0), abs=1e-6)
    assert near[1][2:] == pytest.approx((np.hypot(3.0, 16.5), 3.0, 16.5), abs=1e-6)
    assert near[2].row in {0, 2}


def test_more_are_asked_for_than_there_are(build: Build) -> None:
    figures = build()
    points = np.tile(figures.poles[4, 0], (600, 1))
    found = near_poles(figures, points, 99)
    assert len(found) == 600
    assert {len(each) for each in found} == {10}
    assert {each[0].row for each in found} == {4}
    assert near_poles(figures, points[:0], 3) == []
