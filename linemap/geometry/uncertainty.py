"""How sure a measured orientation is: standard uncertainties, and the probability of being in tolerance.

Everything is first order (JCGM 100:2008, 5.2): with v the vector from the first outer pole to the last,
d its length, e its unit vector and t the unit vector square to it,

    d(rotation) = t·(dLast - dFirst) / d
    d(spacing) = e·(dLast - dFirst)
    d(centre) = (dFirst + dLast) / 2

so an error common to both poles (base station, localisation) stays in the centre and cancels in rotation
and spacing. The decision follows JCGM 106:2012, clause 7: the probability that the true value lies within
the tolerance, given a normal measurement result and no prior knowledge.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Farther below the mean erfc loses digits, and the series has all of them.
_FAR = -35.0


def normal_below(sigmas: ArrayLike) -> NDArray[np.float64]:
    """Probability that a standard normal number is at most `sigmas`: Phi, to the last digit or two.

    Far below the mean it keeps its relative precision; nan stays nan.

    >>> normal_below([-1.959964, 0.0, 1.0]).round(6).tolist()
    [0.025, 0.5, 0.841345]
    """
    given = np.asarray(sigmas, dtype=np.float64) / -math.sqrt(2.0)
    twice = np.fromiter(map(math.erfc, given.ravel().tolist()), np.float64, given.size)
    return 0.5 * twice.reshape(given.shape)


def log_normal_below(sigmas: ArrayLike) -> NDArray[np.float64]:
    """Natural logarithm of `normal_below`, also where that is too small for a number.

    Farther than 35 sigmas below the mean by the asymptotic series (Abramowitz and Stegun 26.2.12).

    >>> log_normal_below([-50.0, -5.0, 0.0]).round(6).tolist()
    [-1254.831361, -15.064998, -0.693147]
    """
    given = np.asarray(sigmas, dtype=np.float64)
    far = np.minimum(given, _FAR)
    part = 1.0 / far**2
    series = 1.0 - part * (1.0 - 3.0 * part * (1.0 - 5.0 * part * (1.0 - 7.0 * part)))
    tail = -0.5 * far**2 - np.log(-far * math.sqrt(2.0 * math.pi)) + np.log(series)
    return np.asarray(np.where(given < _FAR, tail, np.log(normal_below(np.maximum(given, _FAR)))))


def log_normal_between(low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return log(Phi(high) - Phi(low)) without losing the tails: turned to the lower one first."""
    upper = low + high > 0.0
    low, high = np.where(upper, -high, low), np.where(upper, -low, high)
    near = normal_below(high) - normal_below(low)
    upto, below = log_normal_below(high), log_normal_below(low)
    tail = upto + np.log1p(-np.exp(np.minimum(below - upto, 0.0)))
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(near > 1e-6, np.log(near), tail), dtype=np.float64)


_SURE = 8.3
"""Sigmas from which a normal distribution's tail is lost in rounding: 1 - 5.2e-17 is 1."""


