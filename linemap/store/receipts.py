"""The yard's list: replaced as a whole when the yard sends a new one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from sqlalchemy import Connection, delete, insert, select

from linemap.domain.crew.material import Receipt
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["load_receipts", "replace_receipts"]

_COLUMNS = tuple(field.name for field in fields(Receipt))


def replace_receipts(
    connection: Connection, receipts: Iterable[Receipt], *, file_id: int | None = None
) -> None:
    """Put these receipts in the place of all receipts of the job."""
    rows = [
        {"seq": seq, "file_id": file_id} | {name: getattr(receipt, name) for name in _COLUMNS}
        for seq, receipt in enumerate(receipts)
    ]
    connection.execute(delete(schema.receipt))
    if rows:
        connection.execute(insert(schema.receipt), rows)
    bump(connection)


def load_receipts(connection: Connection) -> tuple[Receipt, ...]:
    """Return all receipts in the order of their list."""
    table = schema.receipt
    query = select(*(table.c[name] for name in _COLUMNS)).order_by(table.c.seq)
    return tuple(Receipt(**row._mapping) for row in connection.execute(query))
