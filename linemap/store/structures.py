"""Structure lists and pole schedules: every revision kept, and what each changed against the one before."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict
from itertools import repeat
from typing import Any

import numpy as np
from sqlalchemy import ColumnElement, Connection, Row, and_, select

from linemap.domain.design.number import number_key
from linemap.domain.design.revision import Change, compare
from linemap.domain.design.structure import Pole, Structures
from linemap.domain.kind.compare import RecordChange, compare_records
from linemap.geometry.projection import unit_of
from linemap.kinds.registry import POLES
from linemap.store import schema
from linemap.store.columns import insert_columns
from linemap.store.lists import insert_records, load_list
from linemap.store.revisions import Kind, add_changes, current_revision, new_revision
from linemap.units import LengthUnit

_COLUMNS = tuple(column.name for column in schema.structure.c if column.name not in {"revision_id", "seq"})


def save_structures(
    connection: Connection,
    line_id: int,
    structures: Structures,
    *,
    file_id: int | None = None,
    label: str = "",
    now: dt.datetime,
) -> int:
    """Store a structure list as a line's current one, with what it changes; return the revision's identifier.

    Parameters
    ----------
    structures : Structures
        Structures of this line only; their line column is not stored, the line's own name is.

    Raises
    ------
    NotFound
        If there is no such line.
    ValueError
        If the structures name more than one line.
    """
    if len(set(structures.line)) > 1:
        raise ValueError(f"the list names several lines: {', '.join(sorted(set(structures.line)))}")
    before = current_revision(connection, line_id, "structures")
    revision_id = new_revision(
        connection,
        line_id,
        kind="structures",
        source_file=structures.source_file,
        file_id=file_id,
        label=label,
        now=now,
    )
    columns: dict[str, list[Any]] = {name: getattr(structures, name).tolist() for name in _COLUMNS}
    columns["seq"] = list(range(len(structures)))
    insert_columns(connection, schema.structure, columns, same={"revision_id": revision_id})
    if before is not None:
        old = _structures(_structure_records(connection, schema.revision.c.id == before))
        unit, factor = _unit(connection, line_id), _factor(connection, line_id)
        found = compare(old, structures, unit=unit, combined_factor=factor)
        add_changes(connection, revision_id, found)
    return revision_id


def load_structures(connection: Connection) -> Structures:
    """Return the current structures of all lines, line after line, in the order of their lists.

    `source_file` is empty when the lists came from several files.
    """
    sources = set(connection.scalars(select(schema.revision.c.source_file).where(_current("structures"))))
    return _structures(
        _structure_records(connection, _current("structures")),
        source_file=sources.pop() if len(sources) == 1 else "",
    )


def save_poles(
    connection: Connection,
    line_id: int,
    poles: Sequence[Pole],
    *,
    file_id: int | None = None,
    source_file: str = "",
    label: str = "",
    now: dt.datetime,
) -> int:
    """Store a pole schedule as a line's current one, with what it changes; return the revision's identifier.

    Raises
    ------
    NotFound
        If there is no such line.
    """
    before = current_revision(connection, line_id, "poles")
    revision_id = new_revision(
        connection,
        line_id,
        kind="poles",
        source_file=source_file,
        file_id=file_id,
        label=label,
        now=now,
    )
    insert_records(connection, POLES, poles, {"revision_id": revision_id}, seq=list(range(len(poles))))
    if before is not None:
        old = load_list(connection, POLES, state=before)
        found = compare_records(POLES, old, poles, unit=_unit(connection, line_id))
        changes = [_change_of(each) for each in found]
        add_changes(
            connection, revision_id, sorted(changes, key=lambda each: (number_key(each.number), each.words))
        )
    return revision_id


def _change_of(found: RecordChange) -> Change:
    """Return what changes at a pole as a change of its structure."""
    field = {} if found.field is None else asdict(found.field)
    what = "changed" if found.field is not None else found.change
    return Change(number=found.key[0], change=what, values={"part": found.name_there, **field})


def load_poles(connection: Connection) -> tuple[Pole, ...]:
    """Return the current poles of all lines, line after line, in the order of their schedules."""
    return load_list(connection, POLES)


def _current(kind: Kind) -> ColumnElement[bool]:
    return and_(schema.revision.c.is_current, schema.revision.c.kind == kind)


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


def _unit(connection: Connection, line_id: int) -> LengthUnit:
    crs = connection.scalar(select(schema.line.c.crs).where(schema.line.c.id == line_id))
    return unit_of(str(crs))


def _factor(connection: Connection, line_id: int) -> float:
    query = select(schema.line.c.combined_factor).where(schema.line.c.id == line_id)
    return float(connection.scalar(query) or 1.0)
