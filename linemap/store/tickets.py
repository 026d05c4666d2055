"""Locate tickets: the whole list is replaced when its owner sends a new one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from sqlalchemy import Connection, delete, insert, select

from linemap.domain.crew.ticket import Ticket
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["load_tickets", "replace_tickets"]

_COLUMNS = tuple(field.name for field in fields(Ticket))


def replace_tickets(connection: Connection, tickets: Iterable[Ticket], *, file_id: int | None = None) -> None:
    """Put these tickets in the place of all tickets of the job."""
    rows = [
        {
            "seq": seq,
            "file_id": file_id,
            **{name: getattr(ticket, name) for name in _COLUMNS},
            "structures": list(ticket.structures),
        }
        for seq, ticket in enumerate(tickets)
    ]
    connection.execute(delete(schema.ticket))
    if rows:
        connection.execute(insert(schema.ticket), rows)
    bump(connection)


def load_tickets(connection: Connection) -> tuple[Ticket, ...]:
    """Return all tickets in the order of their list."""
    table = schema.ticket
    query = select(*(table.c[name] for name in _COLUMNS)).order_by(table.c.seq)
    return tuple(
        Ticket(**{**row._mapping, "structures": tuple(row.structures)}) for row in connection.execute(query)
    )
