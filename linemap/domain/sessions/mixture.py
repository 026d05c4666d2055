"""Robust fits of plane vectors, many problems at once: outliers are weighed, never averaged in.

A vector divided by its sigma is good, or one of a share that scatters 4 to 1,000 times as wide: a mixture of
normal distributions of several widths, fitted by expectation and maximisation (A. Dempster, N. Laird,
D. Rubin, J. Royal Statistical Society B 39 (1977), 1-38) from many starts. Starts are minimal subsets in a
fixed order, so that the same vectors always give the same fit. A fit is compared by its cost, -2 times the
log of its evidence by the Laplace approximation (D. MacKay, Neural Computation 4 (1992), 415-447).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from linemap.domain.design.structure import BoolArray, FloatArray, IntArray

#: How many sigmas wide vectors scatter, and the shares of the bad ones that scatter 4, 20, ... wide.
_WIDTHS = np.array([1.0, 4.0, 20.0, 100.0, 1000.0])
_SHARES = np.array([0.4, 0.3, 0.2, 0.1])
#: Minimal subsets to start from, starts that are followed up, and rounds of each.
_STARTS, _FOLLOWED, _ROUNDS = 24, 3, 15
#: Rounds before those that no longer move, by this share of the smallest number looked for, are left.
_SHRINKS, _STILL = 3, 1e-5
#: A sequence that fills the unit square evenly: powers of the root of x**3 = x + 1.
_EVEN = (0.7548776662466927, 0.5698402909980532)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Vectors:
    """b problems of up to m plane vectors and the four numbers that may explain them."""

    #: (b, m, 2) vectors divided by their sigmas, what a law fixes already taken off; 0 where not used.
    observed: FloatArray
    #: (b, m, 2, 4) change of each vector with each number, by the same sigmas; 0 where not used or not free.
    columns: FloatArray
    #: (b, m) share of such vectors that is bad; where a problem has fewer vectors, any.
    bad: FloatArray
    #: (b, m) vectors a problem has.
    used: BoolArray
    #: (b, m) those of them that can determine the numbers best: an own start.
    trusted: BoolArray
    #: (b, 4) numbers a problem leaves free: shift east and north (both or none), scale, rotation.
    free: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fits:
    """What fitting b problems came to."""

    #: (b, 4) numbers, 0 where not free.
    values: FloatArray
    #: (b, m) weight of each vector, 1 = good; 0 where not used.
    weights: FloatArray
    #: (b, 4, 4) normal matrix; 1 on the diagonal of numbers that are not free.
    normal: FloatArray
    #: (b,) -2 ln of the evidence.
    cost: FloatArray


def misfit(square: FloatArray, bad: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return -2 ln of the density of whitened vectors of this squared length, and their weights."""
    whole, slope = _mixed(square, bad)
    farthest = square / _WIDTHS[-1] ** 2 - 2.0 * np.log(bad * _SHARES[-1] / _WIDTHS[-1] ** 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        density = np.where(whole > 0.0, -2.0 * np.log(whole), farthest)
        return density, np.where(whole > 0.0, slope / whole, _WIDTHS[-1] ** -2.0)


def _mixed(square: FloatArray, bad: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the density, 0 where it is too small for a number, and -2 times its slope over the square."""
    half = square * -0.5
    part = np.exp(half)
    part *= 1.0 - bad
    whole, slope = part.copy(), part
    for width, share in zip(_WIDTHS[1:].tolist(), _SHARES.tolist(), strict=True):
        part = np.exp(half * width**-2.0)
        part *= bad * (share * width**-2.0)
        whole += part
        part *= width**-2.0
        slope += part
    return whole, slope


def fit(vectors: Vectors, *, small: float, large: float) -> Fits:
    """Fit every problem from many starts and price what was free.

    Beforehand a free number is as likely in every decade from `small` to `large`, lengths in its own unit.
    """
    problems = _Problems.of(vectors, large)
    values = _followed(problems, _best_starts(problems, vectors), small)
    density, weights = misfit(problems.squares(values), problems.bad)
    top = (density * problems.used).sum(axis=-1).argmin(axis=-1)
    one = np.arange(len(top))
    chosen = values[one, top]
    weight = weights[one, top] * vectors.used
    normal = problems.normal(weight[:, np.newaxis])[:, 0]
    return Fits(
        values=chosen,
        weights=weight,
        normal=normal,
        cost=(density[one, top] * vectors.used).sum(axis=-1)
        + _price(chosen, normal, vectors.free, small, large),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Problems:
    """Products every round needs, computed once; numbers of k tries of each problem are (b, k, 4)."""

    #: (b, 4, 2 m) columns and (b, 1, 2 m) vectors: first components, then second ones.
    columns: FloatArray
    observed: FloatArray
    #: (b, m, 16) and (b, m, 4) products of columns with themselves and with the vectors.
    squared: FloatArray
    sides: FloatArray
    ridge: FloatArray
    bad: FloatArray
    used: BoolArray

    @classmethod
    def of(cls, vectors: Vectors, large: float) -> _Problems:
        size, count = vectors.used.shape
        columns = vectors.columns
        return cls(
            columns=np.ascontiguousarray(np.moveaxis(columns, 3, 1).swapaxes(2, 3).reshape(size, 4, -1)),
            observed=np.ascontiguousarray(vectors.observed.swapaxes(1, 2).reshape(size, 1, -1)),
            squared=(columns.swapaxes(2, 3) @ columns).reshape(size, count, 16),
            sides=(vectors.observed[:, :, np.newaxis] @ columns)[:, :, 0],
            ridge=np.where(vectors.free, large**-2.0, 1.0)[:, np.newaxis, :, np.newaxis] * np.eye(4),
            bad=vectors.bad[:, np.newaxis],
            used=vectors.used[:, np.newaxis],
        )

    def take(self, keep: BoolArray) -> _Problems:
        """Return some of the problems."""
        return _Problems(**{name: getattr(self, name)[keep] for name in self.__slots__})

    def squares(self, values: FloatArray) -> FloatArray:
        """Return the squared length of what is left of each vector, (b, k, m)."""
        left = values @ self.columns
        left -= self.observed
        left *= left
        count = left.shape[2] // 2
        return left[:, :, :count] + left[:, :, count:]

    def normal(self, weights: FloatArray) -> FloatArray:
        """Return (b, k, 4, 4) normal matrices."""
        return np.asarray((weights @ self.squared).reshape(*weights.shape[:2], 4, 4) + self.ridge)

    def solve(self, weights: FloatArray) -> FloatArray:
        """Return the numbers by least squares with the weights of the vectors, (b, k, m)."""
        side = weights @ self.sides
        return np.asarray(np.linalg.solve(self.normal(weights), side[..., np.newaxis])[..., 0])


def _best_starts(problems: _Problems, vectors: Vectors) -> FloatArray:
    """Return the best of what minimal subsets, the trusted vectors, all of them and no change give."""
    size, count = vectors.used.shape
    held, pairs = vectors.used.sum(axis=1), vectors.free.sum(axis=1) > 2
    order = np.argsort(~vectors.used, axis=1, kind="stable")
    chosen = {
        (many, paired): subsets_of(many, bool(paired))
        for many, paired in np.unique(np.column_stack([held, pairs]), axis=0).tolist()
        if many
    }
    subsets = np.zeros((size, max(map(len, chosen.values()), default=0), count))
    for (many, paired), each in chosen.items():
        alike = np.flatnonzero((held == many) & (pairs == paired))
        at = order[alike][:, each]
        subsets[alike[:, np.newaxis, np.newaxis], np.arange(len(each))[:, np.newaxis], at] = 1.0
    whole = np.stack([vectors.used, vectors.trusted], axis=1).astype(np.float64)
    solved = problems.solve(np.concatenate([subsets, whole], axis=1))
    starts = np.concatenate([solved, np.zeros((size, 1, 4))], axis=1)
    whole_density, _ = misfit(problems.squares(starts), problems.bad)
    cost = (whole_density * problems.used).sum(axis=-1)
    best = np.argsort(cost, axis=-1, kind="stable")[:, :_FOLLOWED]
    return np.take_along_axis(starts, best[..., np.newaxis], axis=1)


def _followed(problems: _Problems, values: FloatArray, small: float) -> FloatArray:
    """Follow starts to where they lead: all for some rounds, then those that still move."""
    found, moving = values.copy(), np.ones(len(values), dtype=np.bool_)
    for round_ in range(_ROUNDS):
        weights = misfit(problems.squares(values), problems.bad)[1] * problems.used
        before, values = values, problems.solve(weights)
        found[moving] = values
        still = np.abs(values - before).max(axis=(1, 2)) > _STILL * small
        if not still.any():
            break
        if round_ >= _SHRINKS and not still.all():
            moving[moving] = still
            problems, values = problems.take(still), values[still]
    return found


@lru_cache(maxsize=512)
def subsets_of(count: int, pairs: bool) -> IntArray:
    """Return a fixed choice of single vectors or of pairs of `count`, (k, 2): all where they are few.

    A single vector stands twice.

    >>> subsets_of(3, True).tolist(), subsets_of(2, False).tolist()
    ([[0, 1], [0, 2], [1, 2]], [[0, 0], [1, 1]])
    """
    if pairs and count > 1:
        first, second = np.triu_indices(count, 1)
        every = np.column_stack([first, second])
    else:
        every = np.repeat(np.arange(count), 2).reshape(-1, 2)
    if len(every) <= _STARTS:
        return every
    step = np.arange(1, _STARTS + 1)
    place = (step * _EVEN[0]) % 1.0
    if not pairs:
        return every[(place * count).astype(np.int64)]
    one = (place * count).astype(np.int64)
    other = (one + 1 + (((step * _EVEN[1]) % 1.0) * (count - 1)).astype(np.int64)) % count
    return np.column_stack([one, other])


def _price(values: FloatArray, normal: FloatArray, free: BoolArray, small: float, large: float) -> FloatArray:
    """Price of having been free; one that is hardly determined costs nothing, never less."""
    span = math.log(large / small)
    shift = np.maximum(np.hypot(values[:, 0], values[:, 1]), small)
    log_prior = np.where(free[:, 0], -np.log(2.0 * math.pi * shift**2 * (span + 0.5)), 0.0)
    slopes = -np.log(2.0 * np.maximum(np.abs(values[:, 2:]), small) * (span + 1.0))
    log_prior = log_prior + np.where(free[:, 2:], slopes, 0.0).sum(axis=1)
    logdet = np.linalg.slogdet(normal)[1]
    price = logdet - free.sum(axis=1) * math.log(2.0 * math.pi) - 2.0 * log_prior
    return np.asarray(np.where(free.any(axis=1), np.maximum(price, 0.0), 0.0))


def left_out(
    values: FloatArray, covariance: FloatArray, weight: FloatArray, columns: FloatArray, left: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return numbers and covariance of fits without one vector each, in closed form.

    The weights of the others stay. Row by row: (k, 4) numbers, their (k, 4, 4) covariance, the weight of the
    vector in the fit, its (k, 2, 4) columns and (k, 2) what the fit leaves of it.
    """
    spread = columns @ covariance
    own = np.eye(2) / np.maximum(weight, 1e-12)[:, np.newaxis, np.newaxis]
    inner = own - spread @ np.swapaxes(columns, 1, 2)
    gain = np.swapaxes(spread, 1, 2) @ np.linalg.inv(inner)
    return values - (gain @ left[..., np.newaxis])[..., 0], covariance + gain @ spread
