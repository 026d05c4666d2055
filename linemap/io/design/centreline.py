"""Centrelines: rows of points or lines of a vector file become vertices."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from linemap.domain.design.line import Centreline
from linemap.domain.design.structure import FloatArray
from linemap.geometry.projection import Projection
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.likeness import leave_out_strangers
from linemap.io.cells.position import Positions, geometry_to_grid, read_positions
from linemap.io.cells.sheet import sheet_of
from linemap.io.cells.table import Loaded, RawTable, cell_text

_EQUATION = re.compile(r"(?:STA(?:TION)?\s*)?EQ", re.IGNORECASE)
#: What names a vertex or places it.
_NAMING = ("name", "easting", "northing", "longitude", "latitude", "bearing", "distance")
#: Vertices nearer than this are one point, and parts nearer than this join; metres.
_SAME_M = 1e-4


def read_centrelines(
    table: RawTable, *, projection: Projection, line_default: str = ""
) -> Loaded[dict[str, Centreline]]:
    """Read the centreline of every line in a table.

    Rows of points stand in order within each line, though rows of several lines may be mixed. In a vector
    file each line is one feature, or several that join end to start in the order given. A vertex that
    repeats the one before is dropped and noted. Station equation rows have no coordinates and are left
    out here.

    Returns
    -------
    Loaded of dict
        Line name -> centreline, in order of appearance.

    Raises
    ------
    InputRefused
        If a vertex has no usable coordinates, a line has fewer than two different vertices, or the parts
        of a line do not join.
    """
    ledger = Ledger(sheet_of(table, "centreline"))
    if is_drawn(table):
        return ledger.finish(read_drawn(ledger, projection, line_default))
    return ledger.finish(
        {line: pis.centreline for line, pis in read_vertices(ledger, projection, line_default).items()}
    )


def is_drawn(table: RawTable) -> bool:
    """Say whether a table holds whole lines of a vector file, not the points of a list."""
    shapes = table.geometry
    return shapes is not None and not bool(np.isin(shapely.get_type_id(shapes), (-1, 0, 4)).all())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Vertices:
    """The centreline of one line of a list, and the row index of each of its vertices."""

    centreline: Centreline
    rows: tuple[int, ...]


def read_vertices(ledger: Ledger, projection: Projection, line_default: str) -> dict[str, Vertices]:
    """Read the vertices of every line of a list of points, in order of appearance.

    Raises
    ------
    InputRefused
        As `read_centrelines`.
    """
    sheet = ledger.sheet
    places = read_positions(ledger, projection)
    names = sheet.texts("name")
    stand = np.isfinite(places.easting + places.northing)
    unplaced = [index for index in np.flatnonzero(~stand).tolist() if index not in ledger.aside]
    leave_out_strangers(ledger, unplaced, keys=_NAMING, records=np.flatnonzero(stand).tolist())
    for index in unplaced:
        if index not in ledger.left_out:
            _judge_row(ledger, index, names[index], places)
    ledger.check_some_left("easting")
    rows: dict[str, list[int]] = {}
    lines = sheet.texts("line", missing=line_default)
    for index in ledger.kept():
        rows.setdefault(lines[index], []).append(index)
    return {
        line: _one_line(ledger, line, members, places, names, projection) for line, members in rows.items()
    }


def _judge_row(ledger: Ledger, index: int, name: str, places: Positions) -> None:
    equation = bool(_EQUATION.match(name))
    if equation and places.blank[index]:
        ledger.leave_out(index, "name", "a station equation, not a vertex", "load it as equations too")
    elif ledger.is_heading(index) or ledger.is_total(index) or (places.blank[index] and not name):
        ledger.leave_out_idle(index)
    elif index in places.faults:
        ledger.refuse(index, *places.faults[index])
    else:
        reason = f"vertex {name} has no coordinates" if name else "the vertex has no coordinates"
        ledger.refuse(index, places.field, *_unplaced(ledger, index, reason))


def _unplaced(ledger: Ledger, index: int, reason: str) -> tuple[str, str]:
    """Say why a vertex without coordinates is refused; none are computed from a bearing and a distance."""
    written = [name for name in ("bearing", "distance") if cell_text(ledger.sheet.cells(name)[index])]
    if not written:
        return reason, "fill them in, or take the row out"
    said = " and ".join(written)
    return (
        f"{reason}, only a {said}; a position is not made up from them, as nobody says whether they are "
        "grid or ground",
        "ask for the coordinates of the vertex",
    )


def _one_line(
    ledger: Ledger,
    line: str,
    rows: Sequence[int],
    places: Positions,
    names: Sequence[str],
    projection: Projection,
) -> Vertices:
    points = np.column_stack([places.easting[rows], places.northing[rows]])
    again = _repeats(points, projection)
    for position in np.flatnonzero(again).tolist():
        ledger.note(rows[position], places.field, "repeats the vertex before it and is dropped")
    kept = [row for row, drop in zip(rows, again.tolist(), strict=True) if not drop]
    _check_length(ledger, line, len(kept), rows[0])
    titles = tuple(names[row] for row in kept)
    centreline = Centreline.from_points(
        points[~again], names=titles if any(titles) else (), source_file=ledger.sheet.table.file
    )
    return Vertices(centreline=centreline, rows=tuple(kept))


def _repeats(points: FloatArray, projection: Projection) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    near = np.hypot(*np.diff(points, axis=0).T) * projection.unit.metres < _SAME_M
    return np.concatenate([[False], near])


def _check_length(ledger: Ledger, line: str, size: int, row: int) -> None:
    if size < 2:
        of_line = f"the centreline of {line}" if line else "the centreline"
        ledger.refuse(row, "name", f"{of_line} has only one point", "give at least its two ends")


def read_drawn(ledger: Ledger, projection: Projection, line_default: str) -> dict[str, Centreline]:
    """Read the centreline of every line of a vector file, in order of appearance.

    Raises
    ------
    InputRefused
        As `read_centrelines`.
    """
    sheet = ledger.sheet
    column = "line" if "line" in sheet.matches else "name"
    names = sheet.texts(column, missing=line_default)
    parts: dict[str, list[tuple[int, FloatArray]]] = {}
    for index in range(len(sheet)):
        parts.setdefault(names[index], []).extend(_parts(ledger, projection, index))
    ledger.check()
    return {line: _joined(ledger, line, found, projection) for line, found in parts.items()}


def _parts(ledger: Ledger, projection: Projection, index: int) -> list[tuple[int, FloatArray]]:
    shape = None if ledger.sheet.table.geometry is None else ledger.sheet.table.geometry[index]
    if not isinstance(shape, shapely.LineString | shapely.MultiLineString) or shape.is_empty:
        ledger.refuse(index, "geometry", "the feature is no line", "export the centreline as lines, alone")
        return []
    lines = list(shape.geoms) if isinstance(shape, shapely.MultiLineString) else [shape]
    return [(index, _vertices(ledger, projection, index, line)) for line in lines]


def _vertices(ledger: Ledger, projection: Projection, index: int, line: shapely.LineString) -> FloatArray:
    xy = shapely.get_coordinates(line)
    easting, northing = geometry_to_grid(ledger.sheet, projection, xy[:, 0], xy[:, 1])
    if not np.isfinite(easting + northing).all():
        reason = f"a vertex lies outside of what {projection.name} can show"
        ledger.refuse(index, "geometry", reason, "check the coordinates and --crs")
    return np.column_stack([easting, northing])


def _joined(
    ledger: Ledger, line: str, parts: Sequence[tuple[int, FloatArray]], projection: Projection
) -> Centreline:
    unit = projection.unit
    for (_, before), (index, after) in pairwise(parts):
        gap = float(np.hypot(*(after[0] - before[-1])))
        if not gap * unit.metres < 100 * _SAME_M:
            reason = (
                f"parts of line {line} do not join: {gap:,.2f} {unit.symbol} from the end of one to the next"
            )
            ledger.refuse(index, "geometry", reason, "put the parts in order, all running ahead")
    points = np.concatenate([xy for _, xy in parts])
    again = _repeats(points, projection)
    joints = len(parts) - 1
    if int(again.sum()) > joints:
        ledger.note(parts[0][0], "geometry", f"{int(again.sum()) - joints} repeated vertices are dropped")
    _check_length(ledger, line, int((~again).sum()), parts[0][0])
    return Centreline.from_points(points[~again], source_file=ledger.sheet.table.file)
