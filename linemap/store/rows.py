"""Records as rows and back, for lists that are replaced whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select

from linemap.store.columns import null_for_nan
from linemap.store.database import bump

__all__ = ["columns_of", "replace_rows", "row_of", "rows_in_order"]


def columns_of(kind: type[Any], *, named: Mapping[str, str] | None = None) -> Mapping[str, str]:
    """Return field -> column of a dataclass; a column has its field's name unless `named` says another.

    >>> from linemap.domain.record.claim import Claim
    >>> list(columns_of(Claim, named={"id": "name"}).items())[:2]
    [('id', 'name'), ('line', 'line')]
    """
    return {field.name: field.name for field in fields(kind)} | dict(named or {})


def row_of(record: Any, columns: Mapping[str, str]) -> dict[str, Any]:
    """Return column -> value of a record; nan, which is not given, becomes None."""
    return {column: null_for_nan(getattr(record, name)) for name, column in columns.items()}


def rows_in_order(
    connection: Connection, table: Table, columns: Mapping[str, str]
) -> Iterator[dict[str, Any]]:
    """Yield field -> value of every row, in the order of the table's key."""
    query = select(*(table.c[column].label(name) for name, column in columns.items()))
    for row in connection.execute(query.order_by(*table.primary_key)):
        yield dict(row._mapping)


def replace_rows(
    connection: Connection, table: Table, rows: Iterable[Mapping[str, Any]], *, file_id: int | None
) -> None:
    """Put these rows, numbered from 0 as they come, in the place of all rows of a list."""
    numbered = [{**row, "seq": seq, "file_id": file_id} for seq, row in enumerate(rows)]
    connection.execute(delete(table))
    if numbered:
        connection.execute(insert(table), numbered)
    bump(connection)
