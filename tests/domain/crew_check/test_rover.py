"""A check by rover: what is believed of its positions, what it refuses, and what it finds."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from rover_checks import Made, made_check

from linemap.domain.crew_check.frame import CheckVerdict
from linemap.domain.crew_check.rover import judge_rover, lacking
from linemap.domain.crew_check.rover_fix import (
    RoverRule,
    mean_factor,
    means_covariance,
)


@pytest.fixture
def right_one() -> Made:
    """A check that passes: a frame of two poles that stands as designed."""
    rng = np.random.default_rng(3)
    made = (made_check(rng, right=True) for _ in range(200))
    return next(
        each for each in made if each.judged().verdict is CheckVerdict.PASS and len(each.design.letters) == 2
    )


@pytest.mark.parametrize(
    ("span", "tau", "share"), [(60, 30, 0.75), (60, 60, 0.86), (60, 115, 0.92), (60, 900, 0.99)]
)
def test_a_mean_of_a_minute_leaves_most_of_the_sigma(span: float, tau: float, share: float) -> None:
    """115 s: correlation time of single-frequency phase after Miller and others, J. Surv. Eng. 138 (2012)."""
    assert round(math.sqrt(mean_factor(span, tau)), 2) == share


def test_the_formula_is_what_averaged_noise_does() -> None:
    """First-order autoregressive noise, a value each second: 60 values at 45 s, and the mean 80 s later."""
    rng, tau = np.random.default_rng(7), 45.0
    keep = math.exp(-1 / tau)
    value, said = rng.normal(0, 1, 40_000), []
    for _ in range(140):
        said.append(value)
        value = keep * value + math.sqrt(1 - keep**2) * rng.normal(0, 1, len(value))
    first, second = np.mean(said[:60], axis=0), np.mean(said[80:140], axis=0)
    formula = means_covariance([0.0, 80.0], [60.0, 60.0], [(1.0, tau)])
    np.testing.assert_allclose(np.cov(first, second), formula, atol=0.015)
    # what the root of n promises holds the truth 24 times in a hundred, not 95
    assert np.mean(np.abs(first) < 1.96 / math.sqrt(60)) == pytest.approx(0.24, abs=0.01)


def test_means_a_long_way_apart_share_nothing_and_the_whole_is_a_covariance() -> None:
    starts, spans = [0.0, 40.0, 100.0, 90_000.0], [20.0, 30.0, 60.0, 20.0]
    whole = means_covariance(starts, spans, RoverRule.of("ft").noise)
    assert np.all(np.linalg.eigvalsh(whole) > 0.0)
    np.testing.assert_allclose(whole, whole.T)
    assert whole[0, 3] < 1e-40 < whole[0, 1]


def test_what_a_circle_means_is_that_of_the_normal_distribution() -> None:
    circles = dict(RoverRule.of("m").circles)
    assert circles["68 %"] == pytest.approx(math.sqrt(-2.0 * math.log(0.32)), abs=0.001)
    assert circles["95 %"] == pytest.approx(math.sqrt(-2.0 * math.log(0.05)), abs=0.001)
    assert circles["2-D rms"] == pytest.approx(math.sqrt(2.0), abs=0.001)


def test_a_check_without_stakes_faces_or_a_good_receiver_tells_nothing(right_one: Made) -> None:
    fixes = right_one.fixes

    def judged(*kept: object) -> tuple[str, str]:
        result = replace(right_one, fixes=kept).judged()
        return result.verdict.value, result.why

    assert judged() == ("cannot tell", "no stake first")
    assert judged(*fixes[1:]) == ("cannot tell", "no stake first")
    assert judged(*fixes[:-1]) == ("cannot tell", "no stake last")
    first = right_one.design.letters[0]
    lone = [each for each in fixes if each.at != first]
    assert judged(*lone) == ("cannot tell", f"0 of at least 2 faces of pole {first}")
    coarse = [*fixes[:2], replace(fixes[2], accuracy_m=0.05), *fixes[3:]]
    assert judged(*coarse) == (
        "cannot tell", f"a position good to 0.050 m by its own words, at {fixes[2].at}"
    )  # fmt: skip
    hasty = [replace(each, epochs=3, seconds=3.0) for each in fixes]
    assert judged(*hasty) == ("cannot tell", f"only 3 positions in 3 s, at {fixes[0].at}")
    assert not lacking(right_one.design, right_one.rule, fixes)


def test_a_base_that_is_off_is_taken_out_and_said(right_one: Made) -> None:
    """All positions 0.4 m too far north: nothing of it stays in the quantities."""
    before = right_one.judged()
    north = [replace(each, latitude=each.latitude + 0.4 / 111_000.0) for each in right_one.fixes]
    after = replace(right_one, fixes=tuple(north)).judged()
    assert after.verdict is CheckVerdict.PASS
    np.testing.assert_allclose(after.values, before.values, atol=1e-6)
    moved = np.subtract(after.shift, before.shift) / right_one.rule.metre
    assert math.hypot(*moved) == pytest.approx(0.4, abs=0.01)


def test_a_base_that_moves_meanwhile_contradicts_itself_at_the_stakes(right_one: Made) -> None:
    last = right_one.fixes[-1]
    moved = replace(last, latitude=last.latitude + 0.15 / 111_000.0)
    result = replace(right_one, fixes=(*right_one.fixes[:-1], moved)).judged()
    assert result.verdict is CheckVerdict.CONTRADICT
    assert result.odd in (0, len(right_one.fixes) - 1)


def test_one_place_that_was_fixed_wrongly_is_named() -> None:
    """Half a metre east at any face or stake of 30 checks: the place is named, or one that says the same."""
    rng, tried, named = np.random.default_rng(11), 0, 0
    while tried < 200:
        made = made_check(rng, right=True)
        if any(len([each for each in made.fixes if each.at == letter]) < 3 for letter in made.design.letters):
            continue
        for i in range(1, len(made.fixes) - 1):
            wrong = list(made.fixes)
            wrong[i] = replace(wrong[i], longitude=wrong[i].longitude + math.degrees(0.5 / 6.378e6))
            result = replace(made, fixes=tuple(wrong)).judged()
            tried += 1
            named += result.verdict is CheckVerdict.CONTRADICT and result.odd == i
    assert named > 0.9 * tried


def test_stakes_that_seem_to_stand_elsewhere_are_other_stakes(right_one: Made) -> None:
    """All 2 m off: a whole reference, or the stakes of the next pole."""
    away = tuple(replace(each, latitude=each.latitude + 2.0 / 111_000.0) for each in right_one.fixes)
    result = replace(right_one, fixes=away).judged()
    assert (result.verdict, result.why) == (
        CheckVerdict.CANNOT_TELL, "another stake, or another reference"
    )  # fmt: skip
    assert result.values


def test_longer_at_a_place_is_hardly_better(right_one: Made) -> None:
    """From 20 s to 180 s a place, and as much to walk: a tenth, where the root of n would say a third."""

    def sigma(span: float) -> float:
        fixes = [
            replace(each, start=i * (span + 20.0), seconds=span) for i, each in enumerate(right_one.fixes)
        ]
        return judge_rover(
            right_one.design, right_one.rule, centre=right_one.centre, stakes=right_one.stakes,
            radii=right_one.radii, fixes=fixes,
        ).sigmas[0]  # fmt: skip

    assert 0.75 < sigma(180.0) / sigma(20.0) < 1.05
