"""Readings of a tape around a frame, and the poles they put where: generalised least squares.

A reading is the shortest level distance from a stake to the near face of a pole, or between the faces of two
poles. Its errors are those of the tape, of the stake (the same for all readings from it), of the radius (the
same for all readings to a pole) and of the face of a pole that is not round. Four Gauss-Newton steps from the
design; a wide prior keeps what no reading holds open instead of singular. Redundancy numbers after Baarda
(1968): how much of a mistake in a reading shows in its own residual, 0 = none of it ever does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np

from linemap.domain.crew_check.frame import FrameDesign, Gate
from linemap.domain.crew_check.pole_size import TapeErrors
from linemap.domain.design.structure import FloatArray, IntArray

#: From a stake, by its name, or a pole, by its letter, to a pole.
Reading = tuple[str, str]
StakeWay = Literal["BK", "AH", "L", "R"]
_STEPS = 4
#: How often readings without a mistake contradict each other by chance.
CONTRADICTS = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Stake:
    """One offset stake in the frame's axes."""

    #: What its lath says behind the structure: "A OS25BK".
    name: str
    #: Pole it belongs to; "" = the centre.
    pole: str
    way: StakeWay
    #: How far out it stands, as its name says.
    distance: float
    right: float
    ahead: float


@dataclass(frozen=True, eq=False)
class Solution:
    """Where readings put the poles of many frames."""

    #: (frames, poles, 2).
    poles: FloatArray
    #: (frames, quantities).
    quantities: FloatArray
    #: Weighted sum of squared residuals, (frames,).
    chi_square: FloatArray


