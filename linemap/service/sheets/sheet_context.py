"""Roads, water and other lines beside a line, straightened with it for the plan of the strip."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from linemap.domain.design.context import ContextFeature
from linemap.domain.design.structure import FloatArray
from linemap.report.sheets.beside import StripLine
from linemap.service.view.view import JobView

__all__ = ["beside_of", "context_lines"]

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
    return _BESIDE.get(view.figures.lines[0].unit.symbol, _BESIDE_FEET)


def context_lines(view: JobView, index: int) -> tuple[StripLine, ...]:
    """Return what runs beside or across one line, as distance along it and offset from it, right +.

    Parameters
    ----------
    view : JobView
        As its reader may see it; what is still marked restricted is left out.
    index : int
        Of the line.
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
