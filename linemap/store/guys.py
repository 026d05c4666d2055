"""Guy schedules: those of a line are replaced when its owner sends a new one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from linemap.domain.design.guy import Guy
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["load_guys", "replace_guys"]

#: Field of `Guy` -> column: the table's own identifier is called id.
_COLUMNS = {field.name: "name" if field.name == "id" else field.name for field in fields(Guy)}


def replace_guys(connection: Connection, guys: Sequence[Guy], *, file_id: int | None = None) -> None:
    """Put these guys in the place of all guys of the lines they name; other lines keep theirs."""
    lines = {guy.line for guy in guys}
    connection.execute(delete(schema.guy).where(schema.guy.c.line.in_(lines)))
    rows = [
        {"file_id": file_id} | {column: getattr(guy, name) for name, column in _COLUMNS.items()}
        for guy in guys
    ]
    if rows:
        connection.execute(insert(schema.guy), rows)
        bump(connection)


def load_guys(connection: Connection) -> tuple[Guy, ...]:
    """Return the guys of all lines in the order of their schedules."""
    table = schema.guy
    query = select(*(table.c[column].label(name) for name, column in _COLUMNS.items())).order_by(table.c.id)
    return tuple(_guy(dict(row._mapping)) for row in connection.execute(query))


def _guy(row: dict[str, Any]) -> Guy:
    return Guy(**row)
