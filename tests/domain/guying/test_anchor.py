"""Where anchors belong."""

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
from linemap.domain.design.guy import Guy, GuyKind, GuySide
from linemap.domain.design.surroundings import Crossing
from linemap.domain.guying.anchor import RequiredAnchor, anchors_at_crossings, required_anchors
from linemap.geometry.bearing import wrap180

Build = Callable[..., Figures]
ANGLE = "1/3"


def guy(kind: GuyKind, *, structure: str = ANGLE, name: str = "G1", side: GuySide = "") -> Guy:
    return Guy(line="North", structure=structure, id=name, kind=kind, side=side, lead=45.0)


def only(figures: Figures, one: Guy) -> RequiredAnchor:
    required, _ = required_anchors(figures, [one])
    (anchor,) = required
    return anchor


def from_centre(figures: Figures, anchor: RequiredAnchor) -> tuple[float, float]:
    """Ground (ahead, right) of the anchor in the structure's own frame."""
    row, structures = anchor.row, figures.structures
    angle = math.radians(float(figures.structure_azimuth_deg[row]))
    east = (anchor.position[0] - structures.easting[row]) / figures.combined_factor[row]
    north = (anchor.position[1] - structures.northing[row]) / figures.combined_factor[row]
    return (
        float(east * math.sin(angle) + north * math.cos(angle)),
        float(east * math.cos(angle) - north * math.sin(angle)),
    )


def test_a_line_turning_left_is_guyed_on_the_right(build: Build) -> None:
    """A turn of 18°45'10" left, azimuth back 65.45: the arm faces 56.0736, the guy 146.0736."""
    figures = build(azimuth_deg=65.45, turn_deg=-(18 + 45 / 60 + 10 / 3600), factor=0.999217)
    anchor = only(figures, guy("bisector"))
    assert anchor.azimuth_deg == pytest.approx(146.0736, abs=1e-3)
    assert anchor.side == "right"
    assert anchor.reason == "the line turns left, so the bisector guy belongs right"
    assert from_centre(figures, anchor) == pytest.approx((0.0, 45.0), abs=1e-6)
    assert anchor.label == "BIS R"


def test_a_line_turning_right_is_guyed_on_the_left(build: Build) -> None:
    anchor = only(build(turn_deg=30.0), guy("bisector"))
    assert anchor.azimuth_deg == pytest.approx(285.0)
    assert (anchor.side, anchor.label) == ("left", "BIS L")


def test_dead_end_guys_lie_in_line_behind_the_pull_of_each_tangent(build: Build) -> None:
    figures = build(azimuth_deg=10.0, turn_deg=40.0)
    assert only(figures, guy("ahead")).azimuth_deg == pytest.approx(10.0)
    assert only(figures, guy("back")).azimuth_deg == pytest.approx(230.0)


def test_a_guy_in_line_with_a_side_is_measured_from_the_pole_on_that_side(build: Build) -> None:
    left_is_a = only(build(), guy("ahead", side="left", structure="1/2"))
    assert (left_is_a.pole, left_is_a.label) == ("A", "AH L")
    right_is_a = only(build(pole_a="right", pole_count=3), guy("ahead", side="left", structure="1/2"))
    assert right_is_a.pole == "C"
    assert left_is_a.position == pytest.approx((2_250_000.0 - 6.25, 901_000.0 + 45.0))
    assert left_is_a.origin_words == "pole A"


def test_the_schedule_cannot_put_a_bisector_guy_inside_the_angle(build: Build) -> None:
    required, findings = required_anchors(build(turn_deg=-30.0), [guy("bisector", side="left")])
    assert required[0].side == "right"
    (finding,) = findings
    assert (finding.structure, finding.code) == (ANGLE, "guy side")
    assert finding.words == (
        "bisector guy G1 is scheduled left; the line turns left, so the bisector guy belongs right, "
        "outside of the angle"
    )


def test_on_a_tangent_the_schedule_says_the_side_or_nothing_is_placed(build: Build) -> None:
    figures = build()
    anchor = only(figures, guy("bisector", structure="1/2", side="right"))
    assert (anchor.azimuth_deg, anchor.side) == (pytest.approx(90.0), "right")
    required, findings = required_anchors(figures, [guy("bisector", structure="1/2")])
    assert math.isnan(required[0].azimuth_deg)
    assert findings[0].code == "guy not placed"
    assert "names no side" in findings[0].words


def test_a_lead_follows_from_height_and_ratio_or_is_asked_for(build: Build) -> None:
    figures = build(turn_deg=30.0)
    plain = guy("bisector")
    assert only(figures, dataclasses.replace(plain, lead=None, height=58.0, ratio=1.0)).lead == 58.0
    required, findings = required_anchors(figures, [dataclasses.replace(plain, lead=None, height=58.0)])
    assert math.isnan(required[0].position[0])
    assert findings[0].words == "bisector guy G1 cannot be placed: give its lead, or its height and ratio"


