"""Where a file's points lie: in the job's coordinate reference, and how far from its lines.

Nothing here moves a point. Exchanged columns, points of another job and letters that may belong to an
inserted structure are told with the numbers that speak for it; a person decides.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from linemap.domain.design.line import Line
from linemap.domain.design.structure import BoolArray, FloatArray, Structures
from linemap.domain.survey.shot import Shot, inserted_reading
from linemap.errors import Problem, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.pi_list import PiList

#: Shots that all lie farther than this from every line are of another job, metres.
_ANOTHER_JOB_M = 10_000.0
#: Exchanged shots come this near a line when they are of it, metres.
_OF_THE_LINE_M = 500.0
_SHOWN = 12
#: A letter of a pole against a digit, which a quick look finds.
_GLUED = re.compile(r"\d[ABC](?![A-Z0-9])", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """What the places of a file's points say."""

    #: The value of the file, with shots that need a person's answer taken out of the poles.
    value: Any
    #: For a dry run: coordinate reference, distance to the lines.
    words: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


def judge_points(
    value: Any,
    table: RawTable,
    *,
    projection: Projection,
    lines: Sequence[Line],
    numbers: Callable[[], Collection[str]],
) -> Evidence:
    """Say where the points of a file lie; values without points come back as they are.

    `value` is what the file means (structures, shots or a PI list), `table` names it and the reference it
    declares. `lines` are those of the job, loaded together with the file ones included. `numbers` gives the
    structure numbers of the job; it is asked only when some shot may name an inserted structure.
    """
    points = _points(value)
    if points is None or not len(points):
        return Evidence(value=value)
    words = [_reference(table, projection, points)]
    problems: list[Problem] = []
    if lines and not isinstance(value, PiList):
        distance = _distance(points, lines)
        words.append(f"distance to the line: {_spread(distance, projection)}")
        if _is_shots(value):
            problems += _misplaced(value, table, projection, points, lines, distance)
    if _is_shots(value):
        value, asked = _glued(value, table, numbers)
        problems += asked
    return Evidence(value=value, words=tuple(words), problems=tuple(problems))


def _is_shots(value: Any) -> bool:
    return isinstance(value, tuple) and bool(value) and isinstance(value[0], Shot)


def _points(value: Any) -> FloatArray | None:
    """Return grid easting and northing, (n, 2), of what has any."""
    if isinstance(value, Structures):
        return np.column_stack([value.easting, value.northing])
    if isinstance(value, PiList):
        lines = value.centrelines.values()
        return np.concatenate([np.column_stack([line.easting, line.northing]) for line in lines])
    if _is_shots(value):
        return np.array([(shot.easting, shot.northing) for shot in value], dtype=np.float64)
    return None


def _reference(table: RawTable, projection: Projection, points: FloatArray) -> str:
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


def _distance(points: FloatArray, lines: Sequence[Line]) -> FloatArray:
    """Return the distance of each point from the nearest line, grid."""
    # a tree of whole lines would measure every piece of each line a point may be near to
    tree = shapely.STRtree([piece for line in lines for piece in _pieces(line)])
    (which, _), apart = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    distance = np.full(len(points), np.inf)
    distance[which] = apart
    return distance


def _pieces(line: Line) -> list[shapely.LineString]:
    """Return the straight pieces of a centreline."""
    vertices = np.column_stack([line.centreline.easting, line.centreline.northing])
    return [shapely.LineString(ends) for ends in np.stack([vertices[:-1], vertices[1:]], axis=1)]


def _spread(distance: FloatArray, projection: Projection) -> str:
    low, high = float(distance.min()), float(distance.max())
    return f"{low:,.1f} to {high:,.1f} {projection.unit.symbol}"


def _misplaced(
    shots: Sequence[Shot],
    table: RawTable,
    projection: Projection,
    points: FloatArray,
    lines: Sequence[Line],
    distance: FloatArray,
) -> Iterator[Problem]:
    """Tell shots that lie far from every line, as written or with northing and easting exchanged."""
    unit = projection.unit
    far = distance * unit.metres > _ANOTHER_JOB_M
    if not far.any():
        return
    turned = np.full(len(points), np.inf)
    turned[far] = _distance(points[far][:, ::-1], lines)
    exchanged = far & (turned * unit.metres < _OF_THE_LINE_M)
    if bool(far.all()) and not exchanged.any():
        near, other = (f"{each.min():,.0f} {unit.symbol}" for each in (distance, turned))
        yield Problem(
            file=table.file,
            reason=f"all {len(shots):,} shots lie at least {near} from every line, with northing and easting "
            f"exchanged {other}",
            remedy="load the shots of this job, or say the column order with --shot-order",
        )
        return
    if exchanged.any():
        yield _exchanged(shots, table, projection, exchanged, distance, turned)
    rest = far & ~exchanged
    if rest.any():
        reason = f"{_rows(shots, rest)} at least {distance[rest].min():,.0f} {unit.symbol} from every line"
        yield Problem(
            file=table.file,
            reason=reason,
            remedy="find out whether they are of this job",
            severity=Severity.NOTED,
        )


def _exchanged(
    shots: Sequence[Shot],
    table: RawTable,
    projection: Projection,
    exchanged: BoolArray,
    distance: FloatArray,
    turned: FloatArray,
) -> Problem:
    symbol = projection.unit.symbol
    order = " or load the file with --shot-order penzd" if bool(exchanged.all()) else ""
    return Problem(
        file=table.file,
        reason=f"{_rows(shots, exchanged)} {distance[exchanged].min():,.0f} {symbol} or more from the line "
        f"as written, and {_spread(turned[exchanged], projection)} with northing and easting exchanged; "
        "nothing is changed",
        remedy=f"decide it where the survey's causes are listed{order}",
        severity=Severity.NOTED,
    )


def _rows(shots: Sequence[Shot], which: BoolArray) -> str:
    rows = [shots[index].row for index in np.flatnonzero(which).tolist()]
    listed = ", ".join(map(str, rows[:_SHOWN])) + (", ..." if len(rows) > _SHOWN else "")
    return f"{len(rows):,} of {len(shots):,} shots (rows {listed}) lie"


def _glued(
    shots: Sequence[Shot], table: RawTable, numbers: Callable[[], Collection[str]]
) -> tuple[tuple[Shot, ...], list[Problem]]:
    """Ask about "12/3A" where the line has both a structure 12/3 and an inserted structure 12/3A."""
    glued = {shot.description for shot in shots if _GLUED.search(shot.description)}
    other = {text: inserted_reading(text) for text in glued}
    if not any(other.values()):
        return tuple(shots), []
    known = numbers()
    kept, asked = [], []
    for shot in shots:
        inserted = other.get(shot.description, "")
        if inserted and inserted in known and shot.structure in known:
            asked.append(_question(shot, inserted, table))
            shot = replace(shot, structure="", pole="", item="other")  # noqa: PLW2901 - not used as a pole
        kept.append(shot)
    return tuple(kept), asked


def _question(shot: Shot, inserted: str, table: RawTable) -> Problem:
    return Problem(
        file=table.file,
        row=shot.row,
        column="description",
        value=shot.description,
        reason=f"may be pole {shot.pole} of {shot.structure} or structure {inserted}; both are on the line, "
        "so the shot is kept and not used",
        remedy=f"write {shot.structure} {shot.pole}, or {inserted} and the pole",
        severity=Severity.NOTED,
    )
