"""Surveyed anchors against the guy schedule."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.figures import Figures
from linemap.domain.design.guy import Guy, GuyKind
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Finding
from linemap.domain.guying.anchor_check import AnchorCheck, check_anchors
from linemap.domain.survey.description import parse_description
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Verdict
from linemap.units import LengthUnit

Build = Callable[..., Figures]
Shoot = Callable[..., list[Shot]]
ROW, ANGLE = 2, "1/3"
TOLERANCES = Tolerances.default(LengthUnit.FOOT)


def guy(kind: GuyKind = "bisector", *, name: str = "G1", lead: float | None = 45.0) -> Guy:
    return Guy(line="North", structure=ANGLE, id=name, kind=kind, lead=lead)


def anchor(
    figures: Figures,
    *,
    ahead: float = 0.0,
    right: float = 0.0,
    label: str = "",
    elevation: float | None = None,
    sigma: float | None = None,
) -> Shot:
    """Shoot an anchor at ground distances ahead and right of the angle structure, in its own frame."""
    angle = math.radians(float(figures.structure_azimuth_deg[ROW]))
    factor = float(figures.combined_factor[ROW])
    description = f"ANC {ANGLE} {label}".strip()
    parsed = parse_description(description)
    return Shot(
        point="5020",
        easting=float(figures.structures.easting[ROW])
        + factor * (ahead * math.sin(angle) + right * math.cos(angle)),
        northing=float(figures.structures.northing[ROW])
        + factor * (ahead * math.cos(angle) - right * math.sin(angle)),
        elevation=elevation,
        description=description,
        structure=parsed.structure,
        pole=parsed.pole,
        item=parsed.item,
        sigma=sigma,
        file="may.txt",
    )


def judge(
    figures: Figures, guys: list[Guy], shots: list[Shot]
) -> tuple[tuple[AnchorCheck, ...], tuple[Finding, ...]]:
    poles = cluster_poles(shots, figures, default_sigma=TOLERANCES.shot_sigma)
    return check_anchors(figures, poles, guys, shots, TOLERANCES)


def test_an_anchor_where_it_belongs_passes(build: Build) -> None:
    figures = build(azimuth_deg=65.45, turn_deg=-18.75, factor=0.999217)
    (check,), findings = judge(figures, [guy()], [anchor(figures, right=45.0)])
    assert check.verdict is Verdict.PASS
    assert check.azimuth_error_deg == pytest.approx(0.0, abs=1e-6)
    assert check.lead == pytest.approx(45.0)
    assert check.azimuth_sigma_deg == pytest.approx(math.degrees(math.hypot(0.03, 0.02) / 45.0))
    assert check.words[1] == "lead 45.00 ft from the centre, as wanted (sigma 0.04 ft)"
    assert findings == ()


def test_anchors_inside_the_angle_fail_with_words_and_not_only_a_number(build: Build) -> None:
    """A line turning left: guys belong on the right, these were set left."""
    figures = build(azimuth_deg=65.45, turn_deg=-18.75)
    (check,), findings = judge(figures, [guy()], [anchor(figures, right=-45.0, label="BIS L")])
    assert check.verdict is Verdict.FAIL
    assert check.wrong_side
    assert check.direction_words == (
        "anchor lies left; the line turns left, so the bisector guy belongs right (180.0° off)"
    )
    (finding,) = findings
    assert (finding.code, finding.structure) == ("anchor wrong side", ANGLE)
    assert finding.words == f"bisector guy G1: {check.direction_words}; tolerance ±5.0°"


def test_a_dead_end_anchor_on_the_wrong_way_is_told_by_ahead_and_back(build: Build) -> None:
    figures = build()
    (check,), findings = judge(figures, [guy("ahead")], [anchor(figures, ahead=-45.0)])
    assert check.direction_words == (
        "anchor lies back; an ahead guy lies in line with the back tangent (180.0° off)"
    )
    assert findings[0].code == "anchor wrong side"


def test_direction_and_lead_fail_by_their_own_tolerances(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    off = math.radians(8.0)
    shot = anchor(figures, right=45.0 * math.cos(off), ahead=-45.0 * math.sin(off))
    (check,), findings = judge(figures, [guy()], [shot])
    assert check.azimuth_error_deg == pytest.approx(8.0)
    assert (check.direction_verdict, check.lead_verdict) == (Verdict.FAIL, Verdict.PASS)
    assert check.direction_words.startswith("anchor 8.0° clockwise of where it belongs, seen from the centre")
    assert [finding.code for finding in findings] == ["anchor direction"]
    (short,), findings = judge(figures, [guy()], [anchor(figures, right=43.0)])
    assert (short.direction_verdict, short.lead_verdict) == (Verdict.PASS, Verdict.FAIL)
    assert short.verdict is Verdict.FAIL
    assert findings[0].words == (
        "bisector guy G1: lead 43.00 ft from the centre, 2.00 ft shorter than 45.00 ft (sigma 0.04 ft); "
        "tolerance ±1.00 ft"
    )


def test_a_coarse_survey_cannot_tell(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    (check,), findings = judge(figures, [guy()], [anchor(figures, right=44.2, sigma=0.5)])
    assert check.verdict is check.lead_verdict is Verdict.CANNOT_TELL
    assert [finding.code for finding in findings] == ["anchor lead"]


@pytest.mark.parametrize(("elevation", "wanted"), [(994.2, 64.44), (1005.8, 52.73), (None, 58.0)])
def test_the_lead_wanted_follows_the_ground(build: Build, elevation: float | None, wanted: float) -> None:
    """58 ft of height at 1:1: 64.4 ft where the ground falls a tenth, 52.7 ft where it rises a tenth."""
    figures = build(turn_deg=-30.0)
    sloping = dataclasses.replace(
        figures,
        structures=dataclasses.replace(
            figures.structures, elevation=figures.structures.easting * 0.0 + 1000.0
        ),
    )
    one = dataclasses.replace(guy(lead=None), height=58.0, ratio=1.0)
    (check,), _ = judge(sloping, [one], [anchor(sloping, right=58.0, elevation=elevation)])
    assert check.required_lead == pytest.approx(wanted, abs=0.005)
    assert check.verdict is (Verdict.PASS if elevation is None else Verdict.FAIL)


def test_ground_too_steep_for_the_ratio_fails_in_words(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    sloping = dataclasses.replace(
        figures,
        structures=dataclasses.replace(
            figures.structures, elevation=figures.structures.easting * 0.0 + 1000.0
        ),
    )
    one = dataclasses.replace(guy(lead=None), height=58.0, ratio=1.0)
    (check,), _ = judge(sloping, [one], [anchor(sloping, right=58.0, elevation=930.0)])
    assert check.lead_verdict is Verdict.FAIL
    assert "no lead gives the ratio wanted; ground falls 120.7% going out" in check.lead_words


def test_a_direction_alone_is_judged_when_the_schedule_gives_no_lead(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    (check,), findings = judge(figures, [guy(lead=None)], [anchor(figures, right=45.0)])
    assert check.verdict is Verdict.PASS
    assert check.lead_verdict is Verdict.NOT_SURVEYED
    assert "not judged" in check.lead_words
    assert [finding.code for finding in findings] == ["guy not placed"]


def test_leads_are_measured_from_the_pole_as_it_stands(build: Build, shoot: Shoot) -> None:
    figures = build()
    one = dataclasses.replace(guy("ahead"), side="left")
    shots = shoot(figures, ROW, along=2.0)
    (check,), _ = judge(figures, [one], [*shots, anchor(figures, ahead=47.0, right=-6.25, label="AH L")])
    assert check.required.pole == "A"
    assert check.lead == pytest.approx(45.0)
    assert check.lead_sigma == pytest.approx(math.hypot(0.03, 0.03))
    assert check.verdict is Verdict.PASS


def test_anchors_go_to_the_guys_their_descriptions_name(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    guys = [guy("ahead", name="G1"), guy("back", name="G2"), guy("bisector", name="G3")]
    shots = [
        anchor(figures, ahead=-45.0, label="BK"),
        anchor(figures, right=45.0, label="BIS R"),
        anchor(figures, ahead=44.0, right=11.0, label="AH"),
    ]
    checks, _ = judge(figures, guys, shots)
    assert [check.shot for check in checks] == [shots[2], shots[0], shots[1]]


def test_a_name_decides_before_nearness(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    guys = [guy(name="G1"), dataclasses.replace(guy(name="G2"), lead=60.0)]
    shots = [anchor(figures, right=60.0, label="G1"), anchor(figures, right=45.0, label="G2")]
    checks, _ = judge(figures, guys, shots)
    assert [check.shot for check in checks] == shots
    assert all(check.verdict is Verdict.FAIL for check in checks)


def test_a_shot_taken_twice_is_one_anchor_and_a_stranger_is_told(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    twice = [anchor(figures, right=45.0), anchor(figures, right=45.1)]
    (check,), findings = judge(figures, [guy()], twice)
    assert check.shot is twice[0]
    assert findings == ()
    _, findings = judge(figures, [guy()], [*twice, anchor(figures, ahead=45.0)])
    assert [finding.code for finding in findings] == ["anchor not in schedule"]
    assert findings[0].words == "anchor of point 5020 of may.txt belongs to no guy of the schedule"


def test_a_shot_that_names_another_direction_is_not_taken(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    (check,), findings = judge(figures, [guy()], [anchor(figures, right=45.0, label="AH")])
    assert check.verdict is Verdict.NOT_SURVEYED
    assert check.words == ("anchor not surveyed; the line turns left, so the bisector guy belongs right",)
    assert [finding.code for finding in findings] == ["anchor not in schedule"]


def test_the_hub_of_an_anchor_is_no_anchor(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    hub = dataclasses.replace(anchor(figures, right=45.0), item="hub")
    (check,), findings = judge(figures, [guy()], [hub])
    assert check.verdict is Verdict.NOT_SURVEYED
    assert findings == ()


def test_without_a_schedule_anchors_are_not_judged(build: Build) -> None:
    figures = build(turn_deg=-30.0)
    assert judge(figures, [], [anchor(figures, right=45.0)]) == ((), ())


@settings(max_examples=examples(60))
@given(
    azimuth=st.floats(0.0, 359.9),
    turn=st.floats(-80.0, 80.0).filter(lambda turn: abs(turn) > 0.5),
    # square across nobody can tell the side
    error=st.floats(-170.0, 170.0).filter(lambda error: abs(abs(error) - 90.0) > 1e-6),
    lead=st.floats(5.0, 120.0),
)
def test_what_was_set_is_what_is_told(
    build: Build, azimuth: float, turn: float, error: float, lead: float
) -> None:
    figures = build(azimuth_deg=azimuth, turn_deg=turn, factor=0.9992)
    square = math.radians((-90.0 if turn > 0 else 90.0) + error)
    shot = anchor(figures, ahead=lead * math.cos(square), right=lead * math.sin(square))
    (check,), findings = judge(figures, [guy()], [shot])
    assert check.azimuth_error_deg == pytest.approx(error, abs=1e-5)
    assert check.lead == pytest.approx(lead, abs=1e-5)
    assert check.wrong_side == (abs(error) > 90.0)
    inside = abs(error) < 4.0 and abs(lead - 45.0) < 0.9
    outside = abs(error) > 6.5 or abs(lead - 45.0) > 1.1
    assert (check.verdict is Verdict.PASS) >= inside
    assert (check.verdict is Verdict.FAIL) >= outside
    assert bool(findings) == (check.verdict is not Verdict.PASS)


def test_metric_lines_get_the_same_tolerance_in_metres() -> None:
    lead = Tolerances.default(LengthUnit.METRE).anchor_lead
    assert (lead.value, lead.unit) == (0.3048, "m")
    assert "no source" in lead.source
