"""Structure lists and pole schedules: every state kept, and what each changed against the one before."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from itertools import repeat
from typing import Any, Unpack

import numpy as np
from sqlalchemy import ColumnElement, Connection, and_, func, insert, select

from linemap.domain.design.number import number_key
from linemap.domain.design.renumbered import renumbered
from linemap.domain.design.revision import Change, compare
from linemap.domain.design.structure import Pole, Structures
from linemap.domain.kind.compare import RecordChange
from linemap.domain.kind.kind import Code
from linemap.domain.kind.when import Answering
from linemap.geometry.projection import unit_of
from linemap.kinds.registry import DECLARED, POLES
from linemap.store import schema
from linemap.store.columns import insert_columns
from linemap.store.lists import keep_state, load_list
from linemap.store.states import ListState, Origin, current_state, is_in_force, line_of, new_state
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
    """Store a structure list as a line's current one; return what it changes, number by number.

    The structures are of this line only; their line column is not stored, the line's own name is. They know
    their file. What is kept follows a structure that gets another number by its place.

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
    found: tuple[Change, ...] = ()
    followed = found
    if before is not None:
        unit, factor = _rules(connection, line_id)
        old = load_structures(connection, state=before)
        followed = found = compare(old, structures, unit=unit, combined_factor=factor)
        stands_as = renumbered(old, structures, unit) if found else {}
        if stands_as:
            followed = compare(old, structures, unit=unit, combined_factor=factor, stands_as=stands_as)
    made = new_state(connection, "structures", line_id=line_id, **origin)
    columns: dict[str, list[Any]] = {name: getattr(structures, name).tolist() for name in _COLUMNS}
    columns["seq"] = list(range(len(structures)))
    insert_columns(connection, schema.structure, columns, same={"revision_id": made})
    _add_changes(connection, made, followed)
    return found


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
    changed = keep_state(connection, POLES, poles, line_id=line_id, unit=unit, **origin)
    found = sorted(map(_change_of, changed), key=lambda each: (number_key(each.number), each.words))
    made = current_state(connection, "poles", line_id=line_id)
    if made is not None:
        _add_changes(connection, made, found)
    return tuple(found)


def bring_back(
    connection: Connection, state: ListState, earlier: ListState | None, *, now: dt.datetime
) -> tuple[Change, ...] | tuple[RecordChange, ...]:
    """Give the list (of the line, of the part) of a state the rows of an earlier state of it again.

    That is a new state, true from the day from which the one it takes the place of was: that was a mistake.
    `earlier` None = without any row. Return what it changes, which is kept as for any other.
    """
    origin: Origin = {"now": now, "true_from": state.true_from or state.loaded_at.date()}
    if earlier is not None:
        origin |= {"file_id": earlier.file_id, "source_file": earlier.source_file, "label": earlier.label}
    rows = 0 if earlier is None else earlier.id  # no state has that number
    query = select(schema.revision.c.line_id).where(schema.revision.c.id == state.id)
    line_id: int | None = connection.scalar(query)
    if line_id is not None and state.kind == "structures":
        return save_structures(connection, line_id, load_structures(connection, state=rows), **origin)
    kind = DECLARED[state.kind]
    records = load_list(connection, kind, state=rows)
    if line_id is not None and state.kind == "poles":
        return save_poles(connection, line_id, records, **origin)
    carried = None if earlier is None else earlier.carried_from
    unit = LengthUnit.FOOT if line_id is None else _rules(connection, line_id)[0]
    whose: dict[str, Any] = {"line_id": line_id, "part": state.part, "unit": unit}
    return keep_state(connection, kind, records, **whose, carried_from=carried, **origin)


def _change_of(found: RecordChange) -> Change:
    """Return what changes at a pole as a change of its structure."""
    field = {} if found.field is None else asdict(found.field)
    what = "changed" if found.field is not None else found.change
    return Change(number=found.key[0], change=what, values={"pole": found.key[1], **field})


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


def _structure_records(connection: Connection, which: ColumnElement[bool]) -> Sequence[tuple[Any, ...]]:
    """Return (line name, columns...) of the structures of the revisions chosen, line after line.

    They are the driver's own rows: to make SQLAlchemy's of them takes as long as to read them.
    """
    table, revision = schema.structure, schema.revision
    query = (
        select(schema.line.c.name, *(table.c[name] for name in _COLUMNS))
        .select_from(table)
        .join(revision, table.c.revision_id == revision.c.id)
        .join(schema.line, revision.c.line_id == schema.line.c.id)
        .where(which)
        .order_by(revision.c.line_id, table.c.seq)
    )
    found = connection.execute(query)
    if found.cursor is None:
        raise TypeError("the structures are no rows")
    with closing(found):
        return found.cursor.fetchall()


def _structures(records: Sequence[tuple[Any, ...]], *, source_file: str = "") -> Structures:
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
