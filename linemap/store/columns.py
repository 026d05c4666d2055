"""Values and whole columns on their way between Python and the tables.

SQLAlchemy's own `execute` makes a dictionary and its parameters of every row, which takes longer than the
database does. Here the statement is compiled once, each column is turned into what the driver takes, and
the driver gets the rows.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields
from enum import IntEnum
from functools import lru_cache
from itertools import repeat
from typing import Any, TypeVar

from shapely import Geometry, from_geojson, to_geojson
from sqlalchemy import Column, Connection, DateTime, Dialect, Double, Row, Table, insert
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.types import TypeDecorator

from linemap.domain.kind.kind import Column as Field

R = TypeVar("R")


class Moment(TypeDecorator[dt.datetime]):
    """A moment in time, stored in UTC to the microsecond; comes back with UTC as its time zone.

    A time without a time zone names no moment: the statement fails with "has no time zone".
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """Store the moment in UTC."""
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError(f"{value} has no time zone; give the moment with one")
        utc = value.astimezone(dt.UTC)
        # SQLite keeps a text without zone, which is UTC by this type's word
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """Give the moment back in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if dialect.name == "sqlite" else value.astimezone(dt.UTC)


def offset_s(moment: dt.datetime) -> int:
    """Return what a moment's own clock is ahead of UTC, seconds, kept beside the moment; 0 without a zone."""
    return round((moment.utcoffset() or dt.timedelta()).total_seconds())


def in_zone(moment: dt.datetime, ahead_s: int) -> dt.datetime:
    """Return a moment as the clock showed it that was so far ahead of UTC."""
    return moment.astimezone(_zone(ahead_s))


def with_clock(name: str, moment: dt.datetime) -> dict[str, Any]:
    """Return the two columns that keep a moment and the clock it was read by: "at" and "at_offset_s"."""
    return {name: moment, offset_column(name): offset_s(moment)}


def record_of(record: type[R], row: Row[*tuple[Any, ...]], moment: str = "at", **other: Any) -> R:
    """Return the record of a row, its moment as its own clock showed it; `other` are its other values."""
    kept = row._mapping
    values = {each.name: kept[each.name] for each in fields(record) if each.name in kept}  # type: ignore[arg-type]
    return record(**{**values, moment: in_zone(kept[moment], kept[offset_column(moment)]), **other})


def offset_column(name: str) -> str:
    """Return the column beside a moment that keeps what its clock was ahead of UTC: "at" -> "at_offset_s"."""
    return f"{name.removesuffix('_at')}_offset_s"


@lru_cache(maxsize=64)
def _zone(ahead_s: int) -> dt.timezone:
    return dt.timezone(dt.timedelta(seconds=ahead_s))


def null_for_nan(value: Any) -> Any:
    """Return None for nan and every other value as it is: "not given" is NULL in the database.

    >>> [null_for_nan(value) for value in (float("nan"), 0.0, "nan", None)]
    [None, 0.0, 'nan', None]
    """
    return None if isinstance(value, float) and math.isnan(value) else value


def stored(value: Any) -> Any:
    """Return a value of a record as its column takes it."""
    if isinstance(value, tuple):
        return [each.isoformat() if isinstance(each, dt.date) else each for each in value]
    if isinstance(value, Geometry):
        return to_geojson(value)
    if isinstance(value, Mapping):
        return dict(value)
    return int(value) if isinstance(value, IntEnum) else null_for_nan(value)


def from_stored(column: Field) -> Callable[[Any], Any] | None:
    """Return what makes a stored value the field's; None = it is already."""
    if column.type is tuple:
        return tuple if column.item is not dt.date else lambda days: tuple(map(dt.date.fromisoformat, days))
    if column.type is Geometry:
        return from_geojson
    return column.type if issubclass(column.type, IntEnum) else None


def written_tables(connection: Connection) -> set[str]:
    """Return the names of the tables that the transaction of a writer changed so far; whoever writes adds."""
    written: set[str] = connection.info.setdefault("linemap_written", set())
    return written


#: Rows the driver gets at once: what bounds the memory.
_ROWS = 10_000


def insert_columns(
    connection: Connection,
    table: Table,
    columns: Mapping[str, Sequence[Any]],
    *,
    same: Mapping[str, Any] | None = None,
) -> int:
    """Insert rows given as columns of one length; return how many.

    Parameters
    ----------
    connection : Connection
        In a write transaction.
    table : Table
    columns : mapping of str to sequence
        Column name -> the value of each row, at least one column; nan is stored as NULL.
    same : mapping, optional
        Column name -> the value that all rows have.

    Raises
    ------
    ValueError
        If the columns differ in length.
    """
    lengths = {len(values) for values in columns.values()}
    if len(lengths) != 1:
        raise ValueError(f"columns of {table.name} differ in length: {sorted(lengths)}; give one length")
    (count,) = lengths
    statement = _statement(connection.dialect, table, (*columns, *(same or {})))
    written_tables(connection).add(table.name)
    for first in range(0, count, _ROWS):
        size = min(_ROWS, count - first)
        part = {name: values[first : first + size] for name, values in columns.items()}
        part |= {name: list(repeat(value, size)) for name, value in (same or {}).items()}
        bound = {name: _bound(table.c[name], values, connection.dialect) for name, values in part.items()}
        connection.exec_driver_sql(statement.string, _rows(bound, statement.positiontup))
    return count


@lru_cache(maxsize=64)
def _statement(dialect: Dialect, table: Table, names: tuple[str, ...]) -> SQLCompiler:
    compiled = insert(table).inline().compile(dialect=dialect, column_keys=list(names))
    if not isinstance(compiled, SQLCompiler):
        raise TypeError(f"{dialect.name} compiles an insert into a {type(compiled).__name__}")
    return compiled


def _bound(column: Column[Any], values: Sequence[Any], dialect: Dialect) -> Iterable[Any]:
    """Return the values of a column as the driver takes them."""
    if isinstance(column.type, Double):
        return [None if value != value else value for value in values]  # nan alone is not itself
    process = column.type.dialect_impl(dialect).bind_processor(dialect)
    if process is None:
        return values
    if isinstance(column.type, Moment):
        moments = {moment: process(moment) for moment in set(values)}  # many rows share theirs
        return map(moments.__getitem__, values)
    return map(process, values)


def _rows(bound: Mapping[str, Iterable[Any]], order: Sequence[str] | None) -> list[Any]:
    """Return tuples for drivers that count parameters, mappings for those that name them."""
    if order is not None:
        return list(zip(*(bound[name] for name in order), strict=True))
    return [dict(zip(bound, row, strict=True)) for row in zip(*bound.values(), strict=True)]
