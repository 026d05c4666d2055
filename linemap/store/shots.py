"""Survey shots of all loaded survey files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, insert, select

from linemap.domain.survey.shot import Shot
from linemap.store import schema
from linemap.store.columns import null_for_nan
from linemap.store.database import bump

__all__ = ["add_shots", "load_shots"]

_COLUMNS = tuple(field.name for field in fields(Shot))


def add_shots(connection: Connection, shots: Iterable[Shot], *, file_id: int | None = None) -> int:
    """Add shots beside those already there, a second survey beside the first; return how many."""
    rows: list[dict[str, Any]] = [
        {"file_id": file_id, **{name: null_for_nan(getattr(shot, name)) for name in _COLUMNS}}
        for shot in shots
    ]
    if rows:
        connection.execute(insert(schema.shot), rows)
        bump(connection)
    return len(rows)


def load_shots(connection: Connection, *, file_id: int | None = None) -> tuple[Shot, ...]:
    """Return the shots of one file, or of all, in the order they were added."""
    table = schema.shot
    query = select(*(table.c[name] for name in _COLUMNS)).order_by(table.c.id)
    if file_id is not None:
        query = query.where(table.c.file_id == file_id)
    return tuple(Shot(**row._mapping) for row in connection.execute(query))
