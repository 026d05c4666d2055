"""The owner's type table: the whole table is replaced when a new one is loaded."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from linemap.domain.design.structure_type import StructureType
from linemap.geometry.frame import ArmRule
from linemap.store import schema
from linemap.store.columns import null_for_nan
from linemap.store.database import bump

__all__ = ["load_types", "replace_types"]

_COLUMNS = tuple(field.name for field in fields(StructureType))


def replace_types(
    connection: Connection, types: Iterable[StructureType], *, file_id: int | None = None
) -> None:
    """Put these types in the place of all types of the job."""
    rows = [
        {"seq": seq, "file_id": file_id}
        | {name: null_for_nan(getattr(each, name)) for name in _COLUMNS}
        | {"rule": int(each.rule)}
        for seq, each in enumerate(types)
    ]
    connection.execute(delete(schema.structure_type))
    if rows:
        connection.execute(insert(schema.structure_type), rows)
    bump(connection)


def load_types(connection: Connection) -> tuple[StructureType, ...]:
    """Return all types in the order of their table."""
    table = schema.structure_type
    query = select(*(table.c[name] for name in _COLUMNS)).order_by(table.c.seq)
    return tuple(_type(dict(row._mapping)) for row in connection.execute(query))


def _type(row: dict[str, Any]) -> StructureType:
    return StructureType(**{**row, "rule": ArmRule(row["rule"])})
