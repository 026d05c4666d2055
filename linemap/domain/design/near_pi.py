"""Structures that stand beside a PI, farther from it than surveying and rounding explain.

Such a structure may have been located off its PI, or stand on a tangent. The turn of its spans, the angle its
list gives, and whether it has a foot on both legs of the corner are asked: where they agree it takes the PI,
where they do not nobody can tell which way it faces. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.structure import BoolArray, FloatArray, IntArray, ObjectArray
from linemap.geometry.bearing import parse_deflection
from linemap.geometry.locate import Located, Locator
from linemap.geometry.segments import Points
from linemap.geometry.sexagesimal import AmbiguousAngle

#: A structure is asked about when it is nearer to a PI than this share of its shorter span.
_REACH = 0.1
#: A PI that turns less changes where an arm points by less than half a degree, and asks for nothing.
_LEAST_TURN_DEG = 1.0
#: A list gives angles to the minute, or half a degree.
_LISTED_DEG = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class NearPis:
    """Columns of all structures; -1, nan and False where no PI is near."""

    vertex: IntArray
    #: Grid length.
    apart: FloatArray
    turn_deg: FloatArray
    in_question: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What is known of structures in line order beside where they stand."""

    #: Grid lengths; nan at the ends of a line.
    back_span: FloatArray
    ahead_span: FloatArray
    span_turn_deg: FloatArray
    #: Line angles as written in the list, "" = none.
    listed: ObjectArray
    #: True where the list says itself which way the arm points.
    explicit: BoolArray


def take_pis(locator: Locator, points: Points, located: Located, known: Evidence) -> NearPis:
    """Give structures near a PI, beyond the usual snap, that PI where all that is known agrees.

    Looked at are those nearer than a tenth of their shorter span to a PI that turns a degree or more and has
    no structure. Span turn and list angle count where there is one; one of them, and the feet, must speak for
    the PI and nothing against it. `located` is changed in place.

    Returns
    -------
    NearPis
        The PI of every structure that was looked at and has anything to speak for it; `in_question` where
        it was not taken.
    """
    corner, apart = locator.nearest_pi(points, located)
    turn = np.where(corner >= 0, locator.segments.deflection_deg[corner], np.nan)
    shorter = np.fmin(known.back_span, known.ahead_span)
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero(
            ~located.at_pi & ~known.explicit & (apart <= _REACH * shorter) & (np.abs(turn) >= _LEAST_TURN_DEG)
        )
    rows = _one_a_pi(rows, corner, apart, located, locator)
    span, listed = _of_spans(rows, turn, apart, known), _of_list(rows, turn, known.listed)
    feet = _has_both_feet(locator, points, rows, corner[rows])
    agreed = feet & ((span == 1) | (listed == 1)) & (span >= 0) & (listed >= 0)
    asked = feet | (span == 1) | (listed == 1)
    locator.put_at_pi(points, located, rows[agreed], corner[rows[agreed]])
    near = rows[asked]
    return NearPis(
        vertex=_spread(near, locator.segments.vertex[corner[near]], -1, len(corner)),
        apart=_spread(near, apart[near], np.nan, len(corner)),
        turn_deg=_spread(near, turn[near], np.nan, len(corner)),
        in_question=_spread(rows, asked & ~agreed, False, len(corner)),
    )


def _one_a_pi(
    rows: IntArray, corner: IntArray, apart: FloatArray, located: Located, locator: Locator
) -> IntArray:
    """Leave the nearest row of each PI, and none of a PI that has its structure."""
    free = rows[~np.isin(locator.segments.vertex[corner[rows]], located.pi_vertex[located.at_pi])]
    nearest = free[np.lexsort((apart[free], corner[free]))]
    return np.sort(nearest[np.diff(corner[nearest], prepend=-1) != 0])


def _of_spans(rows: IntArray, turn: FloatArray, apart: FloatArray, known: Evidence) -> IntArray:
    """Say 1 where the spans turn as the PI does, -1 where they do not, 0 at a line's end.

    A centre off its PI turns each span by its distance over the span, and no PI by half of what it turns.
    """
    slack = np.degrees(apart[rows] / known.back_span[rows] + apart[rows] / known.ahead_span[rows])
    difference = np.abs(known.span_turn_deg[rows] - turn[rows])
    with np.errstate(invalid="ignore"):
        alike = difference <= np.minimum(slack, np.abs(turn[rows]) / 2.0)
    return np.where(np.isnan(difference), 0, np.where(alike, 1, -1))


def _of_list(rows: IntArray, turn: FloatArray, listed: ObjectArray) -> IntArray:
    """Say 1 where the list gives the angle of the PI, -1 where it gives another, 0 where it gives none."""
    return np.array([_vote(str(listed[row]), float(turn[row])) for row in rows], dtype=np.int64)


def _vote(text: str, turn_deg: float) -> int:
    if not text.strip():
        return 0
    try:
        readings = [parse_deflection(text)]
    except AmbiguousAngle as doubt:
        readings = [doubt.packed_deg, doubt.decimal_deg]
    except ValueError:
        return 0
    return 1 if any(abs(each - turn_deg) <= _LISTED_DEG for each in readings) else -1


def _has_both_feet(locator: Locator, points: Points, rows: IntArray, corner: IntArray) -> BoolArray:
    """Say where a point has a foot on both legs of a corner, or lies in the wedge outside where it has none.

    A point on one leg, however near to the corner, has its foot there alone.
    """
    segments = locator.segments
    east = points.easting[rows] - segments.easting[corner]
    north = points.northing[rows] - segments.northing[corner]
    on_back = -(east * segments.east[corner - 1] + north * segments.north[corner - 1])
    on_ahead = east * segments.east[corner] + north * segments.north[corner]
    return np.asarray(on_back * on_ahead > 0.0)


def _spread(rows: IntArray, values: NDArray[Any], otherwise: float, size: int) -> NDArray[Any]:
    column = np.full(size, otherwise, dtype=values.dtype)
    column[rows] = values
    return column
