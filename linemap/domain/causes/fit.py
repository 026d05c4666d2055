"""Least squares of plane vectors that a few outliers cannot pull, and what a fit is worth against another.

A fit is compared by its cost, -2 times the log of its evidence: the chi-square of the vectors it explains,
a fixed price for each it does not, and for each free number the price of having been free, 2 ln(range /
(sigma sqrt(2 pi))) (the Laplace approximation; D. MacKay, Neural Computation 4 (1992), 415-447). Half a
difference of costs is a log-odds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from linemap.domain.design.structure import BoolArray, FloatArray

_ROUNDS = 25
#: Weight of a vector this many sigma out begins to fall (Huber's constant for 95 % efficiency).
_HUBER = 1.345


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """One model fitted to m plane vectors."""

    #: (p,) free numbers of the model and their sigmas; empty when it has none.
    values: FloatArray
    sigmas: FloatArray
    #: (m,) chi-square of each vector, two degrees of freedom each, not limited.
    misfit: FloatArray
    #: (m,) True where the vector is explained: its misfit is below the price of an outlier.
    explained: BoolArray
    cost: float

    @property
    def per_freedom(self) -> float:
        """Chi-square per degree of freedom of the explained vectors; nan when there is none to spare."""
        freedom = 2 * int(self.explained.sum()) - len(self.values)
        return float(self.misfit[self.explained].sum()) / freedom if freedom > 0 else math.nan


def fit_vectors(
    observed: FloatArray, columns: FloatArray, *, ranges: FloatArray, outlier_cost: float, prior: float
) -> Fit:
    """Fit free numbers to plane vectors by iterated least squares, then leave the outliers out.

    Parameters
    ----------
    observed : (m, 2) ndarray
        Vectors divided by their sigmas.
    columns : (m, 2, p) ndarray
        Change of each vector with each free number, divided by the same sigmas; p may be 0.
    ranges : (p,) ndarray
        Width of the interval each free number may lie in, as known beforehand.
    outlier_cost : float
        Price of a vector that is not explained, in chi-square.
    prior : float
        Probability of the model before anything was observed, in (0, 1].

    Returns
    -------
    Fit
        With p > 2 m the free numbers are not determined: the cost is infinite.
    """
    count = columns.shape[2]
    if count > 2 * len(observed):
        nothing, never = np.full(count, np.nan), np.full(len(observed), np.inf)
        return Fit(values=nothing, sigmas=nothing, misfit=never, explained=never < 0.0, cost=math.inf)
    values = _robust_values(observed, columns)
    misfit = _misfit(observed, columns, values)
    explained = misfit < outlier_cost
    if count and explained.sum() * 2 >= count:
        values = _solve(observed, columns, explained.astype(np.float64))
        misfit = _misfit(observed, columns, values)
        explained = misfit < outlier_cost
    sigmas = _sigmas(columns, explained)
    return Fit(
        values=values,
        sigmas=sigmas,
        misfit=misfit,
        explained=explained,
        cost=float(np.minimum(misfit, outlier_cost).sum()) + _price(ranges, sigmas) - 2.0 * math.log(prior),
    )


def _robust_values(observed: FloatArray, columns: FloatArray) -> FloatArray:
    """Iterate with weights that fall as 1 / distance, from the start where all weigh the same."""
    weight = np.ones(len(observed))
    values = np.zeros(columns.shape[2])
    for _ in range(_ROUNDS if columns.shape[2] else 0):
        before, values = values, _solve(observed, columns, weight)
        weight = np.minimum(1.0, _HUBER / np.sqrt(np.maximum(_misfit(observed, columns, values), 1e-12)))
        if np.abs(values - before).max() <= 1e-9 * np.abs(values).max():
            break
    return values


def _solve(observed: FloatArray, columns: FloatArray, weight: FloatArray) -> FloatArray:
    root = np.sqrt(weight)
    matrix = (columns * root[:, np.newaxis, np.newaxis]).reshape(-1, columns.shape[2])
    right = (observed * root[:, np.newaxis]).reshape(-1)
    return np.asarray(np.linalg.lstsq(matrix, right, rcond=None)[0], dtype=np.float64)


def _misfit(observed: FloatArray, columns: FloatArray, values: FloatArray) -> FloatArray:
    return np.asarray(np.square(observed - columns @ values).sum(axis=1), dtype=np.float64)


def _sigmas(columns: FloatArray, explained: BoolArray) -> FloatArray:
    if not columns.shape[2]:
        return np.zeros(0)
    kept = columns[explained].reshape(-1, columns.shape[2])
    normal = kept.T @ kept
    if np.linalg.matrix_rank(normal) < len(normal):
        return np.full(columns.shape[2], np.inf)
    return np.asarray(np.sqrt(np.diag(np.linalg.inv(normal))), dtype=np.float64)


def _price(ranges: FloatArray, sigmas: FloatArray) -> float:
    """Price of the free numbers; one that is hardly determined costs nothing, never less."""
    with np.errstate(divide="ignore"):
        each = 2.0 * np.log(ranges / (sigmas * math.sqrt(2.0 * math.pi)))
    return float(np.maximum(each, 0.0).sum())
