"""Angles of a list against its coordinates: agreeing, apart, or readable two ways."""

from __future__ import annotations

import math

import pytest

from linemap.io.cells.angles import ARC_SECOND, compare_bearing, compare_deflection

LEFT = -(18 + 45 / 60 + 10 / 3600)


@pytest.mark.parametrize(
    "text",
    ["18-45-10 L", "18°45'10\"LT", "LT 18 45 10", "-18.752778", "L18-45-10", "18°45′10″ LEFT"],
)
def test_ways_of_writing_that_agree_say_nothing(text: str) -> None:
    assert compare_deflection(text, LEFT, within_deg=ARC_SECOND) == ""


@pytest.mark.parametrize("text", ["", "TANGENT", "0"])
def test_tangents_agree_with_no_turn(text: str) -> None:
    assert compare_deflection(text, 0.0, within_deg=ARC_SECOND) == ""


def test_what_disagrees_is_told_with_both_values() -> None:
    words = compare_deflection("18-45-10 R", LEFT, within_deg=0.01)
    assert words == "says 18°45'10\" R, the coordinates say 18°45'10\" L: 37.51° apart"


@pytest.mark.parametrize(
    ("geometry", "end"),
    [
        (-62.175, "the coordinates say the first"),
        (-62.103, "the coordinates say the second"),
        (-61.0, "which is neither; which is meant?"),
        (math.nan, "(decimal); which is meant?"),
    ],
)
def test_a_packed_number_is_a_question_the_coordinates_may_settle(geometry: float, end: str) -> None:
    words = compare_deflection("62.1030 L", geometry, within_deg=0.005)
    assert words.startswith("may be 62°10'30\" L (packed) or 62°06'11\" L (decimal)")
    assert words.endswith(end)


def test_both_readings_within_reach_stay_a_question() -> None:
    assert compare_deflection("62.1030 L", -62.15, within_deg=0.1).endswith("which is meant?")


def test_what_is_no_angle_is_said() -> None:
    assert compare_deflection("see dwg", 0.0, within_deg=0.1).endswith("not compared")


def test_bearings_across_north_are_near() -> None:
    assert compare_bearing("N 0-00-01 W", 1.0 * ARC_SECOND, within_deg=3 * ARC_SECOND) == ""


def test_packed_bearings_are_settled_too() -> None:
    # 24°56'00" packed or 24.56° = 24°33'36" decimal
    assert compare_bearing("N24.5600E", 24.56, within_deg=0.001).endswith("the coordinates say the second")
