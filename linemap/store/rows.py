"""Records as rows and back: lists that are replaced whole, and tables that only grow."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import fields
from typing import Any, TypeVar

from sqlalchemy import Connection, Table, delete, insert, select

from linemap.store.columns import null_for_nan
from linemap.store.database import bump

__all__ = ["add_new", "columns_of", "replace_rows", "row_of", "rows_in_order"]

R = TypeVar("R", bound=Hashable)


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


def add_new(
    connection: Connection,
    table: Table,
    records: Iterable[R],
    *,
    known: Iterable[R],
    columns: Mapping[str, str],
    file_id: int | None,
) -> int:
    """Add the records that are not among the known ones, each once; return how many that were."""
    there = set(known)
    fresh = list(dict.fromkeys(record for record in records if record not in there))
    if fresh:
        connection.execute(insert(table), [{**row_of(each, columns), "file_id": file_id} for each in fresh])
        bump(connection)
    return len(fresh)
