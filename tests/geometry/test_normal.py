"""The normal distribution against published values and against scipy's."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import log_ndtr, ndtr

from linemap.geometry.normal import log_normal_below, normal_below


@pytest.mark.parametrize(
    ("sigmas", "below"),
    [  # Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 26.1
        (0.0, 0.5),
        (0.5, 0.691462461274013),
        (1.0, 0.841344746068543),
        (2.0, 0.977249868051821),
        (3.0, 0.998650101968370),
    ],
)
def test_published_values(sigmas: float, below: float) -> None:
    assert normal_below(sigmas) == pytest.approx(below, abs=5e-16)
    assert normal_below(-sigmas) == pytest.approx(1.0 - below, abs=5e-16)


def test_equals_scipy_to_the_last_digits() -> None:
    sigmas = np.concatenate(
        [np.linspace(-37.0, 10.0, 100_001), np.array([-1.0, 1.0, 4.0, -4.0]) * math.sqrt(2.0)]
    )
    ours, theirs = normal_below(sigmas), ndtr(sigmas)
    np.testing.assert_allclose(ours, theirs, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(ours, theirs, rtol=0.0, atol=2.3e-16)


def test_the_logarithm_equals_scipy_far_below_what_a_number_can_hold() -> None:
    sigmas = np.concatenate(
        [np.linspace(-400.0, 8.0, 100_001), [-1e6, -35.000001, -34.999999, -np.inf, np.nan]]
    )
    np.testing.assert_allclose(log_normal_below(sigmas), log_ndtr(sigmas), rtol=3e-15, atol=3e-16)


def test_ends_and_what_is_not_known() -> None:
    assert normal_below([-np.inf, -1e300, -50.0, 9.0, 1e300, np.inf]).tolist() == [
        0.0,
        0.0,
        0.0,
        1.0,
        1.0,
        1.0,
    ]
    assert np.isnan(normal_below([np.nan, 0.1, 1.0, 9.0])).tolist() == [True, False, False, False]
    assert normal_below([]).tolist() == []
    assert normal_below([[0.1, 1.0], [-9.0, 9.0]]).shape == (2, 2)


@given(st.floats(-8.0, 8.0))
def test_the_two_sides_make_up_the_whole(sigmas: float) -> None:
    assert normal_below(sigmas) + normal_below(-sigmas) == pytest.approx(1.0, abs=3e-16)


@given(st.lists(st.floats(-40.0, 40.0), min_size=1, max_size=20))
def test_each_number_of_many_is_as_alone(sigmas: list[float]) -> None:
    assert normal_below(sigmas).tolist() == [float(normal_below(one)) for one in sigmas]
