"""Declared lists: the states of those that are replaced, and those that only grow.

A new file of a list is a new state of it, whole or of one part; older states are kept and can be read by
their revision, so that what a file takes away can be named and what was known on a day stays known.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, TypeVar

from shapely import Geometry, from_geojson, to_geojson
from sqlalchemy import Connection, insert, select, update

from linemap.domain.kind.compare import RecordChange, compare_records, name_of
from linemap.domain.kind.kind import Column, Keeps, Kind, columns_of, kept_of
from linemap.errors import Conflict
from linemap.store.columns import insert_columns, null_for_nan
from linemap.store.database import bump
from linemap.store.schema import line, metadata, revision
from linemap.units import LengthUnit

R = TypeVar("R")


@dataclass(frozen=True, slots=True, kw_only=True)
class ListState:
    """One state of a list, or of one part of it."""

    #: Its revision, by which `load_list` reads it.
    id: int
    #: The line or layer it is of; "" = of the whole list.
    part: str
    #: File it was loaded from; None = entered otherwise.
    file_id: int | None
    source_file: str
    label: str
    loaded_at: dt.datetime
    is_current: bool


def keep_list(
    connection: Connection,
    kind: Kind[R],
    records: Sequence[R],
    *,
    line_id: int | None = None,
    file_id: int | None = None,
    source_file: str = "",
    label: str = "",
    now: dt.datetime,
    unit: LengthUnit = LengthUnit.FOOT,
) -> tuple[RecordChange, ...]:
    """Put the records of a file into a list as its kind keeps them; return what that changes.

    Of a list that grows, the records that are new are added. Of one that is replaced, they are its state from
    now on: of the whole list, of the list of the line given, or of each part (line, layer) they name.

    Returns
    -------
    tuple of RecordChange
        Against the state before; () for the first state of a list, and for lists that only grow.
    """
    if kind.keeps is Keeps.GROWS:
        add_records(connection, kind, records, file_id=file_id)
        return ()
    changes: list[RecordChange] = []
    for part, mine in _parts(kind, records).items():
        whose = {"kind": kind.code, "part": part, "line_id": line_id}
        before = _current(connection, whose)
        made = _new_state(
            connection, whose, file_id=file_id, source_file=source_file, label=label, loaded_at=now
        )
        insert_records(connection, kind, mine, {"revision_id": made}, seq=list(range(len(mine))))
        if before is not None:
            changes += compare_records(kind, load_list(connection, kind, state=before), mine, unit=unit)
    return tuple(changes)


def load_list(connection: Connection, kind: Kind[R], *, state: int | None = None) -> tuple[R, ...]:
    """Return the records of a list in the order of its files.

    Parameters
    ----------
    state : int, optional
        Of this earlier state, by its revision; None = of the current one, in all its parts.
    """
    table, columns = metadata.tables[kind.table], columns_of(kind)
    kept = {column.name: table.c[column.column] for column in kept_of(kind)}
    query = select(*(kept.get(column.name, line.c.name) for column in columns))
    query = query.order_by(*([revision.c.line_id] if kind.of_line else []), *table.primary_key)
    if kind.keeps is Keeps.STATE:
        which = revision.c.is_current if state is None else revision.c.id == state
        query = query.join(revision, table.c.revision_id == revision.c.id).where(which)
    if kind.of_line:
        query = query.join(line, revision.c.line_id == line.c.id)
    names, back = [column.name for column in columns], [_back(column) for column in columns]
    return tuple(
        kind.record(
            **{
                name: value if change is None else change(value)
                for name, change, value in zip(names, back, row, strict=True)
            }
        )
        for row in connection.execute(query)
    )


def list_states(connection: Connection, kind: Kind[Any]) -> tuple[ListState, ...]:
    """Return the states of a list in the order they were loaded; () for lists that only grow."""
    columns = (revision.c[name] for name in ListState.__dataclass_fields__)
    query = select(*columns).where(revision.c.kind == kind.code).order_by(revision.c.id)
    return tuple(ListState(**row._mapping) for row in connection.execute(query))


def _parts(kind: Kind[R], records: Sequence[R]) -> Mapping[str, Sequence[R]]:
    if not kind.part:
        return {"": records}
    parts: dict[str, list[R]] = {}
    for record in records:
        parts.setdefault(str(getattr(record, kind.part)), []).append(record)
    return parts


def _current(connection: Connection, whose: Mapping[str, Any]) -> int | None:
    return connection.scalar(select(revision.c.id).where(revision.c.is_current).filter_by(**whose))


def _new_state(connection: Connection, whose: Mapping[str, Any], **values: Any) -> int:
    connection.execute(update(revision).filter_by(**whose).values(is_current=False))
    query = insert(revision).values(is_current=True, **whose, **values)
    made: int = connection.execute(query.returning(revision.c.id)).scalar_one()
    bump(connection)
    return made


def insert_records(
    connection: Connection, kind: Kind[R], records: Sequence[R], same: Mapping[str, Any], **more: list[int]
) -> None:
    """Insert records into the table of their kind; `same` and `more` are its other columns."""
    if not records:
        return
    columns: dict[str, list[Any]] = {
        column.column: [_stored(getattr(record, column.name)) for record in records]
        for column in kept_of(kind)
    }
    insert_columns(connection, metadata.tables[kind.table], {**columns, **more}, same=same)


def add_records(
    connection: Connection, kind: Kind[R], records: Iterable[R], *, file_id: int | None = None
) -> int:
    """Add the records to a list that grows that are not there yet, each once; return how many were new.

    A record that a later file no longer names stays.

    Raises
    ------
    Conflict
        If records of the list stand once for each key, and another one of its key is there.
    """
    there = set(load_list(connection, kind))
    fresh = list(dict.fromkeys(record for record in records if record not in there))
    if kind.once:
        _check_once(kind, [*there, *fresh])
    if fresh:
        insert_records(connection, kind, fresh, {"file_id": file_id})
        bump(connection)
    return len(fresh)


def _check_once(kind: Kind[R], records: Iterable[R]) -> None:
    names = Counter(name_of(kind, record) for record in records)
    for name, count in names.items():
        if count > 1:
            raise Conflict(f"{name} is there already; {kind.refusal}")


def _stored(value: Any) -> Any:
    if isinstance(value, tuple):
        return [each.isoformat() if isinstance(each, dt.date) else each for each in value]
    if isinstance(value, Geometry):
        return to_geojson(value)
    if isinstance(value, Mapping):
        return dict(value)
    return int(value) if isinstance(value, IntEnum) else null_for_nan(value)


def _back(column: Column) -> Callable[[Any], Any] | None:
    """Return what makes a stored value the field's; None = it is already."""
    if column.type is tuple:
        return tuple if column.item is not dt.date else lambda days: tuple(map(dt.date.fromisoformat, days))
    if column.type is Geometry:
        return from_geojson
    return column.type if issubclass(column.type, IntEnum) else None
