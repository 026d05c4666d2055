"""Lists: the states of those that are replaced or kept by key, and those that only grow.

A new file of a list is a new state of it: of the whole list, of one line's, or of one part (layer). Older
states are kept and can be read by their identifier, so that what a file takes away can be named and what was
known on a day stays known.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Required, TypedDict, TypeVar, Unpack

from sqlalchemy import ColumnElement, Connection, Row, func, insert, select, update

from linemap.domain.design.naming import naming_fields, respelled
from linemap.domain.kind.compare import RecordChange, compare_records, merged, name_of, unnamed
from linemap.domain.kind.kind import Code, Keeps, Kind, columns_of, kept_of
from linemap.domain.kind.when import Answering
from linemap.errors import Conflict, InputRefused, NotFound
from linemap.store.columns import from_stored, insert_columns, record_of, stored, with_clock
from linemap.store.database import bump
from linemap.store.naming import listed_numbers
from linemap.store.schema import counted, file, line, metadata, revision
from linemap.units import LengthUnit

R = TypeVar("R")


class Origin(TypedDict, total=False):
    """Where a state of a list comes from."""

    #: File it was loaded from; left out = entered otherwise.
    file_id: int | None
    source_file: str
    #: What its owner calls it: "Rev C".
    label: str
    #: When it came in, with its time zone, and the day from which it is true; None = from then.
    now: Required[dt.datetime]
    true_from: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ListState:
    """One state of a list, or of one part of it."""

    #: By which `load_list` reads it.
    id: int
    kind: Code
    #: Line it is of; "" = of the job.
    line: str
    #: Part it is of, such as a layer; "" = it has no parts.
    part: str
    #: File it was loaded from; None = entered otherwise.
    file_id: int | None
    source_file: str
    #: Who loaded the file; "" = not known.
    loaded_by: str
    label: str
    #: With the time zone of the clock by which it came in.
    loaded_at: dt.datetime
    #: Day from which it is true; None = the day it came in.
    true_from: dt.date | None
    #: State whose records its file left as they were; None = it left none.
    carried_from: int | None
    is_current: bool


def line_of(connection: Connection, line_id: int) -> Row[Any]:
    """Return what is declared of a line, or say that there is none (`NotFound`)."""
    found = connection.execute(select(line).where(line.c.id == line_id)).first()
    if found is None:
        raise NotFound(f"the job has no line with the identifier {line_id}")
    return found


def current_state(
    connection: Connection, kind: Code, *, line_id: int | None = None, part: str = ""
) -> int | None:
    """Return the current state of a list, of a line (`NotFound`) or part of it; None = none yet."""
    if line_id is not None:
        line_of(connection, line_id)
    query = select(revision.c.id).where(revision.c.is_current)
    return connection.scalar(query.filter_by(kind=kind, part=part, line_id=line_id))


def check_true_from(true_from: dt.date | None, now: dt.datetime) -> None:
    """Refuse (`InputRefused`) what is to be true only from a day that has not come."""
    if true_from is not None and true_from > now.date():
        remedy = "leave it out, or say it when that day has come"
        raise InputRefused.at("--true-from", true_from.isoformat(), "lies ahead", remedy)


def new_state(
    connection: Connection,
    kind: Code,
    *,
    line_id: int | None = None,
    part: str = "",
    carried_from: int | None = None,
    **origin: Unpack[Origin],
) -> int:
    """Start the current state of a list, or of a line or part of it, and return its identifier.

    `carried_from` is the state of which records are carried over. `InputRefused` = it is to be true only from
    a day that has not come.
    """
    check_true_from(origin.get("true_from"), origin["now"])
    whose = {"kind": kind, "part": part, "line_id": line_id}
    connection.execute(update(revision).filter_by(**whose).values(is_current=False))
    query = insert(revision).values(
        **whose,
        file_id=origin.get("file_id"),
        source_file=origin.get("source_file", ""),
        label=origin.get("label", ""),
        **with_clock("loaded_at", origin["now"]),
        true_from=origin.get("true_from"),
        carried_from=carried_from,
        is_current=True,
    )
    made: int = connection.execute(query.returning(revision.c.id)).scalar_one()
    bump(connection)
    return made


def keep_list(
    connection: Connection,
    kind: Kind[R],
    records: Sequence[R],
    *,
    line_id: int | None = None,
    unit: LengthUnit = LengthUnit.FOOT,
    ends: bool = False,
    **origin: Unpack[Origin],
) -> tuple[RecordChange, ...]:
    """Put the records of a file into a list as its kind keeps them; return what that changes.

    Of a list that grows, the records that are new are added. Of one that is replaced, they are its state from
    now on: of the whole list, of the list of the line given, or of each part (line, layer) they name. Of one
    kept by key, they are added to its state and take the place of those with their keys; others stay, unless
    `ends` says that what the file does not name is over.

    Returns
    -------
    tuple of RecordChange
        Against the state before; () for the first state of a list, and for lists that only grow.
    """
    if kind.keeps is Keeps.GROWS:
        add_records(connection, kind, records, file_id=origin.get("file_id"))
        return ()
    changes: list[RecordChange] = []
    for part, named in _parts(kind, records).items():
        before, mine = current_state(connection, kind.code, line_id=line_id, part=part), named
        if before is not None and kind.keeps is Keeps.KEYED and not ends:
            mine = merged(kind, load_as_listed(connection, kind, state=before), named)
        carried = before if len(mine) > len(named) else None
        whose: dict[str, Any] = {"line_id": line_id, "part": part, "unit": unit}
        changes += keep_state(connection, kind, mine, **whose, carried_from=carried, **origin)
    return tuple(changes)


def keep_state(
    connection: Connection,
    kind: Kind[R],
    records: Sequence[R],
    *,
    line_id: int | None = None,
    part: str = "",
    unit: LengthUnit = LengthUnit.FOOT,
    carried_from: int | None = None,
    **origin: Unpack[Origin],
) -> tuple[RecordChange, ...]:
    """Make records the current state of a list, or of a line or part of it; return what that changes.

    `carried_from` is as `new_state` takes it.
    """
    before = current_state(connection, kind.code, line_id=line_id, part=part)
    changes: tuple[RecordChange, ...] = ()
    if before is not None:
        was = load_as_listed(connection, kind, state=before)
        changes = compare_records(kind, was, _as_listed(connection, kind, records), unit=unit)
    whose: dict[str, Any] = {"line_id": line_id, "part": part, "carried_from": carried_from}
    made = new_state(connection, kind.code, **whose, **origin)
    insert_records(connection, kind, records, {"revision_id": made}, seq=list(range(len(records))))
    return changes


def not_named(connection: Connection, kind: Kind[R], records: Sequence[R]) -> tuple[str, ...]:
    """Return the names of the records of a list kept by key that a file of it does not name."""
    if kind.keeps is not Keeps.KEYED:
        return ()
    return tuple(name_of(kind, each) for each in unnamed(kind, load_as_listed(connection, kind), records))


def load_list(
    connection: Connection, kind: Kind[R], *, state: int | None = None, then: Answering | None = None
) -> tuple[R, ...]:
    """Return the records of a list in the order of its files.

    Parameters
    ----------
    state : int, optional
        Of this earlier state, by its revision; None = of the current one, in all its parts.
    then : Answering, optional
        What answers at another time; None = now. What records say of days is left to whoever asks.
    """
    table, columns = metadata.tables[kind.table], columns_of(kind)
    kept = {column.name: table.c[column.column] for column in kept_of(kind)}
    query = select(*(kept.get(column.name, line.c.name) for column in columns))
    query = query.order_by(*([revision.c.line_id] if kind.of_line else []), *table.primary_key)
    if kind.keeps is not Keeps.GROWS:
        query = query.join(revision, table.c.revision_id == revision.c.id)
        query = query.where(is_in_force(then) if state is None else revision.c.id == state)
    else:
        query = query.where(counted(table, None if then is None else then.aside | then.unknown))
    if kind.of_line:
        query = query.join(line, revision.c.line_id == line.c.id)
    names, back = [column.name for column in columns], [from_stored(column) for column in columns]
    return tuple(
        kind.record(
            **{
                name: value if change is None else change(value)
                for name, change, value in zip(names, back, row, strict=True)
            }
        )
        for row in connection.execute(query)
    )


def load_as_listed(connection: Connection, kind: Kind[R], *, state: int | None = None) -> tuple[R, ...]:
    """Return the records of a list as `load_list` does, their structures named as the job lists them now."""
    return _as_listed(connection, kind, load_list(connection, kind, state=state))


def _as_listed(connection: Connection, kind: Kind[R], records: Sequence[R]) -> tuple[R, ...]:
    record: Any = kind.record
    if not (records and naming_fields(record)):
        return tuple(records)
    listed = listed_numbers(connection)
    return tuple(respelled(each, listed) for each in records)


def is_in_force(then: Answering | None) -> ColumnElement[bool]:
    """Return what holds of the states of lists in force now, or at another time."""
    return revision.c.is_current if then is None else revision.c.id.in_(sorted(then.in_force))


def list_states(connection: Connection, kind: Code | None = None) -> tuple[ListState, ...]:
    """Return the states of a list, or of all lists, in the order they were loaded."""
    table = revision.outerjoin(line, revision.c.line_id == line.c.id)
    table = table.outerjoin(file, revision.c.file_id == file.c.id)
    named = {
        "line": func.coalesce(line.c.name, "").label("line"),
        "loaded_by": func.coalesce(file.c.loaded_by, "").label("loaded_by"),
    }
    columns = [named[name] if name in named else revision.c[name] for name in ListState.__dataclass_fields__]
    query = select(*columns, revision.c.loaded_offset_s).select_from(table).order_by(revision.c.id)
    if kind is not None:
        query = query.where(revision.c.kind == kind)
    return tuple(record_of(ListState, row, "loaded_at") for row in connection.execute(query))


def _parts(kind: Kind[R], records: Sequence[R]) -> Mapping[str, Sequence[R]]:
    if not kind.part:
        return {"": records}
    parts: dict[str, list[R]] = {}
    for record in records:
        parts.setdefault(str(getattr(record, kind.part)), []).append(record)
    return parts


def insert_records(
    connection: Connection, kind: Kind[R], records: Sequence[R], same: Mapping[str, Any], **more: list[int]
) -> None:
    """Insert records into the table of their kind; `same` and `more` are its other columns."""
    if not records:
        return
    columns: dict[str, list[Any]] = {
        column.column: [stored(getattr(record, column.name)) for record in records]
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
    there = set(load_as_listed(connection, kind))
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
