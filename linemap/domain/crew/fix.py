"""What the fix of a phone says: where on the line it stands, and whether it is at the structure it records.

Consumer receivers are good to about 3 to 15 m in the open; spans are some hundred metres, poles of one frame
stand 4 m apart. So a fix tells structures apart, never the poles of one; a record is only ever questioned,
where the fix is good enough, and never refused because of it. A place is never printed better than its fix:
whole feet or metres, rounded to a tenth of the accuracy, and the accuracy beside them, never below the 2 m by
which the datum of phones and that of designs may differ.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from linemap.domain.design.figures import Figures
from linemap.domain.design.lengths import fix_step, length_words, plus_minus
from linemap.domain.design.line import Line
from linemap.domain.design.number import number_form
from linemap.domain.design.place import BESIDE_M, between_words, neighbours
from linemap.domain.design.surroundings import ContextFeature
from linemap.geometry.alignment import Network
from linemap.geometry.projection import Projection
from linemap.geometry.station import format_station
from linemap.units import LengthUnit

#: A fix worse than this tells no structure from its neighbour. Common practice, no source.
POOR_M = 150.0
#: Radius of the work around one structure (200 ft). Common practice, no source.
_WORK_M = 60.96
#: Farther than this from its structure (1,000 ft) a record is questioned. Common practice, no source.
_AWAY_M = 304.8
#: A fix lies within this many times its accuracy.
_SURE = 2.0
#: Taken for a fix whose device says nothing of its accuracy: the worse end of consumer receivers in the open.
UNKNOWN_ACCURACY_M = 15.0
#: WGS 84 of phones and NAD83 of designs differ by up to this in the United States.
_DATUM_M = 2.0
#: Areas that are named when the fix lies in them.
_AREAS = frozenset({"parcel", "tract", "county"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A fix in the words of the line. It tells which structure, never which pole."""

    #: Index of the nearest line.
    line: int
    #: Grid position.
    easting: float
    northing: float
    #: Grid distance along the centreline.
    along: float
    #: Structures behind and ahead, "" beyond the last one.
    back: str
    ahead: str
    #: "434+20"; "" when far from every line.
    station_text: str
    #: "12 L"; "on line" within half a unit.
    offset_text: str
    #: "±17 ft".
    accuracy_text: str
    sentence: str
    #: Accuracy that was used, metres.
    accuracy_m: float


def where_on_line(
    figures: Figures,
    network: Network,
    projection: Projection,
    *,
    longitude: float,
    latitude: float,
    accuracy_m: float | None,
    areas: Iterable[ContextFeature] = (),
) -> Where | None:
    """Tell where a fix in WGS 84 degrees lies; None where the projection has no answer.

    Without an accuracy 15 m is taken, and said. Of `areas` the parcels and counties it lies in are named,
    restricted ones never.
    """
    east, north = (float(value) for value in projection.from_lonlat(longitude, latitude))
    if not np.isfinite(east + north):
        return None
    index, along, offset, apart_m = _nearest_line(figures, network, east, north)
    line = figures.lines[index]
    taken = UNKNOWN_ACCURACY_M if accuracy_m is None or not accuracy_m >= 0.0 else accuracy_m
    good_m = max(taken, _DATUM_M)
    true = along / line.combined_factor
    back, ahead, nearest = neighbours(figures, index, true)
    spread = plus_minus(good_m, line.unit)
    accuracy = spread if accuracy_m is not None else f"{spread} taken, the device gives none"
    place = _named(figures, index, nearest, (east, north), good_m) or between_words(back, ahead, line)
    station = "" if apart_m > BESIDE_M else _station(line, true, good_m)
    aside = _aside(offset / line.combined_factor, line, good_m)
    away = length_words(apart_m, line.unit, accuracy_m=good_m)
    parts = (
        [place, station, aside, accuracy]
        if station
        else [f"{away} from the line", f"nearest {place}", accuracy]
    )
    return Where(
        line=index,
        easting=east,
        northing=north,
        along=along,
        back=back,
        ahead=ahead,
        station_text=station,
        offset_text=aside if station else f"{away} from the line",
        accuracy_text=accuracy,
        sentence=", ".join([*parts, *_areas_at(areas, longitude, latitude)]),
        accuracy_m=good_m,
    )


def _nearest_line(
    figures: Figures, network: Network, east: float, north: float
) -> tuple[int, float, float, float]:
    """Index, grid distance along, grid offset and ground metres apart of the nearest line."""
    count = len(figures.lines)
    located = network.locate(
        np.full(count, east), np.full(count, north), np.arange(count), pi_snap=0.0, competing_within=0.0
    )
    beyond = np.maximum(np.maximum(-located.distance, located.distance - network.length), 0.0)
    apart = np.hypot(located.offset, beyond)
    index = int(np.argmin(apart))
    line = figures.lines[index]
    metres = float(apart[index]) * line.unit.metres / line.combined_factor
    return index, float(located.distance[index]), float(located.offset[index]), metres


