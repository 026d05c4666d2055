"""The normal distribution: how much of it lies below a number of sigmas.

The standard library has the error function for one number at a time. scipy has it for arrays, but bringing
scipy in takes longer than a whole computation of a hundred structures; so the function stands here.
Source: W. J. Cody, "Rational Chebyshev approximations for the error function", Mathematics of Computation 23
(1969) 631-637, in the coefficients of netlib's CALERF.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["normal_below"]

FloatArray = NDArray[np.float64]

_NEAR, _FAR = 0.46875, 4.0
"""Borders of Cody's three ranges of |x|."""
_NOTHING_LEFT = 40.0
"""Beyond it the tail is no number above 0."""
#: Numerator and denominator of each range, from the highest power down; both with one power more in front.
_ERF: Final = (
    (1.85777706184603153e-1, 3.16112374387056560e0, 1.13864154151050156e2, 3.77485237685302021e2,
     3.20937758913846947e3),
    (1.0, 2.36012909523441209e1, 2.44024637934444173e2, 1.28261652607737228e3, 2.84423683343917062e3),
)  # fmt: skip
_ERFC: Final = (
    (2.15311535474403846e-8, 5.64188496988670089e-1, 8.88314979438837594e0, 6.61191906371416295e1,
     2.98635138197400131e2, 8.81952221241769090e2, 1.71204761263407058e3, 2.05107837782607147e3,
     1.23033935479799725e3),
    (1.0, 1.57449261107098347e1, 1.17693950891312499e2, 5.37181101862009858e2, 1.62138957456669019e3,
     3.29079923573345963e3, 4.36261909014324716e3, 3.43936767414372164e3, 1.23033935480374942e3),
)  # fmt: skip
_ERFC_FAR: Final = (
    (1.63153871373020978e-2, 3.05326634961232344e-1, 3.60344899949804439e-1, 1.25781726111229246e-1,
     1.60837851487422766e-2, 6.58749161529837803e-4),
    (1.0, 2.56852019228982242e0, 1.87295284992346725e0, 5.27905102951428412e-1, 6.05183413124413191e-2,
     2.33520497626869185e-3),
)  # fmt: skip


def normal_below(sigmas: ArrayLike) -> FloatArray:
    """Probability that a standard normal number is at most `sigmas`: Phi, to the last digit or two.

    Far below the mean it keeps its relative precision, to 12 digits; nan stays nan.

    >>> normal_below([-1.959964, 0.0, 1.0]).round(6).tolist()
    [0.025, 0.5, 0.841345]
    """
    given = np.atleast_1d(np.asarray(sigmas, dtype=np.float64))
    x = np.minimum(np.abs(given) / math.sqrt(2.0), _NOTHING_LEFT)
    below = np.full(x.shape, np.nan)
    for inside, tail in (
        (x <= _NEAR, _near_tail),
        ((x > _NEAR) & (x <= _FAR), _middle_tail),
        (x > _FAR, _far_tail),
    ):
        if inside.all():
            below = tail(x)
        elif inside.any():
            below[inside] = tail(x[inside])
    above = given > 0.0
    np.subtract(1.0, below, out=below, where=above)
    return below.reshape(np.shape(sigmas))


def _near_tail(x: FloatArray) -> FloatArray:
    return 0.5 - 0.5 * x * _ratio(_ERF, x * x)


def _middle_tail(x: FloatArray) -> FloatArray:
    return 0.5 * np.exp(-x * x) * _ratio(_ERFC, x)


def _far_tail(x: FloatArray) -> FloatArray:
    inverse = 1.0 / (x * x)
    series = (1.0 / math.sqrt(math.pi) - inverse * _ratio(_ERFC_FAR, inverse)) / x
    return 0.5 * np.exp(-x * x) * series


def _ratio(coefficients: tuple[tuple[float, ...], tuple[float, ...]], x: FloatArray) -> FloatArray:
    """Quotient of two polynomials, by Horner's rule."""
    top, bottom = (_polynomial(some, x) for some in coefficients)
    top /= bottom
    return top


def _polynomial(coefficients: tuple[float, ...], x: FloatArray) -> FloatArray:
    value = np.full(x.shape, coefficients[0])
    for coefficient in coefficients[1:]:
        value *= x
        value += coefficient
    return value
