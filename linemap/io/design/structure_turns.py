"""Line angles of a structure list, compared with the turns between the structure centres."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from linemap.domain.design.structure import FloatArray
from linemap.geometry.bearing import azimuth_deg, deflection_deg
from linemap.io.cells.angles import compare_deflection
from linemap.io.cells.sheet import Ledger

__all__ = ["compare_angles", "turns_between"]

#: Centres rounded to a foot turn a span of 1,000 ft by 0.06 degrees.
_WITHIN_DEG = 0.1


def turns_between(easting: FloatArray, northing: FloatArray) -> FloatArray:
    """Return the turn at each point between its neighbours, right positive; nan at both ends.

    >>> turns_between(np.array([0.0, 0.0, 5.0]), np.array([0.0, 5.0, 5.0])).tolist()
    [nan, 90.0, nan]
    """
    turns = np.full(len(easting), np.nan)
    if len(easting) > 2:
        azimuth = azimuth_deg(np.diff(easting), np.diff(northing))
        turns[1:-1] = deflection_deg(azimuth[:-1], azimuth[1:])
    return turns


def compare_angles(ledger: Ledger, lines: Sequence[str], easting: FloatArray, northing: FloatArray) -> None:
    """Note every line angle that disagrees with the centres or can be read two ways; none is used.

    Rows stand in line order; an angle that fits the row before or after it is said to stand a row off.
    """
    if ledger.sheet.column("deflection") is None:
        return
    texts = dict(ledger.written("deflection"))
    if not texts:
        return
    by_line: dict[str, list[int]] = {}
    for index in ledger.kept():
        by_line.setdefault(lines[index], []).append(index)
    for rows in by_line.values():
        turns = turns_between(easting[rows], northing[rows]).tolist()
        for place, index in enumerate(rows):
            text = texts.get(index, "")
            words = compare_deflection(text, turns[place], within_deg=_WITHIN_DEG) if text else ""
            if words:
                ledger.note(index, "deflection", _a_row_off(words, texts[index], turns, place))


def _a_row_off(words: str, text: str, turns: Sequence[float], place: int) -> str:
    for other, where in ((place - 1, "before"), (place + 1, "after")):
        inside = 0 < other < len(turns) - 1
        if inside and abs(turns[other]) > _WITHIN_DEG and abs(turns[place]) <= _WITHIN_DEG:
            said = compare_deflection(text, turns[other], within_deg=_WITHIN_DEG)
            if not said or "the coordinates say the" in said:
                return f"{words}; it fits the structure in the row {where}"
    return words
