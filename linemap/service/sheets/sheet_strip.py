"""What the strip shows: stretches of each line with structures, ground, crossings and what runs beside."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from linemap.domain.design.line import Line
from linemap.domain.design.structure import FloatArray
from linemap.domain.design.surroundings import ContextFeature
from linemap.geometry.bearing import format_deflection
from linemap.geometry.station import StationEquation, format_station
from linemap.report.sheets.beside import StripLine
from linemap.report.sheets.strip import Stretch, StripParcel, StripPlace, StripPole, StripStructure
from linemap.service.view.columns import station_texts
from linemap.service.view.marks import marks_of
from linemap.service.view.view import JobView

#: How far beside the line things are drawn, ground units: feet, and metres.
_BESIDE = {"m": 120.0}
_BESIDE_FEET = 400.0
#: Layers with a row of their own in the strip, or none.
_ELSEWHERE = frozenset({"parcel", "crossing"})
#: Dimensions of lines and of areas.
_LINE, _AREA = 1, 2
#: Pieces of a line are no longer than this share of what is drawn beside, so that bends are followed.
_FINE = 0.1


def beside_of(view: JobView) -> float:
    """Return how far beside the line things are drawn, in the ground unit."""
    return _BESIDE.get(view.unit.symbol, _BESIDE_FEET)


def context_lines(view: JobView, index: int) -> tuple[StripLine, ...]:
    """Return what runs beside or across one line, as distance along it and offset from it, right +.

    What is still marked restricted is left out.
    """
    line = view.figures.lines[index]
    centre = np.column_stack([line.centreline.easting, line.centreline.northing])
    reach = beside_of(view)
    near = shapely.buffer(shapely.LineString(centre), reach * line.combined_factor, cap_style="flat")
    found = []
    for feature in view.context:
        if feature.restricted or feature.layer in _ELSEWHERE:
            continue
        for points in _pieces(view, feature, near, step=reach * _FINE * line.combined_factor):
            places = _straightened(view, index, points)
            found += [
                StripLine(layer=feature.layer, name=feature.name, points=run)
                for run in _runs(places, reach=reach)
            ]
    return tuple(sorted(found, key=lambda one: (one.points[0], one.layer, one.name)))


def _pieces(
    view: JobView, feature: ContextFeature, near: shapely.Geometry, *, step: float
) -> Iterator[FloatArray]:
    """Give the parts of a line, or of the edge of an area, that lie near the line: grid, finely divided."""
    shape = feature.geometry
    if shapely.get_dimensions(shape) == _AREA:
        shape = shapely.boundary(shape)
    if shapely.get_dimensions(shape) != _LINE:
        return
    grid = shapely.transform(
        shape, lambda points: np.column_stack(view.projection.from_lonlat(points[:, 0], points[:, 1]))
    )
    for part in shapely.get_parts(shapely.line_merge(shapely.intersection(grid, near))):
        if shapely.get_dimensions(part) == _LINE and part.length > 0.0:
            yield shapely.get_coordinates(shapely.segmentize(part, step))


def _straightened(view: JobView, index: int, points: FloatArray) -> FloatArray:
    """Return (distance, offset) of points, ground units."""
    route = np.full(len(points), index)
    located = view.network.locate(points[:, 0], points[:, 1], route, pi_snap=0.0, competing_within=0.0)
    factor = view.figures.lines[index].combined_factor
    return np.column_stack([located.distance, located.offset]) / factor


def _runs(places: FloatArray, *, reach: float) -> Iterator[tuple[tuple[float, float], ...]]:
    """Break a line where it leaps along: at the inside of an angle two feet are equally near."""
    leaps = np.flatnonzero(np.abs(np.diff(places[:, 0])) > reach / 2.0) + 1
    for run in np.split(places, leaps):
        if len(run) > 1:
            yield tuple((float(distance), float(offset)) for distance, offset in run)


#: Length of a page and distance of its station ticks, ground units: feet, and metres.
_PAGE = {"m": (1500.0, 100.0)}
_PAGE_FEET = (5000.0, 500.0)
_GROUND_LINE = "ground line"


def stretches_of(view: JobView, rows: Sequence[int]) -> tuple[Stretch, ...]:
    """Return the stretches, in line order, in which chosen structures stand."""
    found: list[Stretch] = []
    for index, line in enumerate(view.figures.lines):
        length, step = _PAGE.get(line.unit.symbol, _PAGE_FEET)
        mine = [row for row in rows if view.figures.line_index[row] == index]
        parcels = _parcels(view, index) if mine else ()
        beside = context_lines(view, index) if mine else ()
        for page in sorted({_page(view, row, length) for row in mine}):
            start, end = page * length, (page + 1) * length
            found.append(
                _stretch(view, index, start=start, end=end, step=step, parcels=parcels, beside=beside)
            )
    return tuple(found)


def _page(view: JobView, row: int, length: float) -> int:
    return math.floor(float(view.figures.true_distance[row]) / length)


def _stretch(
    view: JobView,
    index: int,
    *,
    start: float,
    end: float,
    step: float,
    parcels: tuple[StripParcel, ...],
    beside: tuple[StripLine, ...],
) -> Stretch:
    line = view.figures.lines[index]
    distance = view.figures.true_distance
    inside = (view.figures.line_index == index) & (distance >= start) & (distance < end)
    stations = station_texts(view.figures)
    return Stretch(
        line=line.name,
        start=start,
        end=end,
        unit=line.unit.symbol,
        structures=tuple(_structure(view, int(row), str(stations[row])) for row in np.flatnonzero(inside)),
        crossings=tuple(
            StripPlace(
                distance=crossing.true_distance,
                words=crossing.what + (", treat as energized" if crossing.energized else ""),
            )
            for crossing in view.crossings
            if crossing.line in ("", line.name)
            and crossing.true_distance is not None
            and start <= crossing.true_distance < end
        ),
        breaks=tuple(
            StripPlace(distance=one.true_distance, words=_break_words(one, line))
            for one in line.stationing.equations
            if start <= one.true_distance < end
        ),
        ticks=tuple(_ticks(line, start, end, step)),
        parcels=tuple(one for one in parcels if one.start < end and one.end > start),
        beside=tuple(one for one in beside if one.touches(start, end)),
        reach=beside_of(view),
        neighbours=tuple(_neighbours(view, index, start=start, end=end)),
    )


def _neighbours(view: JobView, index: int, *, start: float, end: float) -> Iterator[tuple[float, float]]:
    """Give distance and ground of the last structure before a stretch and of the first after it."""
    figures = view.figures
    mine = np.flatnonzero(figures.line_index == index)
    distance, ground = figures.true_distance[mine], figures.structures.elevation[mine]
    for place in (np.searchsorted(distance, start) - 1, np.searchsorted(distance, end)):
        if 0 <= place < mine.size and not math.isnan(ground[place]):
            yield float(distance[place]), float(ground[place])


def _structure(view: JobView, row: int, station: str) -> StripStructure:
    figures = view.figures
    line = figures.line_of(row)
    ground = float(figures.structures.elevation[row])
    turn = format_deflection(float(figures.deflection_deg[row])) if figures.at_pi[row] else ""
    return StripStructure(
        distance=float(figures.true_distance[row]),
        number=str(figures.structures.number[row]),
        station=station + (f" (R{figures.station_region[row]})" if line.stationing.equations else ""),
        turn=turn,
        offset=float(figures.offset[row]),
        left_to_right=tuple(map(figures.called(row).__getitem__, figures.left_to_right(row))),
        ground=None if math.isnan(ground) else ground,
        poles=tuple(_poles(view, row)),
        held=any(not hold.conditional for hold in view.holds_by_row.get(row, ())),
    )


def _poles(view: JobView, row: int) -> Iterator[StripPole]:
    """Give the poles whose ground and height above it are known from the framing marks."""
    key = view.key(row)
    called = view.figures.called(view.row_of[key])
    levels = {pole.letter: pole.ground_elevation for pole in view.poles_by_structure.get(key, ())}
    for pole in marks_of(view, *key).poles:
        ground = levels.get(pole.letter)
        height = next((mark.drop for mark in pole.marks if mark.name == _GROUND_LINE), None)
        if ground is not None and height is not None:
            yield StripPole(name=called[pole.letter], ground=ground, top=ground + height)


def _break_words(one: StationEquation, line: Line) -> str:
    back, ahead = (line.station_text(value) for value in (one.back, one.ahead))
    jump = one.ahead - one.back
    kind = "gap" if jump > 0 else "overlap"
    return f"{back} Bk = {ahead} Ah, {kind} of {abs(jump):.{line.station_decimals}f}"


def _ticks(line: Line, start: float, end: float, step: float) -> Iterator[StripPlace]:
    """Give the round stations that exist in a stretch: none in a gap, twice in an overlap."""
    edges = [
        start,
        *(one.true_distance for one in line.stationing.equations if start < one.true_distance < end),
    ]
    for begin, stop in zip(edges, [*edges[1:], end], strict=True):
        posted = float(line.stationing.post([begin])[0][0])
        first = math.ceil(posted / step - 1e-9) * step
        while first - posted < stop - begin - 1e-6:
            words = format_station(first, per_plus=line.unit.per_plus, decimals=0)
            yield StripPlace(distance=begin + first - posted, words=words)
            first += step


def _parcels(view: JobView, index: int) -> tuple[StripParcel, ...]:
    """Return where the centreline runs through each parcel, in line order."""
    centre = view.figures.lines[index].centreline
    route = shapely.LineString(np.column_stack([centre.easting, centre.northing]))
    factor = view.figures.lines[index].combined_factor
    found = []
    for feature in view.context:
        if feature.layer == "parcel":
            shape = shapely.transform(feature.geometry, lambda points: _grid(view, points))
            parts = shapely.get_parts(shapely.intersection(route, shapely.make_valid(shape)))
            for part in (one for one in parts if one.length > 0.0):
                ends = sorted(route.project(shapely.Point(part.coords[i])) / factor for i in (0, -1))
                found.append(StripParcel(start=ends[0], end=ends[1], name=feature.name))
    return tuple(sorted(found, key=lambda one: one.start))


def _grid(view: JobView, points: FloatArray) -> FloatArray:
    return np.column_stack(view.projection.from_lonlat(points[:, 0], points[:, 1]))
