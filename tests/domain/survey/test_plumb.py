"""Plumb poles and level arms."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.plumb import ArmLevel, HeightOffset, Lean, bow_share
from linemap.domain.survey.plumb import arm_level as judge_arm
from linemap.domain.survey.plumb import lean as judge_lean
from linemap.domain.survey.verdict import Verdict
from linemap.units import LengthUnit

LIMITS = Tolerances.default(LengthUnit.FOOT)


def lean(*offsets: HeightOffset, **given: Any) -> Lean:
    return judge_lean(*offsets, **{"tolerance": LIMITS.plumb, **given})


def arm_level(**given: Any) -> ArmLevel:
    return judge_arm(**{"tolerance": LIMITS.arm_level, **given})


def inches_per_10_ft(seen: Lean) -> float:
    return seen.size * 120.0


def at(height: float, along: float = 0.0, across: float = 0.0) -> HeightOffset:
    return HeightOffset(height=height, along=along, across=across)


def test_a_pole_leaning_half_a_foot_in_sixty() -> None:
    """0.5 ft in 60 ft: 6 inches in 60 ft is 1.0 in per 10 ft, 0.83 %."""
    seen = lean(at(0.0), at(60.0, along=0.5), pole_height=60.0, sigma=0.0)
    assert inches_per_10_ft(seen) == pytest.approx(1.0)
    assert 100.0 * seen.size == pytest.approx(0.8333, abs=1e-4)


def test_leans_along_and_across_add_like_the_sides_of_a_triangle() -> None:
    seen = lean(at(0.0), at(60.0, along=0.9, across=-1.2), pole_height=60.0, sigma=0.02)
    assert inches_per_10_ft(seen) == pytest.approx(3.0)
    assert seen.verdict is Verdict.FAIL
    assert seen.words == (
        "leans 3.0 in per 10 ft (2.50 %): 1.8 ahead, 2.4 left; tolerance 1 in per 10 ft: fail"
    )


def test_a_plumb_pole_measured_at_ground_and_top_passes() -> None:
    seen = lean(at(0.0), at(60.0, along=0.1), pole_height=60.0, sigma=0.02)
    assert seen.verdict is Verdict.PASS
    assert seen.sweep == 0.0
    assert seen.words == "leans 0.2 in per 10 ft (0.17 %): 0.2 ahead; tolerance 1 in per 10 ft: pass"


def test_a_swept_pole_measured_at_half_its_height_is_not_failed() -> None:
    """Sweep of 6 in over 60 ft, all of it seen at 30 ft: 2 in per 10 ft that are no lean."""
    seen = lean(at(0.0), at(30.0, across=0.5), pole_height=60.0, sigma=0.01)
    assert inches_per_10_ft(seen) == pytest.approx(2.0)
    assert seen.verdict is Verdict.CANNOT_TELL
    assert seen.words.endswith("(up to 2.0 in per 10 ft may be sweep; measure at the ground and at the top)")
    same = lean(at(0.0), at(60.0, across=1.0), pole_height=60.0, sigma=0.01)
    assert same.verdict is Verdict.FAIL


def test_more_than_sweep_can_feign_fails_at_half_height_too() -> None:
    seen = lean(at(0.0), at(30.0, across=1.0), pole_height=60.0, sigma=0.01)
    assert seen.verdict is Verdict.FAIL


def test_a_coarse_measurement_cannot_tell() -> None:
    seen = lean(at(0.0), at(60.0, along=0.5), pole_height=60.0, sigma=0.1)
    assert seen.verdict is Verdict.CANNOT_TELL


def test_a_tolerance_of_the_job_is_used_with_its_source() -> None:
    own = replace(LIMITS.plumb, value=4.0, source="job specification 5.3")
    seen = lean(at(0.0), at(60.0, along=1.5), pole_height=60.0, sigma=0.01, tolerance=own)
    assert seen.verdict is Verdict.PASS
    assert seen.tolerance.source == "job specification 5.3"
    assert "no source" in lean(at(0.0), at(60.0), pole_height=60.0, sigma=0.0).tolerance.source


@pytest.mark.parametrize(("lower", "upper"), [(10.0, 10.0), (30.0, 5.0), (-1.0, 20.0), (0.0, 61.0)])
def test_heights_off_the_pole_are_refused(lower: float, upper: float) -> None:
    with pytest.raises(ValueError, match="both between ground and top"):
        lean(at(lower), at(upper), pole_height=60.0, sigma=0.0)


@settings(max_examples=examples(100))
@given(
    along=st.floats(-2.0, 2.0),
    across=st.floats(-2.0, 2.0),
    lower=st.floats(0.0, 20.0),
    upper=st.floats(25.0, 60.0),
    scale=st.sampled_from([1.0, 0.3048]),
)
def test_units_do_not_matter_and_only_the_difference_of_offsets_does(
    along: float, across: float, lower: float, upper: float, scale: float
) -> None:
    one = lean(at(lower), at(upper, along, across), pole_height=60.0, sigma=0.02)
    shifted = lean(
        at(lower * scale, 3.0 * scale, -7.0 * scale),
        at(upper * scale, (along + 3.0) * scale, (across - 7.0) * scale),
        pole_height=60.0 * scale,
        sigma=0.02 * scale,
    )
    assert shifted.size == pytest.approx(one.size, abs=1e-12)
    assert shifted.size == pytest.approx(math.hypot(along, across) / (upper - lower), abs=1e-11)
    assert shifted.sweep == pytest.approx(one.sweep, abs=1e-12)
    assert one.size <= one.sweep + 1 / 120 or one.verdict is not Verdict.PASS


@settings(max_examples=examples(60))
@given(height=st.floats(20.0, 100.0))
def test_the_bow_feigns_nothing_from_end_to_end_and_most_from_the_end(height: float) -> None:
    assert bow_share(0.0, height, pole_height=height) == pytest.approx(0.0, abs=1e-12)
    shares = [bow_share(0.0, height * part, pole_height=height) for part in (0.25, 0.5, 0.75)]
    assert shares == sorted(shares, reverse=True)
    assert shares[1] == pytest.approx(2.0 / 120.0)


def test_an_arm_two_inches_out_on_twenty_five_feet() -> None:
    """2 in on 25 ft is 0.38 degrees; 0.5 degrees is 2.6 in."""
    seen = arm_level(left=50.0, right=50.0 - 2.0 / 12.0, length=25.0, sigma=0.0, unit=LengthUnit.FOOT)
    assert seen.inches == pytest.approx(-2.0)
    assert seen.slope_deg == pytest.approx(-0.382, abs=1e-3)
    assert seen.words.startswith("left end 2.0 in (0.38°) higher than the right; tolerance 2 in end to end")


@pytest.mark.parametrize(
    ("rise_ft", "sigma", "verdict"),
    [
        (0.05, 0.02, Verdict.PASS),
        (0.16, 0.02, Verdict.CANNOT_TELL),
        (0.30, 0.02, Verdict.FAIL),
        (0.05, 0.5, Verdict.CANNOT_TELL),
    ],
)
def test_arms_are_judged_with_their_uncertainty(rise_ft: float, sigma: float, verdict: Verdict) -> None:
    seen = arm_level(left=0.0, right=rise_ft, length=25.0, sigma=sigma, unit=LengthUnit.FOOT)
    assert seen.verdict is verdict
    metric = arm_level(
        left=0.0, right=rise_ft * 0.3048, length=7.62, sigma=sigma * 0.3048, unit=LengthUnit.METRE
    )
    assert metric.inches == pytest.approx(12.0 * rise_ft)
    assert metric.verdict is verdict


def test_a_level_arm_and_one_that_cannot_be() -> None:
    level = arm_level(left=3.0, right=3.0, length=25.0, sigma=0.01, unit=LengthUnit.FOOT)
    assert level.words == "arm level to 0.1 in; tolerance 2 in end to end: pass"
    with pytest.raises(ValueError, match="cannot have ends 30 apart"):
        arm_level(left=0.0, right=30.0, length=25.0, sigma=0.01, unit=LengthUnit.FOOT)