def rotation_sigma_deg(
    sigma_a: ArrayLike, sigma_b: ArrayLike, *, distance: ArrayLike, rotation_deg: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """Return the standard uncertainty of the rotation, in degrees; the design is taken as exact.

    sqrt(sigma_a² + sigma_b²) / distance: first order, good while sigma is small against the distance of the
    two outer poles. Where it is not (above 5°) only how far one pole stands ahead of the other, distance x
    sin(rotation), is normal still: the sigma is made so much larger as the arc of `rotation_deg` is than its
    sine, or a survey that can hardly tell the poles apart would find them turned. The sigmas are the random
    ones per axis, without the error common to both, which cancels.
    Distance zero gives nan: two poles in one place have no direction.

    >>> rotation_sigma_deg(0.03, 0.03, distance=12.5).round(3).item()
    0.194
    """
    distance = np.asarray(distance, dtype=np.float64)
    baseline = np.where(distance > 0.0, distance, np.nan)
    sigma = np.degrees(spacing_sigma(sigma_a, sigma_b) / baseline)
    return np.where(sigma > _FIRST_ORDER_DEG, sigma / np.sinc(np.asarray(rotation_deg) / 180.0), sigma)


_FIRST_ORDER_DEG = 5.0
"""Sigma of a rotation up to which first order is good to half a percent."""


def spacing_sigma(sigma_a: ArrayLike, sigma_b: ArrayLike) -> NDArray[np.float64]:
    """Return the standard uncertainty of a distance between two poles, in the unit of the sigmas.

    An error common to both poles cancels and must be left out. nan where either is nan.

    >>> spacing_sigma(0.03, 0.04).item()
    0.05
    """
    return np.asarray(np.hypot(sigma_a, sigma_b), dtype=np.float64)


def centre_sigma(sigma_a: ArrayLike, sigma_b: ArrayLike, *, common: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Return the standard uncertainty per axis (along, and across) of the midpoint of two poles.

    All are per axis: what is random at each pole, and the error common to both, which does not average out.

    >>> centre_sigma(0.06, 0.08, common=0.12).round(6).item()
    0.13
    """
    return np.asarray(np.hypot(np.hypot(sigma_a, sigma_b) / 2.0, common), dtype=np.float64)


def probability_inside(value: ArrayLike, sigma: ArrayLike, tolerance: ArrayLike) -> NDArray[np.float64]:
    """Return the probability that the true value lies within ±`tolerance`, half the permitted interval.

    `value` is the measured deviation, whose sign does not matter, `sigma` its standard uncertainty. Zero
    means exact: the answer is then 0 or 1, and 1 at the limit itself. A negative sigma or tolerance raises
    ValueError.

    Phi((T - y) / u) - Phi((-T - y) / u): JCGM 106:2012, 7.4 (two-sided interval, normal distribution).

    >>> probability_inside([0.3, 0.8, 1.6], 0.3025, 1.0).round(4).tolist()
    [0.9897, 0.7457, 0.0237]
    """
    size, spread, limit = np.abs(value), np.asarray(sigma, dtype=np.float64), np.asarray(tolerance)
    _refuse_negative(sigma=spread, tolerance=limit)
    exact = spread == 0.0
    scale = np.where(exact, 1.0, spread)
    inside = _normal_inside((limit - size) / scale, (limit + size) / scale)
    certain = np.where(np.isnan(size) | np.isnan(limit), np.nan, size <= limit)
    return np.where(exact, certain, inside)


@lru_cache(maxsize=8192)
def largest_inside(sigma: float, tolerance: float, confidence: float = 0.95) -> float:
    """Return the largest size of a reading that lies inside ±`tolerance` with confidence.

    The inverse of `probability_inside`; -1 where not even a reading of zero does. Sizes are above 0.

    >>> round(largest_inside(0.25, 1.0), 4), largest_inside(0.6, 1.0)
    (0.5888, -1.0)
    """

    def is_inside(size: float) -> bool:
        near, far = ((tolerance + way * size) / sigma / math.sqrt(2.0) for way in (-1.0, 1.0))
        return 0.5 * (math.erfc(-near) - math.erfc(far)) >= confidence

    if not is_inside(0.0):
        return -1.0
    low, high = 0.0, tolerance
    while (middle := 0.5 * (low + high)) not in (low, high):
        low, high = (middle, high) if is_inside(middle) else (low, middle)
    return low


def _normal_inside(to_near: NDArray[np.float64], to_far: NDArray[np.float64]) -> NDArray[np.float64]:
    """Probability of lying between the near limit and the far one, so many sigmas away on either side.

    From `_SURE` sigmas on it is 1 to the last digit. That is most frames, and the function takes long.
    """
    near, far = np.asarray(to_near), np.asarray(to_far)
    unsure = ~(near >= _SURE)  # nan is not sure
    inside = np.ones(near.shape)
    inside[unsure] = normal_below(near[unsure]) - normal_below(-far[unsure])
    return inside


@lru_cache(maxsize=64)
def coverage_factor(confidence: float = 0.95) -> float:
    """Return k such that ±k sigma holds `confidence`, between 0 and 1, of a normal distribution.

    The largest sigma with which a tolerance T can be proven, even by a reading of zero, is T / k.

    >>> round(coverage_factor(), 6)
    1.959964
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence {confidence} is not between 0 and 1; give a probability such as 0.95")
    low, high = 0.0, 40.0
    while (middle := 0.5 * (low + high)) not in (low, high):
        inside = 1.0 - math.erfc(middle / math.sqrt(2.0))
        low, high = (middle, high) if inside < confidence else (low, middle)
    return middle


def beyond_factor(sigma: ArrayLike, tolerance: ArrayLike, *, confidence: float = 0.95) -> NDArray[np.float64]:
    """Return how many sigmas beyond the tolerance a reading must lie before it tells that the value does.

    One side is asked for, with `confidence`: a survey far too coarse for the tolerance makes the probability
    of lying inside small whatever it reads. One that could not prove the tolerance by a reading of zero
    (sigma above tolerance / `coverage_factor`) is asked for 3.3 sigmas: it reads far beyond the tolerance
    wherever the value lies, and with the usual 1.645 would fail every tenth that is right.

    >>> beyond_factor([0.1, 5.0], 1.0).round(3).tolist()
    [1.645, 3.3]
    """
    coarse = np.asarray(tolerance) < coverage_factor(confidence) * np.asarray(sigma)
    one_side = coverage_factor(2.0 * confidence - 1.0)
    return np.where(coarse, max(_COARSE, one_side), one_side)


_COARSE = 3.3
"""Sigmas that a reading strays farther than by chance once in a thousand: common practice, no source."""


def _refuse_negative(*, sigma: NDArray[np.float64], tolerance: NDArray[np.float64]) -> None:
    for name, values in (("sigma", sigma), ("tolerance", tolerance)):
        if np.any(values < 0.0):
            raise ValueError(f"{name} {np.nanmin(values)} is negative; give a size, zero or more")
