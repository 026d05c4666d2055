"""The normal distribution: how much of it lies below a number of sigmas, by the standard library's function.

scipy has the same for arrays, but bringing scipy in takes longer than a whole computation of a hundred
structures, and saves 0.1 microsecond a number.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["normal_below"]


def normal_below(sigmas: ArrayLike) -> NDArray[np.float64]:
    """Probability that a standard normal number is at most `sigmas`: Phi, to the last digit or two.

    Far below the mean it keeps its relative precision; nan stays nan.

    >>> normal_below([-1.959964, 0.0, 1.0]).round(6).tolist()
    [0.025, 0.5, 0.841345]
    """
    given = np.asarray(sigmas, dtype=np.float64) / -math.sqrt(2.0)
    twice = np.fromiter(map(math.erfc, given.ravel().tolist()), np.float64, given.size)
    return 0.5 * twice.reshape(given.shape)
