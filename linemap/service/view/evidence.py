"""Where a file's points lie: in the job's coordinate reference, and how far from its lines.

Nothing here moves a point. Exchanged columns and points of another job are told with the numbers that speak
for it; a person decides.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from linemap.domain.design.line import Line
from linemap.domain.design.structure import FloatArray, Structures
from linemap.domain.design.surroundings import ContextFeature
from linemap.domain.survey.control import ControlPoint
from linemap.domain.survey.shot import Shot
from linemap.errors import Problem
from linemap.geometry.projection import Projection
from linemap.io.cells.table import JOB, RawTable
from linemap.io.design.pi_list import PiList
from linemap.service.view.coordinate_meaning import PlacedFile
from linemap.service.view.misplaced import (
    distance_from,
    far_points,
    misplaced_list,
    misplaced_routes,
    misplaced_shots,
    reach,
    spread,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """What the places of a file's points say."""

    #: The value of the file.
    value: Any
    #: For a dry run: coordinate reference, distance to the lines.
    words: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


def judge_points(
    place: PlacedFile, *, lines: Sequence[Line], structures: Callable[[], Structures]
) -> Evidence:
    """Say where the points of a file lie; values without points come back as they are.

    The file means structures, shots, a PI list or context. `lines` are those of the job, loaded together with
    the file ones included; of a centreline, those there were. `structures` gives those of the job, and is
    asked only when they matter.
    """
    value, table, projection = place.loaded.value, place.table, place.projection
    points = points_of(value, projection)
    if points is None or not len(points):
        return Evidence(value=value)
    words = [_reference(table, projection, points)]
    problems: list[Problem] = []
    if isinstance(value, PiList):
        problems += misplaced_routes(place, lines, structures)
    elif lines:
        distance = distance_from(points, lines)
        words.append(f"distance to the line: {spread(distance, projection)}")
        if _is_shots(value):
            problems += misplaced_shots(place, points, lines, distance, structures)
        elif isinstance(value, Structures):
            # those of a line without a centreline are refused for that
            known = {line.name.casefold() for line in lines}
            own = np.array([name.casefold() in known for name in value.line], dtype=np.bool_)
            if own.any():
                problems += misplaced_list(place, points[own], lines, distance[own])
        elif distance.min() > reach(lines, projection):
            what = "control point" if isinstance(value[0], ControlPoint) else "feature"
            problems.append(far_points(place, distance, what))
    return Evidence(value=value, words=tuple(words), problems=tuple(problems))


def _is_shots(value: Any) -> bool:
    return isinstance(value, tuple) and bool(value) and isinstance(value[0], Shot)


def points_of(value: Any, projection: Projection) -> FloatArray | None:
    """Return grid easting and northing, (n, 2), of what has any."""
    if isinstance(value, Structures):
        return np.column_stack([value.easting, value.northing])
    if isinstance(value, PiList):
        lines = value.centrelines.values()
        return np.concatenate([np.column_stack([line.easting, line.northing]) for line in lines])
    if _is_shots(value) or (isinstance(value, tuple) and value and isinstance(value[0], ControlPoint)):
        return np.array([(each.easting, each.northing) for each in value], dtype=np.float64)
    if isinstance(value, tuple) and value and isinstance(value[0], ContextFeature):
        middles = shapely.point_on_surface([feature.geometry for feature in value])
        places = np.column_stack(projection.from_lonlat(shapely.get_x(middles), shapely.get_y(middles)))
        return places[np.isfinite(places).all(axis=1)]
    return None


def _reference(table: RawTable, projection: Projection, points: FloatArray) -> str:
    if table.crs_said:
        own = "the job's reference" if table.crs_said == JOB else table.crs_said
        instead = f", not the {table.crs} the file declares" if table.crs else ""
        return f"coordinates: taken in {own}, as said{instead}"
    if table.crs:
        return f"coordinates: the file declares {table.crs}"
    none = "coordinates: the file declares no reference"
    if projection.bounds is None:
        return f"{none}; {projection.text} has no registered area of use"
    west, south, east, north = projection.bounds
    lon, lat = projection.to_lonlat(points[:, 0], points[:, 1])
    inside = (lon >= west) & (lon <= east) & (lat >= south) & (lat <= north)
    count = "all" if inside.all() else f"{int(inside.sum()):,} of"
    return f"{none}; {count} {len(points):,} points lie within the area of use of {projection.text}"
