"""Survey shots of all loaded survey files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, select

from linemap.domain.survey.shot import Shot
from linemap.store import schema
from linemap.store.bulk import insert_columns
from linemap.store.database import bump

__all__ = ["add_shots", "load_shots"]

_COLUMNS = tuple(field.name for field in fields(Shot))


def add_shots(connection: Connection, shots: Iterable[Shot], *, file_id: int | None = None) -> int:
    """Add shots beside those already there, a second survey beside the first; return how many."""
    listed = list(shots)
    columns: dict[str, list[Any]] = {name: [getattr(shot, name) for shot in listed] for name in _COLUMNS}
    count = insert_columns(connection, schema.shot, columns, same={"file_id": file_id})
    if count:
        bump(connection)
    return count


def load_shots(connection: Connection, *, file_id: int | None = None) -> tuple[Shot, ...]:
    """Return the shots of one file, or of all, in the order they were added."""
    table = schema.shot
    query = select(*(table.c[name] for name in _COLUMNS)).order_by(table.c.id)
    if file_id is not None:
        query = query.where(table.c.file_id == file_id)
    return tuple(Shot(**dict(zip(_COLUMNS, row, strict=True))) for row in connection.execute(query).all())
