"""Tapes around a frame: what they put where, how well, and how thick poles are taken to be."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2
from taped_frames import RADIUS, frame_design, stakes_around, usual_sets

from linemap.domain.crew_check.pole_size import (
    TapeErrors,
    least_girth_in,
    level_distance,
    rise_that_matters,
    sag_correction,
    table_radius,
)
from linemap.domain.crew_check.tape import TapeSet, chi_square_limit
from linemap.domain.crew_check.tape_sets import candidates

TWO, THREE = frame_design(), frame_design("ABC")
SETS = {"AB": usual_sets(TWO, stakes_around(TWO)), "ABC": usual_sets(THREE, stakes_around(THREE))}


def test_sigmas_and_expected_readings_are_those_measured() -> None:
    """measured on 20,000 frames: spacing 12.5, stakes 25 ft out, poles of radius 0.64."""
    sets = SETS["AB"]
    assert sets.quick is not None
    np.testing.assert_allclose(sets.quick.sigmas, [0.26, 0.042, 0.052, 0.039], atol=0.006)
    np.testing.assert_allclose(sets.full.sigmas, [0.121, 0.0250, 0.0236, 0.0260], atol=1e-3)
    assert sets.full.redundancy.min() == pytest.approx(0.333, abs=1e-3)
    assert (sets.quick.spare, sets.full.spare) == (0, 3)
    expected = dict(zip(sets.full.readings, sets.full.expected([RADIUS] * 2).round(2).tolist(), strict=True))
    assert expected == {
        ("A OS25AH", "A"): 24.36, ("A OS25AH", "B"): 27.31, ("B OS25R", "B"): 24.36, ("A", "B"): 11.22,
        ("A OS25BK", "A"): 24.36, ("A OS25BK", "B"): 27.31, ("A OS25L", "A"): 24.36,
    }  # fmt: skip
    gates = {gate.name: (round(gate.pass_to, 2), round(gate.fail_from, 2)) for gate in sets.full.gates}
    assert gates == {
        "rotation": (0.80, 1.20), "along": (0.96, 1.04), "across": (0.21, 0.29), "spacing": (0.16, 0.24),
    }  # fmt: skip


@pytest.mark.parametrize("letters", ["AB", "ABC"])
@given(off=st.lists(st.floats(-1.5, 1.5), min_size=6, max_size=6), radius=st.floats(0.4, 0.9))
@settings(max_examples=examples(60))
def test_faultless_readings_put_the_poles_where_they_stand(
    letters: str, off: list[float], radius: float
) -> None:
    full = SETS[letters].full
    poles = full.design.poles + np.reshape(off[: full.design.poles.size], full.design.poles.shape)
    radii = [radius] * len(letters)
    solved = full.solve(full.predicted(poles[None], np.array(radii))[0], radii)
    # the wide prior draws them to the design by some thousandths of how far off they are
    np.testing.assert_allclose(solved.poles[0], poles, atol=0.002)
    assert solved.chi_square[0] < 0.01


@pytest.mark.parametrize("letters", ["AB", "ABC"])
def test_sigmas_hold_what_errors_do_to_the_quantities(letters: str) -> None:
    full = SETS[letters].full
    radii = [RADIUS] * len(letters)
    rng = np.random.default_rng(8)
    noisy = full.expected(radii) + rng.multivariate_normal(
        np.zeros(len(full.readings)), full.covariance, 4000
    )
    solved = full.solve(noisy, radii)
    np.testing.assert_allclose(solved.quantities.std(axis=0), full.sigmas, rtol=0.05)
    # 0.1 % of readings without a mistake contradict each other
    assert (solved.chi_square > chi_square_limit(full.spare)).mean() < 0.004
    assert solved.chi_square.mean() == pytest.approx(full.spare, rel=0.06)


def test_a_mistake_shows_as_far_as_the_redundancy_says() -> None:
    full, radii = SETS["AB"].full, [RADIUS] * 2
    assert (full.redundancy >= 0.33).all()
    for row in range(len(full.readings)):
        mistaken = full.expected(radii) + np.eye(len(full.readings))[row]
        assert full.solve(mistaken[None], radii).chi_square[0] > chi_square_limit(full.spare)


def test_the_same_stake_for_both_poles_tells_the_turn_best() -> None:
    """Its error cancels: measured 0.26 against 0.28 degrees."""
    same = (("A OS25AH", "A"), ("A OS25AH", "B"), ("B OS25R", "B"), ("A", "B"))
    other = (("A OS25AH", "A"), ("B OS25AH", "B"), ("B OS25R", "B"), ("A", "B"))
    one, two = (replace(SETS["AB"].full, readings=readings) for readings in (same, other))
    assert one.sigmas[0] < two.sigmas[0] - 0.01


OTHER_SIDE = {"A OS25AH": "A OS25BK", "A OS25BK": "A OS25AH"}


def test_back_and_ahead_stakes_exchanged_mirror_the_frame_and_contradict_nothing() -> None:
    """Why stakes are named by the neighbouring structures: the verdict would stand, the move go backwards."""
    full, radii = SETS["AB"].full, [RADIUS] * 2
    poles = TWO.poles + np.array([[0.0, 0.3], [0.0, -0.4]])
    read = dict(zip(full.readings, full.predicted(poles[None], np.array(radii))[0][0].tolist(), strict=True))
    mirrored = [read[OTHER_SIDE.get(start, start), end] for start, end in full.readings]
    found = full.solve(np.array([mirrored]), radii)
    np.testing.assert_allclose(found.poles[0], poles * [1.0, -1.0], atol=0.01)
    assert found.chi_square[0] < 0.1


def test_nothing_holds_a_frame_that_too_few_readings_see() -> None:
    one_stake = tuple(stake for stake in stakes_around(TWO) if stake.name == "A OS25BK")
    lone = TapeSet(TWO, one_stake, candidates(TWO, one_stake), TapeErrors(), (False, False))
    assert len(lone.readings) == 3
    assert lone.worst > 10.0  # it can swing about the stake
    assert lone.gates[0].pass_to < 0.0


def test_chi_square_is_that_of_tables() -> None:
    for spare in range(1, 9):
        for share in (0.001, 0.01, 0.05, 0.5):
            assert chi_square_limit(spare, share) == pytest.approx(chi2.isf(share, spare), rel=1e-9)


@pytest.mark.parametrize(
    ("length", "pole_class", "inches"),
    # Pole Specifications (Southern Pine), SREF, after Hawes 1947: 0.88 pi times 17.7, 19.0, 15.2 and 10.5 in
    [(75.0, "2", 48.9), (75.0, "1", 52.5), (50.0, "2", 42.0), (35.0, "5", 29.0)],
)
def test_least_girths_are_those_published(length: float, pole_class: str, inches: float) -> None:
    assert least_girth_in(length, pole_class, 6.0) == pytest.approx(inches, abs=0.05)
    assert least_girth_in(length, pole_class, length) == pytest.approx(
        {"1": 27, "2": 25, "5": 19}[pole_class]
    )


def test_a_radius_is_above_the_least_of_its_class_and_unknown_sizes_have_none() -> None:
    least = least_girth_in(75.0, "2", 12.5)
    radius = table_radius(75.0, "2", "ft")
    assert least is not None
    assert radius is not None
    assert least / (2 * math.pi * 12) == pytest.approx(0.619, abs=1e-3)  # as measured, 3 ft up
    assert 0.01 < radius - least / (2 * math.pi * 12) < 0.03
    assert table_radius(75.0, "2", "m") == pytest.approx(radius * 0.3048, abs=6e-4)
    for length, pole_class in ((None, "2"), (75.0, ""), (75.0, "H1"), (75.0, "5"), (72.0, "2"), (75.0, "0")):
        assert table_radius(length, pole_class, "ft") is None


def test_slope_and_sag_are_those_of_geometry() -> None:
    assert [round(25.0 - level_distance(25.0, rise=rise), 2) for rise in (1, 2, -4)] == [0.02, 0.08, 0.32]
    with pytest.raises(ValueError, match="give the rise anew"):
        level_distance(3.0, rise=4.0)
    # the exact catenary: chord of an arc that hangs under its own weight
    weight, pull, free = 0.018, 5.0, 50.0
    catenary = pull / weight
    chord = 2 * catenary * math.asinh(free / 2 / catenary)
    assert free - chord == pytest.approx(sag_correction(free, weight=weight, pull=pull), rel=0.01)


@pytest.mark.parametrize("unit", ["ft", "m"])
def test_slope_and_sag_matter_from_half_of_what_a_tape_is_good_for(unit: str) -> None:
    errors, foot = TapeErrors.of(unit), 0.3048 if unit == "m" else 1.0
    assert errors.tape == pytest.approx(0.02 * foot)
    far = 25.0 * foot
    assert far - level_distance(far, rise=rise_that_matters(far, errors)) == pytest.approx(
        errors.tape / 2, rel=0.01
    )
    heavy = sag_correction(errors.sag_from, weight=0.018 / foot, pull=5.0)
    assert heavy == pytest.approx(errors.tape / 2, rel=0.01)
