"""Lines: their rules, centrelines and station equations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import chain, repeat
from types import MappingProxyType
from typing import Any, TypeVar, Unpack

import numpy as np
from sqlalchemy import Connection, insert, select, update

from linemap.domain.design.line import Centreline, Limits, Line, PoleASide, StationEquation, Vertex
from linemap.domain.kind.compare import RecordChange
from linemap.domain.kind.kind import Kind
from linemap.domain.kind.when import Answering
from linemap.errors import Conflict
from linemap.geometry.projection import unit_of
from linemap.geometry.station import Stationing
from linemap.kinds.columns import CENTRELINE
from linemap.kinds.registry import EQUATIONS
from linemap.store import schema
from linemap.store.database import bump
from linemap.store.lists import keep_list, load_list
from linemap.store.states import Origin, line_of, list_states
from linemap.units import LengthUnit

R = TypeVar("R")


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


#: What every line keeps of the settings of its job.
OF_LINES = ("back_end", "ahead_end", "combined_factor", "start_station", "pole_a")


def declare_lines(connection: Connection, **declared: Any) -> None:
    """Set a column of every line: ends, combined factor (None = not declared, or computed), side of pole A.

    Raises
    ------
    ValueError
        If `start_station` does not go before the equations of a line (see `Stationing.from_pairs`).
    """
    if "start_station" in declared:
        for pairs in _by_line(connection, EQUATIONS).values():
            Stationing.from_pairs(declared["start_station"], [(each.back, each.ahead) for each in pairs])
    connection.execute(update(schema.line).values(**declared))
    bump(connection)


def save_centreline(
    connection: Connection, line_id: int, centreline: Centreline, **origin: Unpack[Origin]
) -> tuple[RecordChange, ...]:
    """Store a centreline, which knows its file, as a line's current one; return what that changes."""
    name, unit, _ = _rules(connection, line_id)
    names = chain(centreline.names, repeat(""))
    vertices = [
        Vertex(line=name, name=each, easting=easting, northing=northing)
        for each, easting, northing in zip(
            names, centreline.easting.tolist(), centreline.northing.tolist(), strict=False
        )
    ]
    origin = {**origin, "source_file": centreline.source_file}
    return keep_list(connection, CENTRELINE, vertices, line_id=line_id, unit=unit, **origin)


def save_equations(
    connection: Connection, line_id: int, equations: Sequence[StationEquation], **origin: Unpack[Origin]
) -> tuple[RecordChange, ...]:
    """Keep the station equations of a line, as `keep_list` does.

    Raises
    ------
    ValueError
        If the equations do not follow each other (see `Stationing.from_pairs`); nothing is stored.
    NotFound
        If there is no such line.
    """
    name, unit, start = _rules(connection, line_id)
    Stationing.from_pairs(start, [(each.back, each.ahead) for each in equations])
    mine = [replace(each, line=name) for each in equations]
    return keep_list(connection, EQUATIONS, mine, line_id=line_id, unit=unit, **origin)


def _rules(connection: Connection, line_id: int) -> tuple[str, LengthUnit, float]:
    """Return name, unit and station of the first vertex of a line."""
    found = line_of(connection, line_id)
    return found.name, unit_of(found.crs), found.start_station


def load_lines(
    connection: Connection,
    *,
    then: Answering | None = None,
    declared: Mapping[str, Mapping[str, Any]] = MappingProxyType({}),
) -> tuple[Line, ...]:
    """Return the lines that have a centreline, in the order they were added.

    `then` is what answers at another time, and `declared` what each line, by its name, kept of the settings
    then; None and none = now.
    """
    points, pairs = _by_line(connection, CENTRELINE, then), _by_line(connection, EQUATIONS, then)
    files = {
        each.line: each.source_file
        for each in list_states(connection, "centreline")
        if (each.is_current if then is None else each.id in then.in_force)
    }
    return tuple(
        _line(
            replace(record, **declared.get(record.name, {})),
            points[record.name],
            pairs.get(record.name, []),
            files[record.name],
        )
        for record in list_lines(connection)
        if record.name in points
    )


def _by_line(connection: Connection, kind: Kind[R], then: Answering | None = None) -> dict[str, list[R]]:
    found: dict[str, list[R]] = {}
    for each in load_list(connection, kind, then=then):
        found.setdefault(each.line, []).append(each)  # type: ignore[attr-defined] # lists of lines name it
    return found


def _record(row: dict[str, Any]) -> LineRecord:
    settings = row.pop("settings")
    return LineRecord(**row, limits=Limits(**settings["limits"]))


def _line(
    record: LineRecord, points: Sequence[Vertex], pairs: Sequence[StationEquation], source_file: str
) -> Line:
    names = tuple(point.name for point in points)
    return Line(
        name=record.name,
        crs=record.crs,
        unit=unit_of(record.crs),
        centreline=Centreline(
            easting=np.array([point.easting for point in points], dtype=np.float64),
            northing=np.array([point.northing for point in points], dtype=np.float64),
            names=names if any(names) else (),
            source_file=source_file,
        ),
        back_end=record.back_end,
        ahead_end=record.ahead_end,
        combined_factor=1.0 if record.combined_factor is None else record.combined_factor,
        combined_factor_declared=record.combined_factor is not None,
        stationing=Stationing.from_pairs(record.start_station, [(pair.back, pair.ahead) for pair in pairs]),
        pole_a=record.pole_a,
        limits=record.limits,
    )
