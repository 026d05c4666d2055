"""Guy schedules: those of a line are replaced when its owner sends a new one."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, delete, insert

from linemap.domain.design.guy import Guy
from linemap.store import schema
from linemap.store.database import bump
from linemap.store.rows import columns_of, row_of, rows_in_order

__all__ = ["load_guys", "replace_guys"]

#: The table's own identifier is called id.
_COLUMNS = columns_of(Guy, named={"id": "name"})


def replace_guys(connection: Connection, guys: Sequence[Guy], *, file_id: int | None = None) -> None:
    """Put these guys in the place of all guys of the lines they name; other lines keep theirs."""
    lines = {guy.line for guy in guys}
    connection.execute(delete(schema.guy).where(schema.guy.c.line.in_(lines)))
    rows = [{**row_of(guy, _COLUMNS), "file_id": file_id} for guy in guys]
    if rows:
        connection.execute(insert(schema.guy), rows)
        bump(connection)


def load_guys(connection: Connection) -> tuple[Guy, ...]:
    """Return the guys of all lines in the order of their schedules."""
    return tuple(Guy(**row) for row in rows_in_order(connection, schema.guy, _COLUMNS))