def _named(figures: Figures, index: int, row: int, place: tuple[float, float], good_m: float) -> str:
    """Name the nearest structure where the fix is at it, or too coarse to tell; "" = it is between two."""
    if row < 0:
        return ""
    number, structures = figures.structures.number[row], figures.structures
    if good_m > POOR_M:
        return f"about {number}, too coarse a fix to tell structures apart"
    grid = np.hypot(structures.easting[row] - place[0], structures.northing[row] - place[1])
    apart_m = float(grid) * figures.lines[index].unit.metres / float(figures.combined_factor[row])
    return f"at or near {number}" if apart_m <= good_m else ""


def _station(line: Line, true: float, good_m: float) -> str:
    step = fix_step(line.ground(good_m))
    posted, region = line.stationing.post(np.array([true]))
    rounded = round(float(posted[0]) / step) * step
    text = format_station(rounded, per_plus=line.unit.per_plus, decimals=0)
    twice = len(line.stationing.true_distances(float(posted[0]), length=line.length)) > 1
    return f"{text} (R{int(region[0])})" if twice else text


def _aside(offset: float, line: Line, good_m: float) -> str:
    step = fix_step(line.ground(good_m))
    rounded = round(abs(offset) / step) * step
    return f"{rounded} {'R' if offset > 0.0 else 'L'}" if rounded else "on line"


def _areas_at(areas: Iterable[ContextFeature], longitude: float, latitude: float) -> list[str]:
    here = shapely.Point(longitude, latitude)
    return [
        f"{area.layer.casefold()} {area.name}"
        for area in areas
        if area.layer.casefold() in _AREAS
        and area.name
        and not area.restricted
        and bool(shapely.covers(area.geometry, here))
    ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sites:
    """Where all structures of a job stand, ready to be asked for the nearest."""

    figures: Figures
    projection: Projection
    #: (line, number) -> row.
    row_of: Mapping[tuple[str, str], int]

    @property
    def unit(self) -> LengthUnit:
        """Ground unit of the job."""
        return self.projection.unit

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


#: What a fix says of a phone and a structure.
Nearness = Literal["too coarse", "at", "perhaps", "near", "away"]


def nearness(apart_m: float, next_m: float, accuracy_m: float) -> Nearness:
    """Say whether a phone is at a structure.

    It is where the fix reaches to that one, to no other, and not beyond the work around it.

    Phones judge by the same rule (`js/field/where.js`); a test holds the two together.

    Parameters
    ----------
    apart_m, next_m : float
        Ground distances of the fix from the structure and from the nearest other one; inf = there is none.
    accuracy_m : float
        nan = the device does not say.

    >>> [nearness(apart, 200.0, 5.0) for apart in (4.0, 40.0, 215.0)]
    ['at', 'near', 'away']
    >>> nearness(40.0, 90.0, 100.0), nearness(40.0, 90.0, 151.0)
    ('perhaps', 'too coarse')
    """
    if not accuracy_m <= POOR_M:
        return "too coarse"
    good_m = max(accuracy_m, _DATUM_M)
    if apart_m <= good_m:
        return "at" if good_m <= _WORK_M and next_m > good_m else "perhaps"
    return "near" if apart_m - good_m <= _WORK_M else "away"


def digits_exchanged(one: str, other: str) -> bool:
    """Say whether two different structure numbers are made of the same digits.

    >>> digits_exchanged("5/2", "2/5"), digits_exchanged("12/3", "13/2"), digits_exchanged("5/2", "5/3")
    (True, True, False)
    """
    first, second = number_form(one), number_form(other)
    digits = [sorted(sign for sign in text if sign.isdigit()) for text in (first, second)]
    return first != second and digits[0] == digits[1]


def wrong_place(
    sites: Sites, *, line: str, structure: str, longitude: float, latitude: float, accuracy_m: float | None
) -> str:
    """Compare the fix of a record, in WGS 84 degrees, with the structure it names: what to ask, "" = nothing.

    It is asked only when the phone stands within 200 ft of another structure, or more than 1,000 ft from the
    recorded one, with twice the accuracy taken in favour of what was recorded; never without an accuracy, or
    with one worse than `POOR_M`.
    """
    row = sites.row_of.get((line, structure))
    east, north = (float(value) for value in sites.projection.from_lonlat(longitude, latitude))
    if row is None or not np.isfinite(east + north) or accuracy_m is None or not 0.0 <= accuracy_m <= POOR_M:
        return ""
    distance, margin = sites.distance_m(row, east, north), _SURE * accuracy_m
    far = length_words(distance, sites.unit, accuracy_m=accuracy_m)
    spread = plus_minus(accuracy_m, sites.unit)
    near = sites.nearest(east, north, other_than=row)
    if near is not None and near[1] + margin < distance - margin and near[1] - margin <= _WORK_M:
        number = str(sites.figures.structures.number[near[0]])
        asked = "digits exchanged?" if digits_exchanged(structure, number) else f"is {number} meant?"
        close = length_words(near[1], sites.unit, accuracy_m=accuracy_m)
        at = nearness(near[1], distance, accuracy_m) == "at"
        place = f"at {number}" if at else f"{close} from {number}"
        return f"recorded {structure}, but {place} ({spread}) and {far} from {structure}: {asked}"
    return f"recorded {far} ({spread}) away from {structure}" if distance - margin > _AWAY_M else ""
