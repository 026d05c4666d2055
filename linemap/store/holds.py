"""Holds: the whole list is replaced when its owner sends a new one."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection

from linemap.domain.crew.hold import Hold
from linemap.store import schema
from linemap.store.rows import columns_of, replace_rows, row_of, rows_in_order

__all__ = ["load_holds", "replace_holds"]

_COLUMNS = columns_of(Hold)


def replace_holds(connection: Connection, holds: Iterable[Hold], *, file_id: int | None = None) -> None:
    """Put these holds in the place of all holds of the job; released ones belong in the list, for history."""
    rows = (
        {
            **row_of(hold, _COLUMNS),
            "structures": list(hold.structures),
            "activities": list(hold.activities),
        }
        for hold in holds
    )
    replace_rows(connection, schema.hold, rows, file_id=file_id)


def load_holds(connection: Connection) -> tuple[Hold, ...]:
    """Return all holds in the order of their list."""
    return tuple(_hold(row) for row in rows_in_order(connection, schema.hold, _COLUMNS))


def _hold(row: dict[str, Any]) -> Hold:
    lists = {"structures": tuple(row["structures"]), "activities": tuple(row["activities"])}
    return Hold(**{**row, **lists})
