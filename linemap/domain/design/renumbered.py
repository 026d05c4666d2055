"""Structures that a new list gives another number.

A structure is known by where it stands: where a new list has another number, it is that structure. Whatever
was recorded under the old number follows it there.
"""

from __future__ import annotations

import numpy as np
import shapely

from linemap.domain.design.structure import Structures
from linemap.units import LengthUnit

#: Structures nearer than this to where another number stood are that one under a new number, metres.
SAME_PLACE_M = 0.3


def renumbered(old: Structures, new: Structures, unit: LengthUnit) -> dict[str, str]:
    """Return old -> new number of what stands where another number stood, both lists of one line.

    Places that several structures of one list share tell nothing.

    >>> before = Structures.from_columns(number=["1", "2"], easting=[0.0, 600.0], northing=[0.0, 0.0])
    >>> after = Structures.from_columns(number=["2", "3"], easting=[0.0, 600.0], northing=[0.0, 0.0])
    >>> renumbered(before, after, LengthUnit.FOOT)
    {'1': '2', '2': '3'}
    """
    known = [np.flatnonzero(np.isfinite(each.easting + each.northing)) for each in (old, new)]
    if not (len(known[0]) and len(known[1])):
        return {}
    was, now = (
        np.asarray(shapely.points(each.easting[rows], each.northing[rows]))
        for each, rows in zip((old, new), known, strict=True)
    )
    pairs = shapely.STRtree(now).query(was, predicate="dwithin", distance=SAME_PLACE_M / unit.metres)
    lonely = [np.bincount(side, minlength=1) for side in pairs]
    return {
        str(old.number[known[0][one]]): str(new.number[known[1][other]])
        for one, other in pairs.T.tolist()
        if lonely[0][one] == lonely[1][other] == 1
        and old.number[known[0][one]] != new.number[known[1][other]]
    }
