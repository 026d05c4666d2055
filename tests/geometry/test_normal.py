"""The normal distribution against an independent implementation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from linemap.geometry.normal import normal_cdf


def test_agrees_with_scipy_to_the_last_digits() -> None:
    z = np.concatenate([np.linspace(-39.0, 39.0, 78_001), [-0.66291, 0.66291, -(32.0**0.5), 32.0**0.5]])
    assert np.abs(normal_cdf(z) - ndtr(z)).max() < 1e-15


def test_the_lower_tail_keeps_its_relative_accuracy() -> None:
    z = np.linspace(-37.0, 0.0, 37_001)
    assert np.abs(normal_cdf(z) / ndtr(z) - 1.0).max() < 1e-12


def test_ends_and_unknowns() -> None:
    seen = normal_cdf([-np.inf, np.inf, 0.0, -1e300, 1e300, np.nan])
    assert seen[:5].tolist() == [0.0, 1.0, 0.5, 0.0, 1.0]
    assert np.isnan(seen[5])


def test_is_symmetric_and_never_falls() -> None:
    z = np.linspace(-8.0, 8.0, 16_001)
    assert normal_cdf(z) + normal_cdf(-z) == pytest.approx(1.0, abs=1e-15)
    assert (np.diff(normal_cdf(z)) >= 0.0).all()


def test_keeps_the_shape_it_was_given() -> None:
    assert normal_cdf(0.0).shape == ()
    assert normal_cdf(np.zeros((2, 3))).shape == (2, 3)
    assert normal_cdf([]).shape == (0,)
