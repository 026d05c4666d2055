"""Structure lists and pole schedules: every state kept, and what each changed against the one before."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from itertools import repeat
from typing import Any, Unpack

import numpy as np
from sqlalchemy import ColumnElement, Connection, Row, and_, func, insert, literal, select

from linemap.domain.design.number import number_key
from linemap.domain.design.revision import Change, compare
from linemap.domain.design.structure import Pole, Structures
from linemap.domain.kind.compare import RecordChange, compare_records
from linemap.domain.kind.kind import Code
from linemap.domain.kind.when import Answering
from linemap.geometry.projection import unit_of
from linemap.kinds.registry import DECLARED, POLES
from linemap.store import schema
from linemap.store.columns import insert_columns
from linemap.store.lists import (
    ListState,
    Origin,
    current_state,
    is_in_force,
    keep_list,
    line_of,
    load_as_listed,
    new_state,
)
from linemap.units import LengthUnit

_COLUMNS = tuple(column.name for column in schema.structure.c if column.name not in {"revision_id", "seq"})


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedChange:
    """What one state of a list of structures or poles changed at one structure."""

    #: Label and kind of the state that brought the change, and when it came.
    label: str
    kind: Code
    loaded_at: dt.datetime
    change: Change


def save_structures(
    connection: Connection, line_id: int, structures: Structures, **origin: Unpack[Origin]
) -> tuple[Change, ...]:
    """Store a structure list as a line's current one; return what it changes, which is kept too.

    The structures are of this line only; their line column is not stored, the line's own name is. They know
    their file.

    Raises
    ------
    NotFound
        If there is no such line.
    ValueError
        If the structures name more than one line.
    """
    if len(set(structures.line)) > 1:
        raise ValueError(f"the list names several lines: {', '.join(sorted(set(structures.line)))}")
    origin = {**origin, "source_file": structures.source_file}
    before = current_state(connection, "structures", line_id=line_id)
    found = [] if before is None else _moves(connection, line_id, structures, before)
    made = new_state(connection, "structures", line_id=line_id, **origin)
    columns: dict[str, list[Any]] = {name: getattr(structures, name).tolist() for name in _COLUMNS}
    columns["seq"] = list(range(len(structures)))
    insert_columns(connection, schema.structure, columns, same={"revision_id": made})
    _add_changes(connection, made, found)
    return tuple(found)


def _moves(connection: Connection, line_id: int, structures: Structures, before: int) -> list[Change]:
    """Return what a structure list changes against an earlier state."""
    unit, factor = _rules(connection, line_id)
    old = load_structures(connection, state=before)
    return list(compare(old, structures, unit=unit, combined_factor=factor))


def load_structures(
    connection: Connection, *, state: int | None = None, then: Answering | None = None
) -> Structures:
    """Return the structures of all lines, line after line, or those of one state of a line's list.

    `then` is what answers at another time; None = now. In the order of their lists; `source_file` is empty
    when they came from several files.
    """
    of_kind = schema.revision.c.kind == "structures"
    which = and_(is_in_force(then), of_kind) if state is None else schema.revision.c.id == state
    sources = set(connection.scalars(select(schema.revision.c.source_file).where(which)))
    return _structures(
        _structure_records(connection, which), source_file=sources.pop() if len(sources) == 1 else ""
    )


def count_structures(connection: Connection) -> tuple[int, int]:
    """Return how many structures the job has, and how many of them have a ground elevation."""
    table = schema.structure
    query = select(func.count(), func.count(table.c.elevation)).select_from(
        table.join(schema.revision, table.c.revision_id == schema.revision.c.id)
    )
    everything, elevated = connection.execute(query.where(schema.revision.c.is_current)).one()
    return everything, elevated


def save_poles(
    connection: Connection, line_id: int, poles: Sequence[Pole], **origin: Unpack[Origin]
) -> tuple[Change, ...]:
    """Store a pole schedule as a line's current one; return what it changes, which is kept too.

    Raises
    ------
    NotFound
        If there is no such line.
    """
    unit, _ = _rules(connection, line_id)
    found = _sizes(keep_list(connection, POLES, poles, line_id=line_id, unit=unit, **origin))
    state = current_state(connection, "poles", line_id=line_id)
    if state is not None:
        _add_changes(connection, state, found)
    return tuple(found)


def _sizes(found: Iterable[RecordChange]) -> list[Change]:
    """Return what changes at poles as changes of their structures."""
    return sorted(map(_change_of, found), key=lambda each: (number_key(each.number), each.words))


def bring_back(
    connection: Connection, state: ListState, earlier: int | None, **origin: Unpack[Origin]
) -> int:
    """Give the list (of the line, of the part) of a state the rows of an earlier state of it again.

    That is a new state, true from the day from which the one it takes the place of was: that was a mistake.
    `earlier` None = without any row. What it changes is kept as for any other.
    """
    origin = {**origin, "true_from": state.true_from or state.loaded_at.date()}
    line_id = connection.scalar(select(schema.revision.c.line_id).where(schema.revision.c.id == state.id))
    before = current_state(connection, state.kind, line_id=line_id, part=state.part)
    carried = connection.scalar(select(schema.revision.c.carried_from).where(schema.revision.c.id == earlier))
    made = new_state(connection, state.kind, line_id=line_id, part=state.part, carried_from=carried, **origin)
    if earlier is not None:
        _copy_state(connection, state.kind, earlier, made)
    if line_id is not None and before is not None:
        if state.kind == "structures":
            brought = load_structures(connection, state=made)
            _add_changes(connection, made, _moves(connection, line_id, brought, before))
        if state.kind == "poles":
            was, now = (load_as_listed(connection, POLES, state=each) for each in (before, made))
            unit, _ = _rules(connection, line_id)
            _add_changes(connection, made, _sizes(compare_records(POLES, was, now, unit=unit)))
    return made


def _copy_state(connection: Connection, kind: Code, state: int, into: int) -> None:
    """Give a new state of a list the rows of an earlier one."""
    table = schema.metadata.tables[DECLARED[kind].table or "structure"]
    rest = [column for column in table.c if column.name != "revision_id"]
    rows = select(literal(into), *rest).where(table.c.revision_id == state)
    connection.execute(insert(table).from_select([table.c.revision_id, *rest], rows))


def _change_of(found: RecordChange) -> Change:
    """Return what changes at a pole as a change of its structure."""
    field = {} if found.field is None else asdict(found.field)
    what = "changed" if found.field is not None else found.change
    return Change(number=found.key[0], change=what, values={"part": found.name_there, **field})


def _add_changes(connection: Connection, state: int, found: Iterable[Change]) -> None:
    rows = [
        {
            "revision_id": state,
            "seq": seq,
            "number": each.number,
            "change": each.change,
            "details": dict(each.values),
        }
        for seq, each in enumerate(found)
    ]
    if rows:
        connection.execute(insert(schema.structure_change), rows)


def load_changes(
    connection: Connection, of_line: str | None = None, *, states: Iterable[int] | None = None
) -> tuple[RecordedChange, ...]:
    """Return what the states of a line's lists changed, in the order they were loaded.

    `of_line` None = of every line; `states` None = of all of them, else of those alone.
    """
    table, revision, line = schema.structure_change, schema.revision, schema.line
    chosen: list[ColumnElement[bool]] = []
    if of_line is not None:
        chosen.append(line.c.name == of_line)
    if states is not None:
        chosen.append(revision.c.id.in_(list(states)))
    query = (
        select(revision.c.label, revision.c.kind, revision.c.loaded_at)
        .add_columns(table.c.number, table.c.change, table.c.details)
        .join(revision, table.c.revision_id == revision.c.id)
        .join(line, revision.c.line_id == line.c.id)
        .where(*chosen)
        .order_by(revision.c.id, table.c.seq)
    )
    return tuple(
        RecordedChange(
            label=row.label,
            kind=row.kind,
            loaded_at=row.loaded_at,
            change=Change(number=row.number, change=row.change, values=row.details),
        )
        for row in connection.execute(query)
    )


def _structure_records(connection: Connection, which: ColumnElement[bool]) -> Sequence[Row[Any]]:
    """Return (line name, columns...) of the structures of the revisions chosen, line after line."""
    table, revision = schema.structure, schema.revision
    query = (
        select(schema.line.c.name, *(table.c[name] for name in _COLUMNS))
        .select_from(table)
        .join(revision, table.c.revision_id == revision.c.id)
        .join(schema.line, revision.c.line_id == schema.line.c.id)
        .where(which)
        .order_by(revision.c.line_id, table.c.seq)
    )
    return connection.execute(query).all()


def _structures(records: Sequence[Row[Any]], *, source_file: str = "") -> Structures:
    """Turn rows into columns; NULL becomes nan."""
    names = ("line", *_COLUMNS)
    columns = zip(*records, strict=True) if records else repeat((), len(names))
    arrays: dict[str, Any] = {
        name: np.array(column, dtype=_dtype(name)) for name, column in zip(names, columns, strict=True)
    }
    return Structures(**arrays, source_file=source_file)


def _dtype(name: str) -> Any:
    kind = str if name == "line" else schema.structure.c[name].type.python_type
    return {str: object, float: np.float64, int: np.int64, bool: np.bool_}[kind]


def _rules(connection: Connection, line_id: int) -> tuple[LengthUnit, float]:
    """Return the unit and the combined factor of a line, 1.0 where none is declared."""
    found = line_of(connection, line_id)
    return unit_of(found.crs), found.combined_factor or 1.0
