"""Locate tickets: the whole list is replaced when its owner sends a new one."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection

from linemap.domain.crew.ticket import Ticket
from linemap.store import schema
from linemap.store.rows import columns_of, replace_rows, row_of, rows_in_order

__all__ = ["load_tickets", "replace_tickets"]

_COLUMNS = columns_of(Ticket)


def replace_tickets(connection: Connection, tickets: Iterable[Ticket], *, file_id: int | None = None) -> None:
    """Put these tickets in the place of all tickets of the job."""
    rows = ({**row_of(ticket, _COLUMNS), "structures": list(ticket.structures)} for ticket in tickets)
    replace_rows(connection, schema.ticket, rows, file_id=file_id)


def load_tickets(connection: Connection) -> tuple[Ticket, ...]:
    """Return all tickets in the order of their list."""
    return tuple(
        Ticket(**{**row, "structures": tuple(row["structures"])})
        for row in rows_in_order(connection, schema.ticket, _COLUMNS)
    )
