"""What lies around the lines, in layers of features."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from shapely import from_geojson, to_geojson
from sqlalchemy import Connection, Row, delete, insert, select

from linemap.domain.design.context import ContextFeature
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["load_features", "replace_features"]


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
