"""Is the phone at the structure it records? A fix can tell structures apart, never the poles of one.

Consumer receivers are good to about 3 to 15 m in the open; spans are some hundred metres, poles of one
frame stand 4 m apart. So a record is only ever questioned, and only where the fix is good enough; it is
never refused because of a fix.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.lengths import length_words, plus_minus
from linemap.domain.design.number import same_number
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

#: A fix worse than this tells no structure from its neighbour. Common practice, no source.
POOR_M = 150.0
#: Radius of the work around one structure (200 ft). Common practice, no source.
_WORK_M = 60.96
#: Farther than this from its structure (1,000 ft) a record is questioned. Common practice, no source.
_AWAY_M = 304.8
#: A fix lies within this many times its accuracy.
_SURE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sites:
    """Where all structures of a job stand, ready to be asked for the nearest."""

    figures: Figures
    projection: Projection
    #: (line, number) -> row.
    row_of: dict[tuple[str, str], int]

    @classmethod
    def of(cls, figures: Figures, projection: Projection) -> Sites:
        """Index all structures by line and number."""
        return cls(figures=figures, projection=projection, row_of=figures.rows_by_key())

    @property
    def unit(self) -> LengthUnit:
        """Ground unit of the job."""
        return self.figures.lines[0].unit

    def nearest(
        self, easting: float, northing: float, *, other_than: int | None = None
    ) -> tuple[int, float] | None:
        """Return row and ground distance, metres, of the nearest structure that has a place; None = none."""
        structures = self.figures.structures
        grid = np.hypot(structures.easting - easting, structures.northing - northing)
        grid[~np.isfinite(grid)] = np.inf
        if other_than is not None:
            grid[other_than] = np.inf
        row = int(np.argmin(grid)) if len(grid) else 0
        if not len(grid) or grid[row] == np.inf:
            return None
        return row, self.distance_m(row, easting, northing)

    def distance_m(self, row: int, easting: float, northing: float) -> float:
        """Return the horizontal ground distance of a grid point from a structure, metres."""
        structures = self.figures.structures
        grid = np.hypot(structures.easting[row] - easting, structures.northing[row] - northing)
        return float(grid * self.unit.metres / self.figures.combined_factor[row])


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceCheck:
    """What a fix says of the structure a record names. It never says which pole."""

    #: "elsewhere" = at another structure or far away; "cannot tell" = the fix or the data are too poor.
    verdict: Literal["here", "elsewhere", "cannot tell"]
    #: Nearest other structure when the phone is surely at that one, else "".
    at: str = ""
    #: True when the digits of the recorded number are those of `at` in another order.
    exchanged: bool = False
    #: Horizontal ground distance from the recorded structure, metres; None = not known.
    distance_m: float | None = None
    #: What to ask the person; "" when there is nothing to ask.
    sentence: str = ""


def digits_exchanged(one: str, other: str) -> bool:
    """Say whether two different structure numbers are made of the same digits.

    >>> digits_exchanged("5/2", "2/5"), digits_exchanged("12/3", "13/2"), digits_exchanged("5/2", "5/3")
    (True, True, False)
    """
    first, second = same_number(one), same_number(other)
    digits = [sorted(sign for sign in text if sign.isdigit()) for text in (first, second)]
    return first != second and digits[0] == digits[1]


def wrong_place(
    sites: Sites, *, line: str, structure: str, longitude: float, latitude: float, accuracy_m: float | None
) -> PlaceCheck:
    """Compare the fix of a record with the structure it names.

    Parameters
    ----------
    sites : Sites
    line, structure : str
        What was recorded.
    longitude, latitude : float
        WGS 84, degrees.
    accuracy_m : float or None
        Radius the device gives its fix; None or worse than `POOR_M` = cannot tell.

    Returns
    -------
    PlaceCheck
        "elsewhere" only when the phone stands within 200 ft of another structure, or more than 1,000 ft
        from the recorded one, with twice the accuracy taken in favour of what was recorded.
    """
    row = sites.row_of.get((line, structure))
    east, north = (float(value) for value in sites.projection.from_lonlat(longitude, latitude))
    if row is None or not np.isfinite(east + north):
        return PlaceCheck(verdict="cannot tell")
    distance = sites.distance_m(row, east, north)
    if accuracy_m is None or not 0.0 <= accuracy_m <= POOR_M:
        return PlaceCheck(verdict="cannot tell", distance_m=distance)
    margin = _SURE * accuracy_m
    near = sites.nearest(east, north, other_than=row)
    if near is not None and near[1] + margin < distance - margin and near[1] - margin <= _WORK_M:
        return _at_another(sites, structure, near, distance, accuracy_m)
    if distance - margin > _AWAY_M:
        far = length_words(distance, sites.unit, accuracy_m=accuracy_m)
        words = f"recorded {far} ({plus_minus(accuracy_m, sites.unit)}) away from {structure}"
        return PlaceCheck(verdict="elsewhere", distance_m=distance, sentence=words)
    return PlaceCheck(verdict="here", distance_m=distance)


def _at_another(
    sites: Sites, structure: str, near: tuple[int, float], distance: float, accuracy_m: float
) -> PlaceCheck:
    number = str(sites.figures.structures.number[near[0]])
    exchanged = digits_exchanged(structure, number)
    close, far = (length_words(metres, sites.unit, accuracy_m=accuracy_m) for metres in (near[1], distance))
    asked = "digits exchanged?" if exchanged else f"is {number} meant?"
    place = f"at {number}" if near[1] <= accuracy_m else f"{close} from {number}"
    words = f"recorded {structure}, but {place} ({plus_minus(accuracy_m, sites.unit)})"
    return PlaceCheck(
        verdict="elsewhere",
        at=number,
        exchanged=exchanged,
        distance_m=distance,
        sentence=f"{words} and {far} from {structure}: {asked}",
    )
