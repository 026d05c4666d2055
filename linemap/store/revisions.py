"""Revisions: each list loaded for a line is a new state of it; older states are kept, one is current."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import Connection, insert, select, update

from linemap.domain.design.revision import Change
from linemap.errors import NotFound
from linemap.store import schema
from linemap.store.database import bump

Kind = Literal["centreline", "equations", "structures", "poles"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionRecord:
    """One state of one list of one line."""

    id: int
    line: str
    kind: Kind
    #: File it was loaded from; None = entered otherwise.
    file_id: int | None
    source_file: str
    #: What its owner calls it: "Rev C".
    label: str
    loaded_at: dt.datetime
    is_current: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedChange:
    """What one revision changed at one structure."""

    revision_id: int
    #: Label of the revision that brought the change.
    label: str
    kind: Kind
    loaded_at: dt.datetime
    change: Change


def new_revision(
    connection: Connection,
    line_id: int,
    *,
    kind: Kind,
    source_file: str,
    file_id: int | None,
    label: str,
    now: dt.datetime,
) -> int:
    """Make a new state of a line's list the current one and return its identifier; its rows come next.

    Raises
    ------
    NotFound
        If there is no such line.
    """
    if connection.scalar(select(schema.line.c.id).where(schema.line.c.id == line_id)) is None:
        raise NotFound(f"the job has no line with the identifier {line_id}")
    table = schema.revision
    connection.execute(
        update(table).where(table.c.line_id == line_id, table.c.kind == kind).values(is_current=False)
    )
    query = insert(table).values(
        line_id=line_id,
        kind=kind,
        part="",
        file_id=file_id,
        source_file=source_file,
        label=label,
        loaded_at=now,
        is_current=True,
    )
    revision_id: int = connection.execute(query.returning(table.c.id)).scalar_one()
    bump(connection)
    return revision_id


def current_revision(connection: Connection, line_id: int, kind: Kind) -> int | None:
    """Return the current revision of a line's list, None when none was loaded yet."""
    table = schema.revision
    found = connection.scalar(
        select(table.c.id).where(table.c.line_id == line_id, table.c.kind == kind, table.c.is_current)
    )
    return None if found is None else int(found)


def list_revisions(connection: Connection, *, line: str | None = None) -> tuple[RevisionRecord, ...]:
    """Return all revisions, of one line or of all, in the order they were loaded."""
    table = schema.revision
    query = select(
        table.c.id,
        schema.line.c.name.label("line"),
        table.c.kind,
        table.c.file_id,
        table.c.source_file,
        table.c.label,
        table.c.loaded_at,
        table.c.is_current,
    ).join(schema.line)
    if line is not None:
        query = query.where(schema.line.c.name == line)
    rows = connection.execute(query.order_by(table.c.id))
    return tuple(RevisionRecord(**row._mapping) for row in rows)


def add_changes(connection: Connection, revision_id: int, found: Sequence[Change]) -> None:
    """Keep what a revision changed against the one before it."""
    rows = [
        {
            "revision_id": revision_id,
            "seq": seq,
            "number": change.number,
            "change": change.change,
            "details": dict(change.values),
        }
        for seq, change in enumerate(found)
    ]
    if rows:
        connection.execute(insert(schema.structure_change), rows)


def changes(
    connection: Connection, line: str | None = None, *, revisions: Iterable[int] | None = None
) -> tuple[RecordedChange, ...]:
    """Return what the revisions of a line changed, in the order they were loaded.

    Parameters
    ----------
    line : str, optional
        Line name; None = of every line.
    revisions : iterable of int, optional
        Only these revisions; None = all.
    """
    table, revision = schema.structure_change, schema.revision
    query = (
        select(revision.c.id, revision.c.label, revision.c.kind, revision.c.loaded_at)
        .add_columns(table.c.number, table.c.change, table.c.details)
        .join(revision, table.c.revision_id == revision.c.id)
        .join(schema.line, revision.c.line_id == schema.line.c.id)
        .order_by(revision.c.id, table.c.seq)
    )
    if line is not None:
        query = query.where(schema.line.c.name == line)
    if revisions is not None:
        query = query.where(revision.c.id.in_(list(revisions)))
    return tuple(
        RecordedChange(
            revision_id=row.id,
            label=row.label,
            kind=row.kind,
            loaded_at=row.loaded_at,
            change=Change(number=row.number, change=row.change, values=row.details),
        )
        for row in connection.execute(query)
    )
