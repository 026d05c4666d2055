"""How crew checks compare with the survey of the same frames: the precision a crew has shown.

Only the last check of a frame is compared that did not fail, and shots of that day or later: what failed was
moved before it was tamped, and a frame that was shot before may have been. The survey has errors of its own,
so the differences are what both are off.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from linemap.domain.crew_check.tape import chi_square_limit
from linemap.domain.design.structure import FloatArray

#: Differences compared, in this order.
COMPARED = ("rotation", "along", "across", "spacing")


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One check beside the survey of its frame."""

    line: str
    structure: str
    method: str
    crew: str
    person: str
    #: Check less survey, by names of `COMPARED`: degrees, and ground units.
    apart: Mapping[str, float]
    #: Distance between the two places of each pole, from left to right, ground units.
    poles_apart: tuple[float, ...]
    #: Standard uncertainty the check had for itself, by names of `COMPARED`.
    sigmas: Mapping[str, float]


def apart_of(
    checked: Sequence[tuple[float, float]], surveyed: FloatArray
) -> tuple[dict[str, float], tuple[float, ...]]:
    """Return by how much two sets of pole centres differ, first less second.

    Parameters
    ----------
    checked : sequence of (right, ahead)
        From left to right.
    surveyed : (n, 2) ndarray
        Right and ahead of the same centre, in any order: labels may be exchanged, places are compared.

    Returns
    -------
    dict
        Of `COMPARED`: turn in degrees, centre ahead and right, distance of the outer poles.
    tuple
        The distance of each pole from its place by the survey.

    >>> apart, poles = apart_of([(-6.0, 0.0), (6.1, 0.0)], np.array([[6.0, 0.0], [-6.0, 0.0]]))
    >>> round(apart["across"], 3), round(apart["spacing"], 3), [round(each, 3) for each in poles]
    (0.05, 0.1, [0.0, 0.1])
    """
    first = np.asarray(checked, dtype=np.float64)
    second = surveyed[np.argsort(surveyed[:, 0])]

    def seen(poles: FloatArray) -> tuple[float, float, float, float]:
        arm, centre = poles[-1] - poles[0], (poles[-1] + poles[0]) / 2.0
        turn = math.degrees(math.atan2(-arm[1], arm[0]))
        return turn, float(centre[1]), float(centre[0]), float(np.hypot(*arm))

    pairs = zip(COMPARED, seen(first), seen(second), strict=True)
    apart = {name: one - other for name, one, other in pairs}
    return apart, tuple(np.hypot(*(first - second).T).tolist())


@dataclass(frozen=True, slots=True, kw_only=True)
class Precision:
    """What the checks of one crew or person have shown."""

    method: str
    crew: str
    #: "" = all of the crew.
    person: str
    count: int
    #: Root of the mean square and mean of the differences, by names of `COMPARED`.
    rms: Mapping[str, float]
    bias: Mapping[str, float]
    #: Root of the mean square of the uncertainties that the checks had for themselves.
    expected: Mapping[str, float]
    #: Root of the mean square distance of a pole from its place by the survey.
    poles_rms: float

    @property
    def rms_at_most(self) -> float:
        """How many times the rms the true one may be: 95 % of normal differences, of so many.

        >>> few = Precision(method="tape", crew="Heron", person="", count=3, rms={}, bias={}, expected={},
        ...                 poles_rms=0.0)
        >>> round(few.rms_at_most, 1)
        2.9
        """
        return math.sqrt(self.count / chi_square_limit(self.count, 0.95))


def precisions(compared: Iterable[Compared]) -> list[Precision]:
    """Return what was shown by method, crew and person, crews as a whole first."""
    groups: dict[tuple[str, str, str], list[Compared]] = {}
    for each in compared:
        groups.setdefault((each.method, each.crew, ""), []).append(each)
        if each.person:
            groups.setdefault((each.method, each.crew, each.person), []).append(each)
    return [_precision(key, group) for key, group in sorted(groups.items())]


def _precision(key: tuple[str, str, str], group: Sequence[Compared]) -> Precision:
    method, crew, person = key
    return Precision(
        method=method,
        crew=crew,
        person=person,
        count=len(group),
        rms={name: _rms(each.apart[name] for each in group) for name in COMPARED},
        bias={name: float(np.mean([each.apart[name] for each in group])) for name in COMPARED},
        expected={name: _rms(each.sigmas[name] for each in group) for name in COMPARED},
        poles_rms=_rms(apart for each in group for apart in each.poles_apart),
    )


def _rms(values: Iterable[float]) -> float:
    return float(np.sqrt(np.mean(np.square([*values]))))
