"""What the owner's lists say: lines, structures, poles, and the tables of all declared lists."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time
from enum import IntEnum
from typing import Any

import numpy as np
from shapely import Geometry
from sqlalchemy import JSON, Boolean, Column, Date, Double, Integer, MetaData, Table, Text, Time
from sqlalchemy.types import TypeEngine

from linemap.domain.kind.kind import Column as Field
from linemap.domain.kind.kind import Keeps, Kind, kept_of
from linemap.kinds.registry import DECLARED, KINDS
from linemap.store.schema.columns import (
    let_only_grow,
    metadata,
    number,
    of_file,
    of_revision,
    position,
    receipt_order,
    text,
    texts,
)

line = Table(
    "line",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    *texts("back_end", "ahead_end", "crs"),
    Column("combined_factor", Double),
    number("start_station"),
    text("pole_a"),
    Column("settings", JSON, nullable=False),
)

#: What a revision changed against the one before it.
structure_change = Table(
    "structure_change",
    metadata,
    of_revision(),
    position(),
    *texts("number", "change"),
    Column("details", JSON, nullable=False),
)


_TYPES: Mapping[Any, TypeEngine[Any]] = {
    str: Text(),
    bool: Boolean(create_constraint=False),
    int: Integer(),
    float: Double(),
    date: Date(),
    time: Time(),
    tuple: JSON(),
    Mapping: JSON(),
    Geometry: Text(),
    np.object_: Text(),
    np.float64: Double(),
    np.int64: Integer(),
    np.bool_: Boolean(create_constraint=False),
}


def table_of(kind: Kind[Any], *, within: MetaData = metadata) -> Table:
    """Make the table of a kind: rows of a state under its revision, or rows that are only ever added."""
    columns = [_column(field) for field in kept_of(kind)]
    if kind.keeps is not Keeps.GROWS:
        return Table(kind.table, within, of_revision(), position(), *columns)
    table = Table(kind.table, within, receipt_order(), of_file(), *columns, sqlite_autoincrement=True)
    if kind.refusal:
        let_only_grow(table, kind.refusal, function=f"refuse_{kind.table.partition('_')[0]}_change")
    return table


def _column(field: Field) -> Column[Any]:
    if field.type is np.ndarray:
        # of numbers only measures may be missing, a place never is
        return Column(field.column, _TYPES[field.item], nullable=bool(field.cell.unit))
    kind = Integer() if issubclass(field.type, IntEnum) else _TYPES[field.type]
    return Column(field.column, kind, nullable=field.optional)


for _kind in KINDS.values():
    table_of(_kind)


structure = Table(
    "structure", metadata, of_revision(), position(), *map(_column, kept_of(DECLARED["structures"]))
)
