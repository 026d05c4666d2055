"""The punch list: entries are added, each once, and never changed or taken out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, insert, select

from linemap.domain.record.punch import PunchEntry
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["add_punch", "load_punch"]

#: Field of `PunchEntry` -> column: "on" is a word of the query language.
_COLUMNS = {field.name: "day" if field.name == "on" else field.name for field in fields(PunchEntry)}


def add_punch(connection: Connection, entries: Iterable[PunchEntry], *, file_id: int | None = None) -> int:
    """Add the entries that are not there yet; return how many were new.

    An item that a later list no longer names stays: nobody closed it.
    """
    known = set(load_punch(connection))
    fresh = list(dict.fromkeys(entry for entry in entries if entry not in known))
    rows = [
        {"file_id": file_id} | {column: getattr(entry, name) for name, column in _COLUMNS.items()}
        for entry in fresh
    ]
    if rows:
        connection.execute(insert(schema.punch_entry), rows)
        bump(connection)
    return len(fresh)


def load_punch(connection: Connection) -> tuple[PunchEntry, ...]:
    """Return all entries in the order they were added."""
    table = schema.punch_entry
    columns = (table.c[column].label(name) for name, column in _COLUMNS.items())
    return tuple(
        _entry(dict(row._mapping)) for row in connection.execute(select(*columns).order_by(table.c.seq))
    )


def _entry(row: dict[str, Any]) -> PunchEntry:
    return PunchEntry(**row)
