"""Holds: the whole list is replaced when its owner sends a new one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from linemap.domain.crew.hold import Hold
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["load_holds", "replace_holds"]

_COLUMNS = tuple(field.name for field in fields(Hold))


def replace_holds(connection: Connection, holds: Iterable[Hold], *, file_id: int | None = None) -> None:
    """Put these holds in the place of all holds of the job; released ones belong in the list, for history."""
    rows = [
        {
            "seq": seq,
            "file_id": file_id,
            **{name: getattr(hold, name) for name in _COLUMNS},
            "structures": list(hold.structures),
            "activities": list(hold.activities),
        }
        for seq, hold in enumerate(holds)
    ]
    connection.execute(delete(schema.hold))
    if rows:
        connection.execute(insert(schema.hold), rows)
    bump(connection)


def load_holds(connection: Connection) -> tuple[Hold, ...]:
    """Return all holds in the order of their list."""
    table = schema.hold
    query = select(*(table.c[name] for name in _COLUMNS)).order_by(table.c.seq)
    return tuple(_hold(dict(row._mapping)) for row in connection.execute(query))


def _hold(row: dict[str, Any]) -> Hold:
    lists = {"structures": tuple(row["structures"]), "activities": tuple(row["activities"])}
    return Hold(**{**row, **lists})
