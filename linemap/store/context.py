"""What lies around the lines: what they cross, and layers of features."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from shapely import from_geojson, to_geojson
from sqlalchemy import Connection, Row, delete, insert, select

from linemap.domain.design.context import ContextFeature
from linemap.domain.design.crossing import Crossing
from linemap.store import schema
from linemap.store.database import bump
from linemap.store.rows import columns_of, replace_rows, row_of, rows_in_order

__all__ = ["load_crossings", "load_features", "replace_crossings", "replace_features"]

_CROSSING = columns_of(Crossing)


def replace_crossings(
    connection: Connection, crossings: Iterable[Crossing], *, file_id: int | None = None
) -> None:
    """Put these crossings in the place of all crossings of the job."""
    rows = (row_of(crossing, _CROSSING) for crossing in crossings)
    replace_rows(connection, schema.crossing, rows, file_id=file_id)


def load_crossings(connection: Connection) -> tuple[Crossing, ...]:
    """Return all crossings in the order of their list."""
    return tuple(Crossing(**row) for row in rows_in_order(connection, schema.crossing, _CROSSING))


def replace_features(
    connection: Connection, features: Iterable[ContextFeature], *, file_id: int | None = None
) -> None:
    """Put these features in the place of all features of the same layers; other layers stay."""
    rows = [
        {
            "file_id": file_id,
            "layer": feature.layer,
            "name": feature.name,
            "restricted": feature.restricted,
            "geometry": to_geojson(feature.geometry),
            "properties": dict(feature.properties),
        }
        for feature in features
    ]
    if not rows:
        return
    table = schema.context_feature
    connection.execute(delete(table).where(table.c.layer.in_({row["layer"] for row in rows})))
    connection.execute(insert(table), rows)
    bump(connection)


def load_features(connection: Connection) -> tuple[ContextFeature, ...]:
    """Return all features of all layers in the order they were added."""
    query = select(schema.context_feature).order_by(schema.context_feature.c.id)
    return tuple(_feature(row) for row in connection.execute(query))


def _feature(row: Row[Any]) -> ContextFeature:
    return ContextFeature(
        layer=row.layer,
        name=row.name,
        restricted=row.restricted,
        geometry=from_geojson(row.geometry),
        properties=row.properties,
    )
