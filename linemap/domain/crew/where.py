"""Where a phone stands on the line: between which structures, at which station, how far aside.

Never printed better than the fix: whole feet or metres, rounded to a tenth of the accuracy, and the
accuracy beside them, never below the 2 m by which the datum of phones and that of designs may differ.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely

from linemap.domain.design.figures import Figures
from linemap.domain.design.lengths import fix_step, length_words, plus_minus
from linemap.domain.design.line import Line
from linemap.domain.design.surroundings import ContextFeature
from linemap.geometry.alignment import Network
from linemap.geometry.projection import Projection
from linemap.geometry.station import format_station

#: Taken for a fix whose device says nothing of its accuracy: the worse end of consumer receivers in the open.
UNKNOWN_ACCURACY_M = 15.0
#: WGS 84 of phones and NAD83 of designs differ by up to this in the United States.
_DATUM_M = 2.0
#: Areas that are named when the fix lies in them.
_AREAS = frozenset({"parcel", "tract", "county"})
#: Farther from every line than this (1 mile), no station is given.
_FAR_M = 1609.344


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
    """Tell where a fix lies.

    Parameters
    ----------
    figures : Figures
    network : Network
        The centrelines of the same lines.
    projection : Projection
    longitude, latitude : float
        WGS 84, degrees.
    accuracy_m : float or None
        As the device gives it; None = 15 m is taken, and said.
    areas : iterable of ContextFeature
        Parcels and counties; those the fix lies in are named, restricted ones never.

    Returns
    -------
    Where or None
        None where the projection has no answer.
    """
    east, north = (float(value) for value in projection.from_lonlat(longitude, latitude))
    if not np.isfinite(east + north):
        return None
    index, along, offset, apart_m = _nearest_line(figures, network, east, north)
    line = figures.lines[index]
    taken = UNKNOWN_ACCURACY_M if accuracy_m is None or not accuracy_m >= 0.0 else accuracy_m
    good_m = max(taken, _DATUM_M)
    back, ahead, near = _neighbours(figures, index, along / line.combined_factor, good_m)
    spread = plus_minus(good_m, line.unit)
    accuracy = spread if accuracy_m is not None else f"{spread} taken, the device gives none"
    place = near or _between(back, ahead, line)
    station = "" if apart_m > _FAR_M else _station(line, along / line.combined_factor, good_m)
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


def _neighbours(figures: Figures, index: int, true: float, good_m: float) -> tuple[str, str, str]:
    """Structures behind and ahead, and "at or near 9/2" when the fix cannot tell which side of it."""
    rows = np.flatnonzero(figures.line_index == index)
    if not rows.size:
        return "", "", ""
    distances = figures.true_distance[rows]
    place = int(np.searchsorted(distances, true, side="right"))
    number = figures.structures.number
    back = str(number[rows[place - 1]]) if place else ""
    ahead = str(number[rows[place]]) if place < rows.size else ""
    closest = int(np.argmin(np.abs(distances - true)))
    close = abs(float(distances[closest]) - true) * figures.lines[index].unit.metres <= good_m
    return back, ahead, f"at or near {number[rows[closest]]}" if close else ""


def _between(back: str, ahead: str, line: Line) -> str:
    if back and ahead:
        return f"between {back} and {ahead}"
    if back or ahead:
        end = line.ahead_end if back else line.back_end
        beyond = f"beyond {back or ahead}"
        return f"{beyond}, toward {end}" if end else beyond
    return f"on {line.name}"


def _station(line: Line, true: float, good_m: float) -> str:
    step = fix_step(line.ground(good_m))
    posted, region = line.stationing.post(np.array([true]))
    rounded = round(float(posted[0]) / step) * step
    text = format_station(rounded, per_plus=line.per_plus, decimals=0)
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
