"""The orientation check: hand-worked frames first, then the laws every frame obeys."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.ledger import Ledger
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks, Verdict
from linemap.units import LengthUnit

TOLERANCES = Tolerances.default(LengthUnit.FOOT)
Build = Callable[..., Figures]
Shoot = Callable[..., list[Shot]]


def checked(figures: Figures, shots: list[Shot], tolerances: Tolerances = TOLERANCES) -> Checks:
    return check(figures, cluster_poles(shots, figures, default_sigma=tolerances.shot_sigma), tolerances)


def words(checks: Checks, code: str) -> list[str]:
    nowhere = [("", "")] * len(checks.verdict)
    return [
        finding.words
        for finding in Ledger(lambda: nowhere, checks.findings).everything()
        if finding.code == code
    ]


def test_square_frame_passes_and_the_rest_is_not_surveyed(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1))
    assert list(checks.verdict) == [Verdict.NOT_SURVEYED, Verdict.PASS] + [Verdict.NOT_SURVEYED] * 3
    assert checks.findings == ()
    assert not checks.reversed.any()
    assert checks.provable.tolist() == [False, True, False, False, False]
    assert abs(checks.rotation_deg[1]) < 1e-9
    assert abs(checks.along[1]) < 1e-9
    # sqrt(2) x 0.03 / 12.5 ft = 0.1945 degrees; sqrt(0.03² / 2 + 0.02²) = 0.02915 ft; sqrt(2) x 0.03 ft
    assert checks.rotation_sigma_deg[1] == pytest.approx(0.19446, abs=1e-5)
    assert checks.along_sigma[1] == pytest.approx(0.029155, abs=1e-6)
    assert checks.across_sigma[1] == pytest.approx(0.029155, abs=1e-6)
    assert checks.spacing_sigma[1] == pytest.approx(0.042426, abs=1e-6)
    assert np.isnan(checks.rotation_deg[[0, 2, 3, 4]]).all()
    assert np.isnan(checks.along_sigma[[0, 2, 3, 4]]).all()
    assert np.isnan(checks.probability_in_tolerance[[0, 2, 3, 4]]).all()


def test_no_shots_at_all(north: Figures) -> None:
    checks = checked(north, [])
    assert set(checks.verdict) == {Verdict.NOT_SURVEYED}
    assert checks.findings == ()


def test_turned_arm_fails_with_its_length_over_the_poles(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, rotation_deg=4.5))
    assert checks.verdict[1] is Verdict.FAIL
    assert checks.rotation_deg[1] == pytest.approx(4.5)
    # 12.5 ft x sin 4.5 degrees = 0.981 ft
    assert words(checks, "arm turned") == [
        "arm turned 4.5° clockwise (sigma 0.19°), 0.98 ft over 12.50 ft; tolerance ±1.0°"
    ]
    assert not checks.reversed[1]
    assert checks.provable[1]


def test_turn_the_other_way_is_negative(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, rotation_deg=-4.5))
    assert checks.rotation_deg[1] == pytest.approx(-4.5)
    assert words(checks, "arm turned")[0].startswith("arm turned 4.5° counter-clockwise")


@pytest.mark.parametrize("azimuth_deg", [359.0, 1.0, 0.0, 180.0, 269.5, 89.5])
def test_small_turns_stay_small_around_the_compass(build: Build, shoot: Shoot, azimuth_deg: float) -> None:
    figures = build(azimuth_deg=azimuth_deg)
    for turn in (-2.0, 2.0):
        checks = checked(figures, shoot(figures, 1, rotation_deg=turn))
        assert checks.rotation_deg[1] == pytest.approx(turn, abs=1e-7)
        assert not checks.reversed[1]


def test_reversed_frame_is_a_finding_and_its_residual_is_judged(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, swapped=True, rotation_deg=0.2))
    assert checks.reversed.tolist() == [False, True, False, False, False]
    assert checks.rotation_deg[1] == pytest.approx(0.2)
    assert checks.verdict[1] is Verdict.CANNOT_TELL
    assert checks.probability_in_tolerance[1] > 0.95
    assert words(checks, "reversed") == [
        "A and B the other way round: labels or frame; second evidence needed "
        "(with that taken out, arm turned 0.2° clockwise (sigma 0.19°))"
    ]
    assert words(checks, "arm turned") == []


def test_reversed_frame_that_is_also_out_of_place_fails(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, swapped=True, across=10.0))
    assert checks.reversed[1]
    assert checks.verdict[1] is Verdict.FAIL
    assert checks.across[1] == pytest.approx(10.0)


def test_pole_a_on_the_right_is_no_reversal(build: Build, shoot: Shoot) -> None:
    figures = build(pole_a="right")
    checks = checked(figures, shoot(figures, 1, rotation_deg=0.2))
    assert not checks.reversed[1]
    assert checks.verdict[1] is Verdict.PASS
    assert checks.rotation_deg[1] == pytest.approx(0.2)
    assert checked(figures, shoot(figures, 1, swapped=True)).reversed[1]


def test_missing_pole_is_named(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 3, letters="A"))
    assert checks.verdict[3] is Verdict.CANNOT_TELL
    found = [*Ledger(north.keys, checks.findings).everything()]
    assert [(f.structure, f.code, f.words) for f in found] == [("2/1", "pole not shot", "pole B not shot")]
    assert checks.missing.tolist() == ["", "", "", "B", ""]
    assert np.isnan(checks.along[3])
    assert not checks.provable[3]


def test_missing_poles_of_three(build: Build, shoot: Shoot) -> None:
    figures = build(pole_count=3, spacing=15.0)
    checks = checked(figures, shoot(figures, 1, letters="B"))
    assert checks.verdict[1] is Verdict.CANNOT_TELL
    assert words(checks, "pole not shot") == ["poles A, C not shot"]


def test_contradicting_shots_withhold_the_verdict(north: Figures, shoot: Shoot) -> None:
    shots = shoot(north, 1)
    far = replace(shots[1], point="5003", northing=shots[1].northing + 6.2)
    checks = checked(north, [*shots, far])
    assert checks.verdict[1] is Verdict.CANNOT_TELL
    assert checks.withheld.tolist() == [False, True, False, False, False]
    assert checks.missing[1] == ""
    assert np.isnan(checks.rotation_deg[1])


def test_set_on_the_right_offset_hub(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, across=9.96))
    assert checks.verdict[1] is Verdict.FAIL
    assert words(checks, "centre across") == [
        "frame centre 9.96 ft right of design (sigma 0.03 ft); tolerance ±0.25 ft"
    ]
    assert words(checks, "centre along") == []


def test_set_ahead(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, along=25.03))
    assert checks.along[1] == pytest.approx(25.03)
    assert words(checks, "centre along") == [
        "frame centre 25.03 ft ahead of design (sigma 0.03 ft); tolerance ±1.00 ft"
    ]


def test_narrow_spacing(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, spacing_error=-0.56))
    assert checks.verdict[1] is Verdict.FAIL
    assert words(checks, "spacing") == [
        "spacing 11.94 ft, design 12.50 ft (sigma 0.04 ft); tolerance ±0.20 ft"
    ]


def test_unknown_spacing_is_not_judged(build: Build, shoot: Shoot, north: Figures) -> None:
    figures = build(spacing=float("nan"))
    checks = checked(figures, shoot(north, 1))
    assert checks.verdict[1] is Verdict.PASS
    assert np.isnan(checks.spacing_error[1])
    assert np.isnan(checks.spacing_sigma[1])
    assert checks.provable[1]


def test_three_poles_square_to_the_back_tangent(build: Build, shoot: Shoot) -> None:
    # The line turns 18.75 degrees right: the bisector stands 9.375 degrees right of the back tangent.
    figures = build(azimuth_deg=62.0, turn_deg=18.75, pole_count=3, spacing=15.0)
    assert figures.structure_azimuth_deg[2] == pytest.approx(62.0 + 9.375)
    checks = checked(figures, shoot(figures, 2, rotation_deg=-9.375))
    assert checks.verdict[2] is Verdict.FAIL
    assert checks.rotation_deg[2] == pytest.approx(-9.375)
    assert checks.outer_distance[2] == pytest.approx(30.0)
    assert checks.rotation_sigma_deg[2] == pytest.approx(math.degrees(math.sqrt(2) * 0.03 / 30.0))
    # 30 ft x sin 9.375 degrees = 4.887 ft: each outer pole 2.44 ft off along the line
    assert "counter-clockwise (sigma 0.08°), 4.89 ft over 30.00 ft" in words(checks, "arm turned")[0]


def test_middle_pole_off_the_line_of_the_outer_two(build: Build, shoot: Shoot) -> None:
    figures = build(pole_count=3, spacing=15.0)
    shots = shoot(figures, 1)
    shots[1] = replace(shots[1], northing=shots[1].northing + 0.6)
    checks = checked(figures, shots)
    assert checks.collinearity[1] == pytest.approx(0.6)
    # sqrt(0.03² + (0.03² + 0.03²) / 4)
    assert checks.collinearity_sigma[1] == pytest.approx(0.036742, abs=1e-6)
    assert checks.verdict[1] is Verdict.FAIL
    assert words(checks, "collinearity") == [
        "pole B 0.60 ft ahead of the line A-C (sigma 0.04 ft); tolerance ±0.25 ft"
    ]


def test_along_is_strict_at_angles_and_section_breaks(build: Build, shoot: Shoot) -> None:
    turning = build(turn_deg=18.75)
    shots = [*shoot(turning, 1, along=0.6), *shoot(turning, 2, along=0.6)]
    assert checked(turning, shots).verdict[1:3].tolist() == [Verdict.PASS, Verdict.FAIL]
    dead_end = build(section_break=True)
    assert checked(dead_end, shoot(dead_end, 1, along=0.6)).verdict[1] is Verdict.FAIL


def test_coarse_survey_cannot_tell_and_cannot_prove(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, rotation_deg=1.1, sigma=0.10))
    assert checks.verdict[1] is Verdict.CANNOT_TELL
    # sqrt(2) x 0.10 / 12.5 ft
    assert checks.rotation_sigma_deg[1] == pytest.approx(0.6482, abs=1e-4)
    assert not checks.provable[1]
    assert words(checks, "arm turned") == [
        "arm turned 1.1° clockwise (sigma 0.65°), 0.24 ft over 12.50 ft; "
        "within ±1.0° or not, this survey cannot tell"
    ]
    # 1 degree x 12.5 ft / (1.96 sqrt 2) = 0.0787 ft; 0.20 ft / (1.96 sqrt 2) = 0.0722 ft
    assert words(checks, "survey cannot prove") == [
        "this survey cannot prove ±1.0° arm rotation (needs sigma <= 0.078 ft a shot, has 0.100 ft)",
        "this survey cannot prove ±0.20 ft pole spacing (needs sigma <= 0.072 ft a shot, has 0.100 ft)",
    ]


def test_needed_sigma_is_enough_and_a_little_more_is_not(north: Figures, shoot: Shoot) -> None:
    assert checked(north, shoot(north, 1, sigma=0.072)).provable[1]
    assert not checked(north, shoot(north, 1, sigma=0.0723)).provable[1]


def test_common_error_too_large_for_any_shot(north: Figures, shoot: Shoot) -> None:
    tolerances = replace(TOLERANCES, common_sigma=0.2)
    checks = checked(north, shoot(north, 1), tolerances)
    assert checks.verdict[1] is Verdict.CANNOT_TELL
    assert words(checks, "survey cannot prove") == [
        "this survey cannot prove ±0.25 ft frame centre across the line "
        "(the error common to all shots, sigma 0.20 ft, is too large alone)"
    ]


def test_phone_fixes_fail_nobody_and_cannot_even_tell_the_sides(north: Figures, shoot: Shoot) -> None:
    for swapped in (False, True):
        checks = checked(north, shoot(north, 1, sigma=16.0, across=3.0, swapped=swapped))
        assert checks.verdict[1] is Verdict.CANNOT_TELL
        assert not checks.reversed[1]
        assert words(checks, "sides not known") == ["this survey cannot tell which side A and B stand on"]


@pytest.mark.parametrize("sigma", [0.2, 0.6, 2.0, 6.0])
def test_a_survey_too_coarse_to_tell_fails_no_frame(north: Figures, shoot: Shoot, sigma: float) -> None:
    """Asked for 1.645 sigmas beyond the tolerance, 6 to 35 of a hundred would fail: `beyond_factor`."""
    rng = np.random.default_rng(3)
    right = [shot for i in (1, 2, 3) for shot in shoot(north, i, sigma=sigma)]
    failed = 0
    for _ in range(100):
        east, north_by = rng.normal(0.0, sigma, (2, len(right)))
        shots = [
            replace(shot, easting=shot.easting + e, northing=shot.northing + n)
            for shot, e, n in zip(right, east, north_by, strict=True)
        ]
        failed += list(checked(north, shots).verdict).count(Verdict.FAIL)
    assert failed <= 4


def test_coarse_as_it_is_it_still_fails_what_stands_far_off(north: Figures, shoot: Shoot) -> None:
    assert checked(north, shoot(north, 1, sigma=0.6, across=2.5)).verdict[1] is Verdict.FAIL
    assert checked(north, shoot(north, 1, sigma=0.6, across=1.5)).verdict[1] is Verdict.CANNOT_TELL


def test_poles_in_one_place_fail_by_their_spacing(north: Figures, shoot: Shoot) -> None:
    checks = checked(north, shoot(north, 1, spacing_error=-12.5))
    assert checks.verdict[1] is Verdict.FAIL
    assert np.isnan(checks.rotation_deg[1])
    assert not checks.provable[1]


# Worked figures of a frame whose residual sigma is 0.3025 degrees, decision of JCGM 106:2012: p = Phi((T - y)
# / u) - Phi((-T - y) / u); 0.3 of 1.0 gives 0.9897, 0.8 gives 0.7458, 1.6 gives 0.0236.
@pytest.mark.parametrize(
    ("turn", "probability", "verdict"),
    [(0.3, 0.9897, Verdict.PASS), (0.8, 0.7458, Verdict.CANNOT_TELL), (1.6, 0.0236, Verdict.FAIL)],
)
def test_decision_follows_the_worked_probabilities(
    build: Build, shoot: Shoot, turn: float, probability: float, verdict: Verdict
) -> None:
    figures = build(spacing=15.5)
    sigma = math.radians(0.3025) * 15.5 / math.sqrt(2)
    tolerances = replace(TOLERANCES, spacing=replace(TOLERANCES.spacing, value=1.0))
    checks = checked(figures, shoot(figures, 1, rotation_deg=turn, sigma=sigma), tolerances)
    assert checks.probability_in_tolerance[1] == pytest.approx(probability, abs=2e-4)
    assert checks.verdict[1] is verdict


def test_tolerances_in_another_unit_are_refused(north: Figures, shoot: Shoot) -> None:
    with pytest.raises(ValueError, match="tolerances are in m, line 'North' is in ft"):
        checked(north, shoot(north, 1), Tolerances.default(LengthUnit.METRE))


def test_metric_words(build: Build, shoot: Shoot) -> None:
    figures = build(unit=LengthUnit.METRE, spacing=4.0)
    tolerances = Tolerances.default(LengthUnit.METRE)
    checks = checked(figures, shoot(figures, 1, across=-0.5), tolerances)
    assert words(checks, "centre across") == [
        "frame centre 0.500 m left of design (sigma 0.009 m); tolerance ±0.076 m"
    ]


def test_findings_are_in_row_order(north: Figures, shoot: Shoot) -> None:
    shots = [*shoot(north, 3, across=1.0), *shoot(north, 1, across=1.0, rotation_deg=5.0)]
    checks = checked(north, shots)
    found = Ledger(north.keys, checks.findings).everything()
    assert [finding.structure for finding in found] == ["1/2", "1/2", "2/1"]


turns = st.floats(-80.0, 80.0)
lengths = st.floats(-30.0, 30.0)


@settings(max_examples=examples(40))
@given(
    azimuth=st.floats(0.0, 360.0),
    line_turn=st.floats(-60.0, 60.0),
    factor=st.floats(0.999, 1.001),
    rotation=turns,
    along=lengths,
    across=lengths,
    spacing=st.floats(-1.0, 1.0),
    swapped=st.booleans(),
    pole_a=st.sampled_from(["left", "right"]),
    poles=st.sampled_from([2, 3]),
)
def test_residuals_put_in_come_out(
    build: Build,
    shoot: Shoot,
    azimuth: float,
    line_turn: float,
    factor: float,
    rotation: float,
    along: float,
    across: float,
    spacing: float,
    swapped: bool,
    pole_a: str,
    poles: int,
) -> None:
    figures = build(azimuth_deg=azimuth, turn_deg=line_turn, factor=factor, pole_a=pole_a, pole_count=poles)
    shots = shoot(
        figures, 2, rotation_deg=rotation, along=along, across=across, spacing_error=spacing, swapped=swapped
    )
    checks = checked(figures, shots)
    assert checks.rotation_deg[2] == pytest.approx(rotation, abs=1e-6)
    assert checks.along[2] == pytest.approx(along, abs=1e-7)
    assert checks.across[2] == pytest.approx(across, abs=1e-7)
    assert checks.spacing_error[2] == pytest.approx(spacing, abs=1e-7)
    assert checks.reversed[2] == swapped
    assert not (swapped and checks.verdict[2] is Verdict.PASS)


@settings(max_examples=examples(40))
@given(
    rotation=st.floats(-3.0, 3.0),
    along=st.floats(-2.0, 2.0),
    across=st.floats(-0.5, 0.5),
    spacing=st.floats(-0.4, 0.4),
    sigma=st.floats(0.005, 0.3),
)
def test_verdicts_agree_with_interval_arithmetic(
    north: Figures,
    shoot: Shoot,
    rotation: float,
    along: float,
    across: float,
    spacing: float,
    sigma: float,
) -> None:
    """Three sigma inside everywhere passes, 3.3 sigma outside anywhere fails, whatever the survey."""
    shots = shoot(
        north, 1, rotation_deg=rotation, along=along, across=across, spacing_error=spacing, sigma=sigma
    )
    checks = checked(north, shots)
    parts = [
        (rotation, math.degrees(math.sqrt(2) * sigma / (12.5 + spacing)), 1.0),
        (along, math.hypot(sigma / math.sqrt(2), 0.02), 1.0),
        (across, math.hypot(sigma / math.sqrt(2), 0.02), 0.25),
        (spacing, math.sqrt(2) * sigma, 0.20),
    ]
    if all(abs(value) + 3.0 * spread < limit for value, spread, limit in parts):
        assert checks.verdict[1] is Verdict.PASS
        assert checks.findings == ()
    if any(abs(value) - 3.3001 * spread > limit for value, spread, limit in parts):
        assert checks.verdict[1] is Verdict.FAIL
    if all(abs(value) <= limit for value, _, limit in parts):
        assert checks.verdict[1] is not Verdict.FAIL
    assert checks.provable[1] == all(limit >= 1.959964 * spread for _, spread, limit in parts)


@settings(max_examples=examples(25))
@given(rotation=turns, along=lengths, across=lengths, swapped=st.booleans())
def test_a_line_seen_from_its_other_end_mirrors_the_centre_and_keeps_the_rotation(
    build: Build, shoot: Shoot, rotation: float, along: float, across: float, swapped: bool
) -> None:
    """The same poles on the line run backwards: A right of it is what was A left, rotation is the same."""
    there, back = build(azimuth_deg=30.0), build(azimuth_deg=210.0, pole_a="right")
    shift = [
        there.structures.easting[1] - back.structures.easting[1],
        there.structures.northing[1] - back.structures.northing[1],
    ]
    shots = shoot(there, 1, rotation_deg=rotation, along=along, across=across, swapped=swapped)
    moved = [replace(s, easting=s.easting - shift[0], northing=s.northing - shift[1]) for s in shots]
    one, other = checked(there, shots), checked(back, moved)
    assert other.rotation_deg[1] == pytest.approx(one.rotation_deg[1], abs=1e-6)
    assert other.along[1] == pytest.approx(-one.along[1], abs=1e-6)
    assert other.across[1] == pytest.approx(-one.across[1], abs=1e-6)
    assert other.reversed[1] == one.reversed[1]
