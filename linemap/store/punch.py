"""The punch list: entries are added, each once, and never changed or taken out."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection

from linemap.domain.record.punch import PunchEntry
from linemap.store import schema
from linemap.store.rows import add_new, columns_of, rows_in_order

__all__ = ["add_punch", "load_punch"]

#: "on" is a word of the query language.
_COLUMNS = columns_of(PunchEntry, named={"on": "day"})


def add_punch(connection: Connection, entries: Iterable[PunchEntry], *, file_id: int | None = None) -> int:
    """Add the entries that are not there yet; return how many were new.

    An item that a later list no longer names stays: nobody closed it.
    """
    known = load_punch(connection)
    return add_new(connection, schema.punch_entry, entries, known=known, columns=_COLUMNS, file_id=file_id)


def load_punch(connection: Connection) -> tuple[PunchEntry, ...]:
    """Return all entries in the order they were added."""
    return tuple(PunchEntry(**row) for row in rows_in_order(connection, schema.punch_entry, _COLUMNS))