@dataclass(frozen=True, eq=False)
class TapeSet:
    """One set of readings of a frame, with what it can tell."""

    design: FrameDesign
    stakes: tuple[Stake, ...]
    readings: tuple[Reading, ...]
    errors: TapeErrors
    #: True where girths were taped, pole by pole from left to right.
    girths: tuple[bool, ...]

    def predicted(self, poles: FloatArray, radii: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what would be read, (frames, readings), with its derivatives by the pole coordinates.

        `poles` is (frames, n, 2), `radii` (n,) or (frames, n).
        """
        first, last = self._ends
        start = np.where((first >= 0)[:, None], poles[:, first], self._starts)
        way = poles[:, last] - start
        length = np.hypot(way[..., 0], way[..., 1])
        unit = way / length[..., None]
        thick = radii[..., last] + np.where(first >= 0, radii[..., first], 0.0)
        slopes = np.zeros((*length.shape, len(self.design.letters), 2))
        rows = np.arange(len(self.readings))
        slopes[:, rows, last] = unit
        between = np.flatnonzero(first >= 0)
        slopes[:, between, first[between]] = -unit[:, between]
        return length - thick, slopes.reshape(*length.shape, -1)

    @cached_property
    def _ends(self) -> tuple[IntArray, IntArray]:
        """Return the pole each reading begins at, -1 = a stake, and the pole it ends at, from the left."""
        first = [self.design.letters.find(start) for start, _ in self.readings]
        last = [self.design.letters.index(end) for _, end in self.readings]
        return np.array(first, dtype=np.int64), np.array(last, dtype=np.int64)

    @cached_property
    def _starts(self) -> FloatArray:
        """Return where readings begin at a stake, (readings, 2); nan where at a pole."""
        places = {stake.name: (stake.right, stake.ahead) for stake in self.stakes}
        nowhere = (math.nan, math.nan)
        return np.array([places.get(start, nowhere) for start, _ in self.readings], dtype=np.float64)

    @cached_property
    def slopes(self) -> FloatArray:
        """What each reading gains by each pole coordinate, at the design; (readings, 2 n)."""
        return np.asarray(self.predicted(self.design.poles[None], np.zeros(len(self.design.letters)))[1][0])

    @cached_property
    def covariance(self) -> FloatArray:
        """Covariance of the readings."""
        first, last = self._ends
        errors, same = self.errors, [start for start, _ in self.readings]
        unit = self.slopes.reshape(len(same), -1, 2)[np.arange(len(same)), last]
        shared = np.array(
            [[one == other and one not in self.design.letters for one in same] for other in same]
        )
        touched = np.zeros((len(same), len(self.design.letters)))
        touched[np.arange(len(same)), last] -= 1.0
        between = np.flatnonzero(first >= 0)
        touched[between, first[between]] -= 1.0
        radius = np.where(self.girths, errors.girth_radius, errors.table_radius)
        faces = np.abs(touched).sum(axis=1)
        found = np.diag(errors.tape**2 + faces * errors.face**2)
        found += errors.stake**2 * np.where(shared, unit @ unit.T, 0.0)
        return np.asarray(found + (touched * radius**2) @ touched.T)

    @cached_property
    def weights(self) -> FloatArray:
        """Inverse of the covariance of the readings."""
        return np.asarray(np.linalg.inv(self.covariance))

    @cached_property
    def _of_poles(self) -> FloatArray:
        """Covariance of the pole coordinates."""
        normal = self.slopes.T @ self.weights @ self.slopes
        return np.asarray(np.linalg.inv(normal + np.eye(len(normal)) / self.errors.pole**2))

    @cached_property
    def sigmas(self) -> FloatArray:
        """Standard uncertainties of the quantities."""
        jacobian = self.design.jacobian
        return np.sqrt(np.diag(jacobian @ self._of_poles @ jacobian.T))

    @cached_property
    def gates(self) -> tuple[Gate, ...]:
        """Gates of the quantities."""
        return self.design.gates(self.sigmas)

    @property
    def worst(self) -> float:
        """Share of its tolerance that 1.96 sigma takes, of the worst quantity; above 1 nothing is proved."""
        return float(np.max(1.96 * self.sigmas / np.array(self.design.limits)))

    @cached_property
    def redundancy(self) -> FloatArray:
        """Return for each reading how much of a mistake in it shows, 0 to 1."""
        told = self.slopes @ self._of_poles @ self.slopes.T @ self.weights
        return np.asarray(1.0 - np.diag(told))

    @property
    def spare(self) -> int:
        """Readings beyond those that place the poles; of a set that does not place them, 0."""
        return max(len(self.readings) - int(np.linalg.matrix_rank(self.slopes, tol=1e-6)), 0)

    def expected(self, radii: Sequence[float] | FloatArray) -> FloatArray:
        """Return what is read of a frame that stands as designed."""
        told, _ = self.predicted(self.design.poles[None], np.asarray(radii, dtype=np.float64))
        return np.asarray(told[0])

    def solve(self, readings: FloatArray, radii: Sequence[float] | FloatArray) -> Solution:
        """Return where readings, (frames, readings), put the poles."""
        thick, design, prior = (
            np.asarray(radii, dtype=np.float64),
            self.design.poles,
            1.0 / self.errors.pole**2,
        )
        poles = np.repeat(design[None], len(readings), axis=0)
        for _ in range(_STEPS):
            told, slopes = self.predicted(poles, thick)
            weighed = np.swapaxes(slopes, 1, 2) @ self.weights
            normal = weighed @ slopes + prior * np.eye(design.size)
            pull = weighed @ (readings - told)[..., None]
            pull -= prior * (poles - design).reshape(len(poles), -1, 1)
            poles = poles + np.linalg.solve(normal, pull).reshape(poles.shape)
        left = readings - self.predicted(poles, thick)[0]
        chi_square = np.einsum("ni,ij,nj->n", left, self.weights, left)
        return Solution(poles=poles, quantities=self.design.quantities(poles), chi_square=chi_square)

    @property
    def zones(self) -> FloatArray:
        """How far off each reading of a frame in tolerance may be: surely and at most, (readings, 2).

        Each quantity at its gate at once, to the worse side.
        """
        per_quantity = np.abs(self.slopes @ np.linalg.pinv(self.design.jacobian))
        held = [(max(gate.pass_to, 0.0), gate.fail_from) for gate in self.gates]
        return np.asarray(per_quantity @ np.array(held))


@lru_cache(maxsize=64)
def chi_square_limit(spare: int, share: float = CONTRADICTS) -> float:
    """Return what a chi-square of `spare` degrees of freedom, 1 or more, exceeds with probability `share`.

    >>> round(chi_square_limit(3), 3), round(chi_square_limit(1, 0.05), 3)
    (16.266, 3.841)
    """
    low, high = 0.0, 1000.0
    while (middle := 0.5 * (low + high)) not in (low, high):
        low, high = (middle, high) if _chi_square_above(middle, spare) > share else (low, middle)
    return middle


def _chi_square_above(value: float, spare: int) -> float:
    """Probability of a larger chi-square (Abramowitz and Stegun 26.4.4 and 26.4.5)."""
    half = value / 2.0
    term = math.exp(-half) if spare % 2 == 0 else math.exp(-half) * math.sqrt(half / math.pi) * 2.0
    found, power = (0.0, 0.0) if spare % 2 == 0 else (math.erfc(math.sqrt(half)), 0.5)
    while power < spare / 2.0 - 1e-9:
        found += term
        power += 1.0
        term *= half / power
    return found
