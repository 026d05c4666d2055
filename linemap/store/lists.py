"""Lists: those that have states (`linemap.store.states`), and those that only grow."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar, Unpack

from sqlalchemy import Connection, select

from linemap.domain.design.naming import ListedNumbers, naming_fields, respelled
from linemap.domain.kind.compare import RecordChange, compare_records, merged, name_of, unnamed
from linemap.domain.kind.kind import Keeps, Kind, columns_of, kept_of
from linemap.domain.kind.when import Answering
from linemap.errors import Conflict
from linemap.kinds.registry import TYPES
from linemap.store.columns import from_stored, insert_columns, stored
from linemap.store.database import bump
from linemap.store.schema import counted, line, metadata, revision, structure
from linemap.store.states import Origin, current_state, is_in_force, new_state
from linemap.units import LengthUnit

R = TypeVar("R")


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


def listed_numbers(connection: Connection) -> ListedNumbers:
    """Return the numbers of the current structure lists; the type table may know of more poles."""
    table, types = structure, metadata.tables[TYPES.table]
    known = select(types.c.code, types.c.pole_count).join(revision, types.c.revision_id == revision.c.id)
    poles = {row.code: row.pole_count for row in connection.execute(known.where(revision.c.is_current))}
    query = (
        select(line.c.name, table.c.number, table.c.pole_count, table.c.type_code)
        .join(revision, table.c.revision_id == revision.c.id)
        .join(line, revision.c.line_id == line.c.id)
        .where(revision.c.is_current)
    )
    listed: dict[str, dict[str, int]] = {}
    for name, number, count, code in connection.execute(query):
        listed.setdefault(name, {})[number] = max(count, poles.get(code, 0))
    return ListedNumbers(listed)


def load_as_listed(connection: Connection, kind: Kind[R], *, state: int | None = None) -> tuple[R, ...]:
    """Return the records of a list as `load_list` does, their structures named as the job lists them now."""
    return _as_listed(connection, kind, load_list(connection, kind, state=state))


def _as_listed(connection: Connection, kind: Kind[R], records: Sequence[R]) -> tuple[R, ...]:
    record: Any = kind.record
    if not (records and naming_fields(record)):
        return tuple(records)
    listed = listed_numbers(connection)
    return tuple(respelled(each, listed) for each in records)


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
