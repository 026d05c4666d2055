"""In which line mile each row of a structure list lies, by its station or by the distance along the list.

Numbering differs by owner: miles or kilometres, the first one 0 or 1, measured by station or by true
distance. Which of these a list uses shows in the numbers a spreadsheet left alone; a way of counting is
heeded only when nine rows of ten agree with it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np

from linemap.domain.design.number import StructureNumber
from linemap.domain.design.structure import FloatArray
from linemap.geometry.station import parse_station
from linemap.units import LengthUnit

__all__ = ["distance_along", "mile_candidates", "station_values"]

#: Stations and true distances differ by the station equations, so a row this near a mile's end may lie in
#: either mile; share of a mile. Common practice, no source.
_NEAR_END = 0.1
_AGREE = 0.9
_LENGTHS_M = (1609.344, 1000.0)


def station_values(texts: Sequence[str], *, unit: LengthUnit) -> FloatArray:
    """Return stations as numbers, nan where blank or no station.

    >>> station_values(["118+40", "10+73.5 BK", "", "see dwg"], unit=LengthUnit.FOOT).tolist()
    [11840.0, 1073.5, nan, nan]
    """
    return np.array([_station(text, 1000 if unit is LengthUnit.METRE else 100) for text in texts])


def _station(text: str, per_plus: int) -> float:
    if not text:
        return math.nan
    try:
        return parse_station(text, per_plus=per_plus).value
    except ValueError:
        return math.nan


def distance_along(easting: FloatArray, northing: FloatArray) -> FloatArray:
    """Return the distance of each row from the first along the list; nan where it has no coordinates.

    >>> distance_along(np.array([0.0, np.nan, 3.0]), np.array([0.0, 0.0, 4.0])).tolist()
    [0.0, nan, 5.0]
    """
    along = np.full(len(easting), np.nan)
    good = np.flatnonzero(np.isfinite(easting + northing))
    if len(good):
        steps = np.hypot(np.diff(easting[good]), np.diff(northing[good]))
        along[good] = np.concatenate([[0.0], np.cumsum(steps)])
    return along


def mile_candidates(
    distance: FloatArray, choices: Mapping[int, Sequence[str]], *, unit: LengthUnit
) -> dict[int, frozenset[int]]:
    """Return row index -> miles the row may lie in, empty when no way of counting agrees with the list.

    Parameters
    ----------
    distance : (n,) ndarray
        Stations, or distances along the list, in `unit`; nan where not known.
    choices : mapping
        Row index -> the numbers it may have: one where it is known.
    unit : LengthUnit

    >>> mile_candidates(np.array([0.0, 6000.0]), {0: ["1/1"], 1: ["2/1", "1/2"]}, unit=LengthUnit.FOOT)
    {0: frozenset({0, 1}), 1: frozenset({2})}
    """
    rows = [index for index in choices if math.isfinite(distance[index]) and distance[index] >= 0.0]
    own = {index: _miles(choices[index]) for index in rows}
    rows = [index for index in rows if own[index]]
    found: dict[int, set[int]] = {}
    for metres, first in product(_LENGTHS_M, (1, 0)):
        length = metres / unit.metres
        miles = {index: _near(float(distance[index]) / length, first) for index in rows}
        agree = sum(not own[index].isdisjoint(miles[index]) for index in rows)
        if rows and agree >= _AGREE * len(rows):
            for index in rows:
                found.setdefault(index, set()).update(miles[index])
    return {index: frozenset(miles) for index, miles in found.items()}


def _near(miles: float, first: int) -> set[int]:
    return {first + math.floor(miles - _NEAR_END), first + math.floor(miles + _NEAR_END)}


def _miles(numbers: Sequence[str]) -> set[int]:
    parsed = (StructureNumber.parse(number) for number in numbers)
    return {number.mile for number in parsed if number.mile is not None}
