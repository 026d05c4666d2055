"""A place as people write it: structure number, station and offset, grid coordinates, or degrees.

What can be read in two ways gives every reading that lies near a line of the job; a place between two legs,
or near two lines, stands at each of them. Nothing is chosen here.
"""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Line
from linemap.domain.design.naming import Naming
from linemap.geometry.alignment import Network
from linemap.geometry.coordinate_text import read_pairs
from linemap.geometry.frame import ahead_right
from linemap.geometry.projection import Projection
from linemap.geometry.sexagesimal import plain_text
from linemap.geometry.station import ParsedStation, parse_station

ReadAs = Literal["structure", "station", "grid", "degrees"]

#: A reading farther than this from every line is none of this job, unless no other is nearer (50 km) ...
_NEAR_M = 50_000.0
#: ... and farther than this (1 mile) a line is no place to tell a station by, unless it is the nearest.
BESIDE_M = 1_609.344
#: A second foot on the same line is told when it is no farther from the place than this (1,000 ft).
_OTHER_LEG_M = 304.8
#: A place this near to one already found is the same place.
_SAME_M = 0.01

_OFFSET = re.compile(
    r"^(?P<station>.*\d\s*\+\s*[\d.]+.*?)[\s,;]+(?:OFFSET|OFF|O/S|OS)?[\s,;:=]*"
    r"(?P<before>RIGHT|LEFT|RT|LT|R|L|[+-])?\s*(?P<size>\d+(?:\.\d*)?)\s*(?:FT|FEET|M|')?\s*"
    r"(?P<after>RIGHT|LEFT|RT|LT|R|L)?\.?$"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Where a place stands on one line."""

    #: Index of the line.
    line: int
    true_distance: float
    station: float
    region: int
    #: Ground length off the line, right positive, and from its foot on it; they differ beyond an end.
    offset: float
    apart: float
    #: Structures behind and ahead, "" beyond the last one.
    back: str
    ahead: str

    def words(self, figures: Figures) -> str:
        """Say station, offset and the structures on both sides; far from the line, how far alone."""
        line = figures.lines[self.line]
        if self.apart > line.ground(BESIDE_M):
            return f"{self.apart:,.0f} {line.unit.symbol} from {line.name}"
        off = "on line"
        if abs(self.offset) >= 0.05:
            off = f"{abs(self.offset):,.1f} {line.unit.symbol} {'right' if self.offset > 0.0 else 'left'}"
        where = between_words(self.back, self.ahead, line)
        return f"{line.station_text(self.station, region=self.region)}, {off}, {where}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One reading of what was written."""

    read_as: ReadAs
    easting: float
    northing: float
    #: Row of the structure that was named; None for the other readings.
    row: int | None = None
    #: How the text was read where it could be read otherwise; "" = nothing to say.
    note: str = ""
    #: Nearest first; empty only where the job has no line.
    stands: tuple[Stand, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceFinder:
    """Finds places of a job by what people write."""

    figures: Figures
    network: Network
    projection: Projection
    naming: Naming

    def find(self, text: str) -> tuple[tuple[Place, ...], str]:
        """Return every place a text may mean, and what to say where there is none.

        A structure number; a station with or without its region, and an offset ("434+20 12 R", "434+20,
        -12"); northing and easting of the job's grid, or longitude and latitude, in either order, with or
        without letters, in degrees or in degrees, minutes and seconds. Longitudes west may lack their sign.

        Returns
        -------
        tuple of Place, str
            Readings in the order above, those nearest to a line first; and why there is none: "" when there
            is one.
        """
        named = [
            self._at(Place(read_as="structure", easting=east, northing=north, row=row))
            for row, east, north in self._structures(text)
        ]
        if named:
            return tuple(named), ""
        if re.search(r"\d\s*\+\s*\d", text):
            return self._along(plain_text(text))
        return self._by_coordinates(text)

    def _structures(self, text: str) -> Iterator[tuple[int, float, float]]:
        """Give the rows of the listed numbers a text may mean, each with its place."""
        meant = set(self.naming.listed.meant(text.strip()))
        structures = self.figures.structures
        for row in np.flatnonzero(np.isin(structures.number, list(meant))).tolist() if meant else ():
            yield row, float(structures.easting[row]), float(structures.northing[row])

    def _along(self, plain: str) -> tuple[tuple[Place, ...], str]:
        found: list[Place] = []
        why: list[str] = []
        for wanted, offset in _stations(plain):
            for index, line in enumerate(self.figures.lines):
                posted = line.stationing.true_distances(
                    wanted.value, region=wanted.region, length=line.length
                )
                on_line = [pair for pair in posted if -_SAME_M <= pair[1] <= line.length + _SAME_M]
                found += [self._on(index, true, region, offset) for region, true in on_line]
                if not on_line:
                    why.append(_no_station(line, wanted))
        if found:
            return tuple(found), ""
        return (), "; ".join(dict.fromkeys(why)) or f"{plain} is not a station; write it like 118+40.00 12 R"

    def _on(self, index: int, true: float, region: int, offset: float) -> Place:
        """Return the place at a distance along a line, aside by an offset."""
        scale = self.figures.lines[index].combined_factor
        east, north, _ = self.network.point(index, [true * scale], [offset * scale])
        stand = self._stand(index, true, offset, region)
        return Place(read_as="station", easting=float(east[0]), northing=float(north[0]), stands=(stand,))

    def _stand(self, index: int, true: float, offset: float, region: int | None = None) -> Stand:
        """Describe a foot at a ground distance along a line, and how far off a place stands there."""
        line = self.figures.lines[index]
        posted, regions = line.stationing.post(np.array([true]))
        station, posted_in = float(posted[0]), int(regions[0])
        if region is not None and region < posted_in:  # an equation's own back station
            station, posted_in = line.stationing.equations[region - 1].back, region
        back, ahead, _ = neighbours(self.figures, index, true)
        beyond = max(-true, true - line.length, 0.0)
        return Stand(
            line=index,
            true_distance=true,
            station=station,
            region=posted_in,
            offset=offset,
            apart=math.hypot(offset, beyond),
            back=back,
            ahead=ahead,
        )

    def _by_coordinates(self, text: str) -> tuple[tuple[Place, ...], str]:
        read = list(self._readings(text))
        if not read:
            return (), (
                f"{text.strip()!r} names no structure of the list, no station and no coordinates; write it "
                "like 12/3, 434+20 12 R, 914050.99 N 2276177.43 E, or 46.71312, -108.37717"
            )
        apart = self._apart_m(read)
        nearest = float(apart.min(initial=math.inf))
        if not math.isfinite(nearest):
            return (), f"{text.strip()!r} lies where the job's projection has no answer"
        reach = max(_NEAR_M, nearest)
        kept = [read[i] for i in np.argsort(apart, kind="stable").tolist() if apart[i] <= reach]
        return tuple(self._at(each) for each in kept), ""

    def _readings(self, text: str) -> Iterator[Place]:
        for pair in read_pairs(text):
            east, north = pair.east, pair.north
            if pair.read_as == "degrees":
                east, north = (float(each) for each in self.projection.from_lonlat(pair.east, pair.north))
            if math.isfinite(east + north):
                yield Place(read_as=pair.read_as, easting=east, northing=north, note=pair.note)

    def _apart_m(self, places: Iterable[Place]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        at = np.array([(each.easting, each.northing) for each in places])
        if not self.figures.lines:
            return np.zeros(len(at))
        return self.network.apart(at) * self.figures.lines[0].unit.metres

    def _at(self, place: Place) -> Place:
        """Return a place with where it stands: on the lines beside it, on both legs of a line."""
        lines = self.figures.lines
        if not lines:
            return place
        metres = lines[0].unit.metres
        located = self.network.locate(
            np.full(len(lines), place.easting),
            np.full(len(lines), place.northing),
            np.arange(len(lines)),
            pi_snap=0.0,
            competing_within=_OTHER_LEG_M / metres,
        )
        stands: list[Stand] = []
        for index, line in enumerate(lines):
            scale = line.combined_factor
            feet = [(float(located.distance[index]), float(located.offset[index]))]
            if math.isfinite(other := float(located.competing_distance[index])):
                feet.append((other, self._aside(place, index, other)))
            stands += [self._stand(index, along / scale, aside / scale) for along, aside in feet]
        stands.sort(key=lambda each: each.apart)
        near = [each for each in stands if each.apart * metres <= BESIDE_M]
        return replace(place, stands=tuple(near or stands[:1]))

    def _aside(self, place: Place, index: int, distance: float) -> float:
        """Return how far right of the line's foot at a grid distance a place is, grid length."""
        east, north, azimuth = (float(each[0]) for each in self.network.point(index, [distance], [0.0]))
        _, right = ahead_right(place.easting - east, place.northing - north, azimuth)
        return float(right)


def neighbours(figures: Figures, index: int, true: float) -> tuple[str, str, int]:
    """Return the structures behind and ahead of a true distance on a line, and the row of the nearest one.

    "" beyond the last one; row -1 on a line without structures.
    """
    rows = np.flatnonzero(figures.line_index == index)
    if not rows.size:
        return "", "", -1
    distances = figures.true_distance[rows]
    place = int(np.searchsorted(distances, true, side="right"))
    number = figures.structures.number
    back = str(number[rows[place - 1]]) if place else ""
    ahead = str(number[rows[place]]) if place < rows.size else ""
    return back, ahead, int(rows[np.argmin(np.abs(distances - true))])


def between_words(back: str, ahead: str, line: Line) -> str:
    """Say between which structures of a line a place is, or beyond which."""
    if back and ahead:
        return f"between {back} and {ahead}"
    if back or ahead:
        end = line.ahead_end if back else line.back_end
        beyond = f"beyond {back or ahead}"
        return f"{beyond}, toward {end}" if end else beyond
    return f"on {line.name}"


def _stations(plain: str) -> Iterator[tuple[ParsedStation, float]]:
    """Give each reading of a text as a station, with its offset (right positive)."""
    with contextlib.suppress(ValueError):
        yield parse_station(plain), 0.0
    found = _OFFSET.match(plain)
    if found is None or (found["before"] and found["after"]):
        return
    side = found["before"] or found["after"] or "+"
    try:
        station = parse_station(found["station"])
    except ValueError:
        return
    yield station, float(found["size"]) * (-1.0 if side[0] in "L-" else 1.0)


def _no_station(line: Line, wanted: ParsedStation) -> str:
    """Say why a line has no such station."""
    asked = line.station_text(wanted.value)
    for equation in line.stationing.equations:
        if equation.back < wanted.value < equation.ahead:
            names = f"{line.station_text(equation.back)} back = {line.station_text(equation.ahead)} ahead"
            return f"no such station: {line.name} has the equation {names}, and {asked} lies in its gap"
    if wanted.region is not None and line.stationing.true_distances(wanted.value, length=line.length):
        return f"no such station: {line.name} has {asked} in another region"
    ends, _ = line.stationing.post(np.array([0.0, line.length]))
    first, last = (line.station_text(float(end)) for end in ends)
    return f"no such station: {line.name} runs from {first} to {last}"
