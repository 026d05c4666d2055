"""A rover beside stakes and poles: how good its positions must be, how they err, and where they lie.

A rover near a base errs slowly: what it tells in a minute is off by nearly one and the same error, so that a
mean over n positions is hardly better than one of them. The noise is taken as two parts of one size, one that
is forgotten within a minute and one within a quarter of an hour; the covariance of all the means follows from
when and how long each was taken.

Lengths are in the ground unit of the line; what a receiver tells of itself is in metres. Distances are taken
on the ellipsoid: a mile above it 25 ft are 0.006 ft longer.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, Literal

import numpy as np

from linemap.domain.crew_check.pole_size import TapeErrors
from linemap.domain.crew_check.tape import chi_square_limit
from linemap.domain.design.structure import FloatArray
from linemap.geometry.uncertainty import beyond_factor, coverage_factor

Face = Literal["back", "ahead", "left", "right"]
#: Face of a pole the rover stands at -> unit vector from the pole's centre to it, right and ahead.
FACES: Mapping[Face, tuple[float, float]] = {
    "back": (0.0, -1.0),
    "ahead": (0.0, 1.0),
    "left": (-1.0, 0.0),
    "right": (1.0, 0.0),
}
#: WGS 84, for distances of a few hundred metres.
_EQUATOR_M = 6_378_137.0
_E2 = (2.0 - 1.0 / 298.257223563) / 298.257223563
_FOOT_M = 0.3048


@dataclass(frozen=True, slots=True, kw_only=True)
class RoverRule:
    """How good a position must be, and what its errors are taken to be. Common practice, no source.

    What an accuracy means is told by the circle it names: 68 % of positions lie within 1.51 sigma of the
    truth, 95 % within 2.45, and the root of the mean square distance is 1.41 sigma, sigma per axis.
    """

    #: Ground units of a metre.
    metre: float
    #: What the receiver says of its own position may be this at most, metres.
    gate_m: float = 0.03
    #: Corrections from the base older than this are no corrections, seconds.
    age_s: float = 5.0
    #: Share of the variance, and time in seconds in which that part of the noise is forgotten to 1/e.
    noise: tuple[tuple[float, float], ...] = ((0.5, 45.0), (0.5, 900.0))
    #: A stake from where it should be, per axis.
    stake: float
    #: Radius of a pole as listed, its out-of-round as one face shows it, and half the thickness of the rod.
    radius: float
    oval: float
    rod: float
    #: How well a person stands where back, ahead, left and right of a pole are.
    stance_deg: float = 8.0
    #: A stake farther from where the rover sees it is another stake, or another reference.
    shift: float
    #: The least time at one place, and positions that count in it.
    seconds: float = 20.0
    epochs: int = 10
    #: The least faces of one pole; three are asked for.
    faces: int = 2
    #: Circle an accuracy may mean -> sigmas per axis in it.
    circles: tuple[tuple[str, float], ...] = (("68 %", 1.51), ("95 %", 2.448), ("2-D rms", 1.414))

    @classmethod
    def of(cls, unit: str) -> RoverRule:
        """Return the rule of lines measured in "ft" or "m"."""
        foot, errors = _FOOT_M if unit == "m" else 1.0, TapeErrors.of(unit)
        return cls(
            metre=foot / _FOOT_M,
            stake=errors.stake,
            radius=errors.table_radius,
            oval=errors.face,
            rod=0.04 * foot,
            shift=5.0 * foot,
        )

    def to_values(self, confidence: float) -> dict[str, Any]:
        """Return all a phone needs to judge as `Solution` does, for an answer; `confidence` is the line's."""
        return {
            **{each.name: getattr(self, each.name) for each in fields(self)},
            "confidence": confidence,
            "beyond": float(beyond_factor(0.0, 1.0, confidence=confidence)),
            "coarse": float(beyond_factor(1.0, 0.0, confidence=confidence)),
            "coverage": coverage_factor(confidence),
            "chi_square": [chi_square_limit(2 * count) for count in range(1, 41)],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class RoverFix:
    """The mean of the positions that counted while the rover stood at one place."""

    #: Name of a stake, or letter of a pole.
    at: str
    #: Of a pole; "" = a stake.
    face: Face | Literal[""] = ""
    #: WGS 84 degrees, or those of the base: what they differ by is taken out with the stakes.
    longitude: float
    latitude: float
    #: When it began, seconds since the first fix did, and how long it took.
    start: float
    seconds: float
    epochs: int
    #: What the receiver said of its own position, in its own words, metres; the worst that counted.
    accuracy_m: float
    #: Standard deviation of one position per axis that follows from it, metres.
    sigma_m: float


def mean_factor(span: float, tau: float) -> float:
    """Return the variance of a mean over a time, in units of the variance of what is averaged.

    Noise whose correlation is exp(-t/tau): 2 tau/T (1 - tau/T (1 - exp(-T/tau))). The integral of the
    autocorrelation; a mean of a minute leaves 0.86 of the sigma at a tau of one minute, not 0.13.

    >>> [round(mean_factor(60.0, tau) ** 0.5, 2) for tau in (30.0, 60.0, 115.0, 900.0)]
    [0.75, 0.86, 0.92, 0.99]
    """
    x = span / tau
    return 2.0 / x * (1.0 - (1.0 - math.exp(-x)) / x)


def means_covariance(
    starts: Sequence[float], spans: Sequence[float], noise: Iterable[tuple[float, float]]
) -> FloatArray:
    """Return the covariance of means taken one after the other, of noise of variance 1.

    Two means T1 and T2 long and a gap apart share (tau/T1)(1 - exp(-T1/tau)) (tau/T2)(1 - exp(-T2/tau))
    exp(-gap/tau) of each part of the noise. Times that overlap are taken to touch.

    >>> means_covariance([0.0, 80.0], [60.0, 60.0], [(1.0, 45.0)]).round(3).tolist()
    [[0.672, 0.196], [0.196, 0.672]]
    """
    start, span = np.asarray(starts, dtype=np.float64), np.asarray(spans, dtype=np.float64)
    end = start + span
    gap = np.maximum(np.maximum(start[:, None] - end, start - end[:, None]), 0.0)
    whole = np.zeros((len(start), len(start)))
    for share, tau in noise:
        end_weight = tau / span * -np.expm1(-span / tau)
        part = np.outer(end_weight, end_weight) * np.exp(-gap / tau)
        np.fill_diagonal(part, [mean_factor(each, tau) for each in span.tolist()])
        whole += share * part
    return whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """Where the axes of a structure lie on the earth: its design centre, WGS 84, and the azimuth of ahead."""

    longitude: float
    latitude: float
    #: True, degrees.
    azimuth_deg: float

    def in_frame(self, fixes: Sequence[RoverFix], metre: float) -> FloatArray:
        """Return how far right and ahead of the centre each fix lies, (m, 2); `metre` units a metre.

        By the ellipsoid's radii of curvature at the centre.
        """
        longitude = np.radians([each.longitude - self.longitude for each in fixes])
        latitude = np.radians([each.latitude - self.latitude for each in fixes])
        here = math.radians(self.latitude)
        w = math.sqrt(1.0 - _E2 * math.sin(here) ** 2)
        east = longitude * math.cos(here) * _EQUATOR_M / w
        north = latitude * _EQUATOR_M * (1.0 - _E2) / w**3
        turn = math.radians(self.azimuth_deg)
        right = east * math.cos(turn) - north * math.sin(turn)
        ahead = east * math.sin(turn) + north * math.cos(turn)
        return np.stack([right, ahead], axis=-1) * metre
