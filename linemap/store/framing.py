"""The owner's framing table: the whole table is replaced when a new one is loaded."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection

from linemap.domain.framing.framing_type import FramingEntry
from linemap.store import schema
from linemap.store.rows import columns_of, replace_rows, row_of, rows_in_order

__all__ = ["load_framing", "replace_framing"]

_COLUMNS = columns_of(FramingEntry)


def replace_framing(
    connection: Connection, entries: Sequence[FramingEntry], *, file_id: int | None = None
) -> None:
    """Put these rows in the place of the whole framing table of the job."""
    rows = (row_of(entry, _COLUMNS) for entry in entries)
    replace_rows(connection, schema.framing, rows, file_id=file_id)


def load_framing(connection: Connection) -> tuple[FramingEntry, ...]:
    """Return all rows in the order of their table."""
    return tuple(FramingEntry(**row) for row in rows_in_order(connection, schema.framing, _COLUMNS))
