"""Shots that a person may have to say something of: what became of each, and which design poles are near."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, NamedTuple

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import FloatArray
from linemap.domain.survey.shot import Shot, ShotItem, ShotKey
from linemap.geometry.frame import ahead_right

#: "unread": the description says no item, or several. "unused": what it names is in no list. "conflicting":
#: other shots or its own place contradict it. "no pole": read as something that is not compared with poles.
ShotState = Literal["unread", "unused", "conflicting", "no pole", "set aside", "assigned"]
#: What became of a shot, for lists.
STATE_WORDS: Mapping[ShotState, str] = MappingProxyType(
    {
        "conflicting": "contradicted",
        "unused": "in no list",
        "unread": "not read",
        "no pole": "no pole",
        "set aside": "set aside",
        "assigned": "assigned",
    }
)
#: What a person may do with shots.
Deed = Literal["assign", "set aside", "take back"]
#: Whether a shot of an item names a structure, or a pole.
Needed = Literal["needed", "possible", "none"]
#: Item that a person may assign -> whether it names a structure, and a pole of it.
ASSIGNABLE: Mapping[ShotItem, tuple[Needed, Needed]] = MappingProxyType(
    {
        **dict.fromkeys(("pole", "top", "tip", "face"), ("needed", "needed")),
        **dict.fromkeys(("centre", "anchor"), ("needed", "none")),
        "hub": ("needed", "possible"),
        "ground": ("possible", "possible"),
        # a control point stands in the place of its structure
        "check": ("possible", "none"),
        "crossing": ("none", "none"),
    }
)
#: Findings of a shot whose structure or pole is in no list; others contradict a shot.
_IN_NO_LIST = frozenset({"unknown structure", "line not named", "pole not in design"})
#: Distances of so many shots are looked at together.
_AT_ONCE = 256


def state_of(counted: Shot | None, unused: Mapping[ShotKey, str], *, assigned: bool) -> ShotState | None:
    """Return what became of a shot; None where it is used as it was read.

    Parameters
    ----------
    counted : Shot or None
        The shot as the decisions that stand leave it; None = they set it aside.
    unused
        `SetPoles.unused` of all shots.
    assigned
        True when a decision that stands says what it is of.
    """
    if counted is None:
        return "set aside"
    code = unused.get(counted.key)
    if code is not None:
        return "unused" if code in _IN_NO_LIST else "conflicting"
    if assigned:
        return "assigned"
    if counted.item == "other":
        return "unread"
    return None if counted.item == "pole" else "no pole"


class NearPole(NamedTuple):
    """A pole of the design near a shot, and where the shot lies from it in the structure's own frame."""

    row: int
    #: Index into the letters of poles.
    pole: int
    #: Ground unit: level distance, ahead + and right + of the pole.
    distance: float
    ahead: float
    right: float


def near_poles(figures: Figures, at: FloatArray, count: int) -> list[tuple[NearPole, ...]]:
    """Return the design poles nearest to each of (m, 2) grid points, nearest first, at most `count` each."""
    rows, poles = np.nonzero(np.isfinite(figures.poles[:, :, 0]))
    design = figures.poles[rows, poles]
    found: list[tuple[NearPole, ...]] = []
    for first in range(0, len(at), _AT_ONCE):
        some = at[first : first + _AT_ONCE]
        apart = np.hypot(*(some[:, np.newaxis] - design).transpose(2, 0, 1))
        near = np.argpartition(apart, min(count, len(design) - 1), axis=1)[:, :count] if len(design) else ()
        for point, own, distances in zip(some, near, apart, strict=False):
            nearest = own[np.argsort(distances[own], kind="stable")]
            found.append(tuple(way_from(figures, int(rows[i]), int(poles[i]), point) for i in nearest))
    return found or [()] * len(at)


def way_from(figures: Figures, row: int, pole: int, point: FloatArray) -> NearPole:
    """Return where a grid point lies from a pole of the design."""
    moved = (point - figures.poles[row, pole]) / figures.combined_factor[row]
    ahead, right = ahead_right(moved[0], moved[1], figures.structure_azimuth_deg[row])
    return NearPole(row, pole, float(np.hypot(*moved)), float(ahead), float(right))
