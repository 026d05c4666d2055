"""The yard's list: replaced as a whole when the yard sends a new one."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection

from linemap.domain.crew.material import Receipt
from linemap.store import schema
from linemap.store.rows import columns_of, replace_rows, row_of, rows_in_order

__all__ = ["load_receipts", "replace_receipts"]

_COLUMNS = columns_of(Receipt)


def replace_receipts(
    connection: Connection, receipts: Iterable[Receipt], *, file_id: int | None = None
) -> None:
    """Put these receipts in the place of all receipts of the job."""
    rows = (row_of(receipt, _COLUMNS) for receipt in receipts)
    replace_rows(connection, schema.receipt, rows, file_id=file_id)


def load_receipts(connection: Connection) -> tuple[Receipt, ...]:
    """Return all receipts in the order of their list."""
    return tuple(Receipt(**row) for row in rows_in_order(connection, schema.receipt, _COLUMNS))
