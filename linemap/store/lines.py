"""Lines: their rules, centrelines and station equations."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import chain, islice, repeat
from typing import Any

import numpy as np
from sqlalchemy import Connection, Table, insert, select, update

from linemap.domain.design.line import Centreline, Limits, Line, PoleASide, StationEquation
from linemap.domain.kind.compare import RecordChange
from linemap.errors import Conflict, NotFound
from linemap.geometry.projection import unit_of
from linemap.geometry.station import Stationing
from linemap.kinds.registry import EQUATIONS
from linemap.store import schema
from linemap.store.columns import insert_columns
from linemap.store.database import bump
from linemap.store.lists import keep_list, load_list
from linemap.store.revisions import new_revision


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRecord:
    """A line as declared, whether or not its lists are loaded yet."""

    id: int
    name: str
    back_end: str
    ahead_end: str
    crs: str
    #: Grid length = ground length x combined factor; None = not declared.
    combined_factor: float | None
    #: Station at the first vertex, ground unit.
    start_station: float
    pole_a: PoleASide
    limits: Limits


def add_line(
    connection: Connection,
    *,
    name: str,
    crs: str,
    back_end: str = "",
    ahead_end: str = "",
    combined_factor: float | None = None,
    start_station: float = 0.0,
    pole_a: PoleASide = "left",
    limits: Limits | None = None,
) -> int:
    """Add a line and return its identifier.

    Raises
    ------
    Conflict
        If the job has a line of that name.
    InputRefused
        If the coordinate reference is unknown, geographic, or has no linear unit.
    """
    unit_of(crs)
    if connection.scalar(select(schema.line.c.id).where(schema.line.c.name == name)) is not None:
        raise Conflict(f'the job already has a line "{name}"; choose another name')
    query = insert(schema.line).values(
        name=name,
        back_end=back_end,
        ahead_end=ahead_end,
        crs=crs,
        combined_factor=combined_factor,
        start_station=start_station,
        pole_a=pole_a,
        settings={"limits": asdict(limits or Limits())},
    )
    line_id: int = connection.execute(query.returning(schema.line.c.id)).scalar_one()
    bump(connection)
    return line_id


def list_lines(connection: Connection) -> tuple[LineRecord, ...]:
    """Return all lines in the order they were added."""
    rows = connection.execute(select(schema.line).order_by(schema.line.c.id))
    return tuple(_record(dict(row._mapping)) for row in rows)


def declare_factor(connection: Connection, combined_factor: float | None) -> None:
    """Set the combined factor of every line; None = not declared, or computed."""
    connection.execute(update(schema.line).values(combined_factor=combined_factor))
    bump(connection)


def save_centreline(
    connection: Connection,
    line_id: int,
    centreline: Centreline,
    *,
    file_id: int | None = None,
    label: str = "",
    now: dt.datetime,
) -> int:
    """Store a centreline as a line's current one and return the revision's identifier."""
    revision_id = new_revision(
        connection,
        line_id,
        kind="centreline",
        source_file=centreline.source_file,
        file_id=file_id,
        label=label,
        now=now,
    )
    count = len(centreline.easting)
    columns: dict[str, list[Any]] = {
        "seq": list(range(count)),
        "easting": centreline.easting.tolist(),
        "northing": centreline.northing.tolist(),
        "name": list(islice(chain(centreline.names, repeat("")), count)),
    }
    insert_columns(connection, schema.vertex, columns, same={"revision_id": revision_id})
    return revision_id


def save_equations(
    connection: Connection, line_id: int, equations: Sequence[StationEquation], **of_file: Any
) -> tuple[RecordChange, ...]:
    """Keep the station equations of a line, as `keep_list` does with what is known of their file.

    Raises
    ------
    ValueError
        If the equations do not follow each other (see `Stationing.from_pairs`); nothing is stored.
    NotFound
        If there is no such line.
    """
    table = schema.line
    query = select(table.c.name, table.c.start_station, table.c.crs).where(table.c.id == line_id)
    found = connection.execute(query).first()
    if found is None:
        raise NotFound(f"the job has no line with the identifier {line_id}")
    Stationing.from_pairs(found.start_station, [(each.back, each.ahead) for each in equations])
    mine = [replace(each, line=found.name) for each in equations]
    unit = unit_of(found.crs)
    return keep_list(connection, EQUATIONS, mine, line_id=line_id, unit=unit, **of_file)


def load_lines(connection: Connection) -> tuple[Line, ...]:
    """Return the lines that have a centreline, in the order they were added."""
    points = _current(connection, schema.vertex)
    pairs: dict[str, list[StationEquation]] = {}
    for each in load_list(connection, EQUATIONS):
        pairs.setdefault(each.line, []).append(each)
    return tuple(
        _line(record, points[record.id], pairs.get(record.name, []))
        for record in list_lines(connection)
        if record.id in points
    )


def _record(row: dict[str, Any]) -> LineRecord:
    settings = row.pop("settings")
    return LineRecord(**row, limits=Limits(**settings["limits"]))


def _current(connection: Connection, table: Table) -> Mapping[int, list[Any]]:
    """Return the rows of all current revisions by line identifier, in order."""
    revision = schema.revision
    query = (
        select(revision.c.line_id, revision.c.source_file, table)
        .join(table, table.c.revision_id == revision.c.id)
        .where(revision.c.is_current)
        .order_by(revision.c.line_id, table.c.seq)
    )
    gathered: dict[int, list[Any]] = {}
    for row in connection.execute(query):
        gathered.setdefault(row.line_id, []).append(row)
    return gathered


def _line(record: LineRecord, points: list[Any], pairs: list[StationEquation]) -> Line:
    names = tuple(point.name for point in points)
    return Line(
        name=record.name,
        crs=record.crs,
        unit=unit_of(record.crs),
        centreline=Centreline(
            easting=np.array([point.easting for point in points], dtype=np.float64),
            northing=np.array([point.northing for point in points], dtype=np.float64),
            names=names if any(names) else (),
            source_file=points[0].source_file,
        ),
        back_end=record.back_end,
        ahead_end=record.ahead_end,
        combined_factor=1.0 if record.combined_factor is None else record.combined_factor,
        combined_factor_declared=record.combined_factor is not None,
        stationing=Stationing.from_pairs(record.start_station, [(pair.back, pair.ahead) for pair in pairs]),
        pole_a=record.pole_a,
        limits=record.limits,
    )
