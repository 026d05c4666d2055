"""The owner's type table: the whole table is replaced when a new one is loaded."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection

from linemap.domain.design.structure_type import StructureType
from linemap.geometry.frame import ArmRule
from linemap.store import schema
from linemap.store.rows import columns_of, replace_rows, row_of, rows_in_order

__all__ = ["load_types", "replace_types"]

_COLUMNS = columns_of(StructureType)


def replace_types(
    connection: Connection, types: Iterable[StructureType], *, file_id: int | None = None
) -> None:
    """Put these types in the place of all types of the job."""
    rows = ({**row_of(each, _COLUMNS), "rule": int(each.rule)} for each in types)
    replace_rows(connection, schema.structure_type, rows, file_id=file_id)


def load_types(connection: Connection) -> tuple[StructureType, ...]:
    """Return all types in the order of their table."""
    return tuple(
        StructureType(**{**row, "rule": ArmRule(row["rule"])})
        for row in rows_in_order(connection, schema.structure_type, _COLUMNS)
    )
