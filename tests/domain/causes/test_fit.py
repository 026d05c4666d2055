"""Fits of plane vectors: the numbers by hand, outliers left out, and the price of a free number."""

from __future__ import annotations

import math

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.causes.fit import Fit, fit_vectors
from linemap.domain.design.structure import FloatArray

PRICE = 25.0


def constant(size: int) -> FloatArray:
    return np.broadcast_to(np.eye(2), (size, 2, 2))


def fit(observed: FloatArray, columns: FloatArray, *, ranges: tuple[float, ...], prior: float = 0.5) -> Fit:
    return fit_vectors(observed, columns, ranges=np.array(ranges), outlier_cost=PRICE, prior=prior)


def test_without_free_numbers_the_cost_is_chi_square_and_prior() -> None:
    observed = np.array([[3.0, 0.0], [0.0, 1.0], [30.0, 40.0]])
    made = fit(observed, constant(3)[:, :, :0], ranges=())
    assert made.misfit.tolist() == [9.0, 1.0, 2500.0]
    assert made.explained.tolist() == [True, True, False]
    assert made.cost == pytest.approx(9.0 + 1.0 + PRICE + 2.0 * math.log(2.0))


def test_a_constant_is_the_mean_with_its_sigma_and_price() -> None:
    observed = np.array([[4.0, -1.0], [6.0, 1.0], [5.0, 0.0], [5.0, 0.0]])
    made = fit(observed, constant(4), ranges=(100.0, 100.0))
    assert made.values == pytest.approx([5.0, 0.0], abs=1e-12)
    # four vectors of sigma 1: the mean has sigma 1/2
    assert made.sigmas == pytest.approx([0.5, 0.5])
    each = 2.0 * math.log(100.0 / (0.5 * math.sqrt(2.0 * math.pi)))
    assert made.cost == pytest.approx(4.0 + 2.0 * each + 2.0 * math.log(2.0))
    assert made.per_freedom == pytest.approx(4.0 / 6.0)


def test_an_outlier_does_not_pull_and_costs_its_price() -> None:
    observed = np.array([[5.0, 0.0], [5.0, 0.0], [5.0, 0.0], [5.0, 0.0], [400.0, -300.0]])
    made = fit(observed, constant(5), ranges=(100.0, 100.0))
    assert made.values == pytest.approx([5.0, 0.0], abs=1e-9)
    assert made.explained.tolist() == [True] * 4 + [False]


def test_a_slope_is_found_beside_a_constant() -> None:
    along = np.array([-20.0, -5.0, 5.0, 20.0])
    columns = np.concatenate([constant(4), np.column_stack([along, along])[:, :, np.newaxis]], axis=2)
    observed = np.column_stack([2.0 + 0.5 * along, -1.0 + 0.5 * along])
    made = fit(observed, columns, ranges=(100.0, 100.0, 1.0))
    assert made.values == pytest.approx([2.0, -1.0, 0.5])
    assert made.misfit == pytest.approx(np.zeros(4), abs=1e-18)


def test_the_law_with_fewer_free_numbers_wins_when_both_explain_the_same() -> None:
    observed = np.full((4, 2), 3.0)
    named = fit(observed - 3.0, constant(4)[:, :, :0], ranges=())
    free = fit(observed, constant(4), ranges=(100.0, 100.0))
    assert named.cost < free.cost - 6.0


def test_more_free_numbers_than_readings_are_not_determined() -> None:
    columns = np.ones((1, 2, 3))
    made = fit(np.ones((1, 2)), columns, ranges=(1.0, 1.0, 1.0))
    assert made.cost == math.inf
    assert not made.explained.any()


def test_a_number_that_changes_nothing_is_free_of_charge_and_has_no_sigma() -> None:
    made = fit(np.ones((3, 2)), np.zeros((3, 2, 1)), ranges=(1.0,))
    assert made.sigmas.tolist() == [math.inf]
    assert made.cost == pytest.approx(6.0 + 2.0 * math.log(2.0))


@settings(max_examples=examples(50))
@given(
    shift=st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
    noise=st.lists(st.tuples(st.floats(-1, 1), st.floats(-1, 1)), min_size=4, max_size=8),
    order=st.randoms(use_true_random=False),
)
def test_the_order_of_the_vectors_does_not_matter(
    shift: tuple[float, float], noise: list[tuple[float, float]], order: st.DataObject
) -> None:
    observed = np.array(noise) + shift
    shuffled = np.array(order.sample(noise, len(noise))) + shift  # type: ignore[attr-defined]
    one = fit(observed, constant(len(noise)), ranges=(200.0, 200.0))
    two = fit(shuffled, constant(len(noise)), ranges=(200.0, 200.0))
    assert one.cost == pytest.approx(two.cost, abs=1e-6)
    assert one.values == pytest.approx(two.values, abs=1e-6)
    assert one.values == pytest.approx(observed.mean(axis=0), abs=0.5)
