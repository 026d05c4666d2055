"""The owner's framing table: the whole table is replaced when a new one is loaded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from sqlalchemy import Connection, delete, insert, select

from linemap.domain.framing.framing_type import FramingEntry
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["load_framing", "replace_framing"]

_COLUMNS = tuple(field.name for field in fields(FramingEntry))


def replace_framing(
    connection: Connection, entries: Sequence[FramingEntry], *, file_id: int | None = None
) -> None:
    """Put these rows in the place of the whole framing table of the job."""
    rows = [
        {"seq": seq, "file_id": file_id} | {name: getattr(entry, name) for name in _COLUMNS}
        for seq, entry in enumerate(entries)
    ]
    connection.execute(delete(schema.framing))
    if rows:
        connection.execute(insert(schema.framing), rows)
    bump(connection)


def load_framing(connection: Connection) -> tuple[FramingEntry, ...]:
    """Return all rows in the order of their table."""
    table = schema.framing
    query = select(*(table.c[name] for name in _COLUMNS)).order_by(table.c.seq)
    return tuple(FramingEntry(**row._mapping) for row in connection.execute(query))