def test_a_given_azimuth_is_kept(build: Build) -> None:
    one = Guy(line="North", structure="1/2", id="G7", kind="azimuth", azimuth_deg=400.0, lead=30.0, pole="B")
    anchor = only(build(), one)
    assert anchor.azimuth_deg == pytest.approx(40.0)
    assert anchor.pole == "B"


def test_a_pole_that_is_not_there_is_told_and_the_centre_taken(build: Build) -> None:
    one = dataclasses.replace(guy("bisector"), pole="C")
    required, findings = required_anchors(build(turn_deg=30.0), [one])
    assert required[0].pole == ""
    assert findings[0].words == "bisector guy G1 is on pole C, which has no place: the centre is taken"


def test_anchors_of_one_label_are_numbered_from_the_nearest(build: Build) -> None:
    far = dataclasses.replace(guy("bisector", name="G1"), lead=60.0)
    near = guy("bisector", name="G2")
    required, _ = required_anchors(build(turn_deg=30.0), [far, near, guy("back", name="G3")])
    assert [anchor.label for anchor in required] == ["BIS L2", "BIS L1", "BK"]


def test_a_structure_that_is_not_there_is_a_finding(build: Build) -> None:
    required, findings = required_anchors(build(), [guy("back", structure="99/9")])
    assert required == ()
    assert (findings[0].structure, findings[0].code) == ("99/9", "guy of unknown structure")


def test_ahead_anchors_that_land_on_a_pipeline_are_told(build: Build) -> None:
    """A pipeline 39.5 ft ahead of the structure, anchors with a lead of 45 ft: 5.5 ft apart."""
    figures = build(azimuth_deg=62.0, factor=0.999217)
    guys = [
        guy("ahead", structure="1/2", side="left", name="G1"),
        guy("ahead", structure="1/2", side="right", name="G2"),
        guy("back", structure="1/2", name="G3"),
    ]
    required, _ = required_anchors(figures, guys)
    crossings = [
        Crossing(line="North", what="buried gas pipeline", true_distance=1_039.5),
        Crossing(line="North", what="county road", true_distance=1_300.0),
        Crossing(line="North", what="somewhere", back_structure="1/2", ahead_structure="1/3"),
    ]
    found = anchors_at_crossings(figures, required, crossings)
    assert [finding.structure for finding in found] == ["1/2", "1/2"]
    assert found[0].words == (
        "anchor of ahead guy G1 belongs 45.00 ft ahead, buried gas pipeline lies 39.50 ft ahead: "
        "5.50 ft apart along the line"
    )


def test_a_crossing_is_found_by_its_station_too(build: Build) -> None:
    figures = build()
    required, _ = required_anchors(figures, [guy("back", structure="1/2")])
    crossing = Crossing(line="", what="water main", station="9+50")
    (found,) = anchors_at_crossings(figures, required, [crossing])
    assert "belongs 45.00 ft back, water main lies 50.00 ft back: 5.00 ft apart" in found.words


@settings(max_examples=examples(60))
@given(
    azimuth=st.floats(0.0, 359.9),
    turn=st.floats(-80.0, 80.0).filter(lambda turn: abs(turn) > 0.5),
    pole_count=st.sampled_from([2, 3]),
    pole_a=st.sampled_from(["left", "right"]),
)
def test_the_pull_of_both_spans_points_away_from_every_guy(
    build: Build, azimuth: float, turn: float, pole_count: int, pole_a: str
) -> None:
    figures = build(azimuth_deg=azimuth, turn_deg=turn, pole_count=pole_count, pole_a=pole_a)
    row = 2
    ahead = math.radians(float(figures.azimuth_ahead_deg[row]))
    back = math.radians(float(figures.azimuth_back_deg[row]) + 180.0)
    pull = np.array([math.sin(ahead) + math.sin(back), math.cos(ahead) + math.cos(back)])
    bisector = only(figures, guy("bisector"))
    angle = math.radians(bisector.azimuth_deg)
    assert np.dot(pull / np.hypot(*pull), [math.sin(angle), math.cos(angle)]) == pytest.approx(-1.0, abs=1e-6)
    assert wrap180(only(figures, guy("ahead")).azimuth_deg + 180.0 - math.degrees(back)) == pytest.approx(
        0.0, abs=1e-6
    )
    assert wrap180(only(figures, guy("back")).azimuth_deg + 180.0 - math.degrees(ahead)) == pytest.approx(
        0.0, abs=1e-6
    )
