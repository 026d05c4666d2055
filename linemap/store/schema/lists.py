"""The tables of declared lists, made from their declarations."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import IntEnum
from typing import Any

from shapely import Geometry
from sqlalchemy import JSON, Boolean, Column, Date, Double, Integer, MetaData, Table, Text
from sqlalchemy.types import TypeEngine

from linemap.domain.kind.kind import Column as Field
from linemap.domain.kind.kind import Keeps, Kind, kept_of
from linemap.kinds.registry import KINDS
from linemap.store.append_only import let_only_grow
from linemap.store.schema.columns import metadata, of_file, of_revision, position, receipt_order

__all__ = ["table_of"]

_TYPES: Mapping[type[Any], TypeEngine[Any]] = {
    str: Text(),
    bool: Boolean(create_constraint=False),
    int: Integer(),
    float: Double(),
    date: Date(),
    tuple: JSON(),
    Mapping: JSON(),
    Geometry: Text(),
}


def table_of(kind: Kind[Any], *, within: MetaData = metadata) -> Table:
    """Make the table of a kind: rows of a state under its revision, or rows that are only ever added."""
    columns = [_column(field) for field in kept_of(kind)]
    if kind.keeps is Keeps.STATE:
        return Table(kind.table, within, of_revision(), position(), *columns)
    table = Table(kind.table, within, receipt_order(), of_file(), *columns, sqlite_autoincrement=True)
    if kind.refusal:
        let_only_grow(table, kind.refusal, function=f"refuse_{kind.table.partition('_')[0]}_change")
    return table


def _column(field: Field) -> Column[Any]:
    kind = Integer() if issubclass(field.type, IntEnum) else _TYPES[field.type]
    return Column(field.column, kind, nullable=field.optional)


for _kind in KINDS.values():
    table_of(_kind)
