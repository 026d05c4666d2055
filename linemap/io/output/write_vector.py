"""Write a table of results as GeoPackage or GeoParquet. Loaded only when such a file is asked for."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import fastparquet
import geopandas
import numpy as np
import pandas
import pyogrio.errors
import pyogrio.raw
import shapely
from numpy.typing import NDArray

from linemap.io.output.table import Table, plain_values


def write_gpkg(table: Table, path: Path) -> None:
    """Write a table as a GeoPackage layer of points in its own grid."""
    points = table.needed_points(path)
    columns = [_plain(column) for column in table.columns.values()]
    try:
        pyogrio.raw.write(
            path,
            shapely.to_wkb(shapely.points(points.easting, points.northing)),
            [data for data, _ in columns],
            list(table.columns),
            field_mask=[mask for _, mask in columns],
            layer=table.title,
            driver="GPKG",
            geometry_type="Point",
            crs=points.crs,
            layer_metadata={
                name: words
                for name, words in (("LENGTH_NOTE", table.length_note), ("SOURCE", table.source))
                if words
            },
        )
    except pyogrio.errors.DataSourceError as error:
        raise OSError(str(error)) from error


def _plain(column: NDArray[Any]) -> tuple[NDArray[Any], NDArray[np.bool_] | None]:
    """Return a column of one type the format knows, and where it is empty."""
    if column.dtype.kind == "O" or column.dtype.kind == "U":
        values = plain_values(column)
        empty = np.array([value is None for value in values], dtype=np.bool_)
        texts = np.array(["" if value is None else str(value) for value in values], dtype=object)
        return texts, empty if empty.any() else None
    if column.dtype.kind == "f":
        return np.asarray(column, dtype=np.float64), ~np.isfinite(column)
    return column, None


def write_parquet(table: Table, path: Path) -> None:
    """Write a table as GeoParquet 1.0, points in its own grid.

    By fastparquet, with the metadata written here: what geopandas writes Parquet with takes 170 MB of disk.
    """
    points = table.needed_points(path)
    shapes = shapely.points(points.easting, points.northing)
    plain = {
        name: plain_values(column) if column.dtype.kind == "O" else column
        for name, column in table.columns.items()
    }
    frame = geopandas.GeoDataFrame(plain, geometry=shapes, crs=points.crs)
    geometry = {"encoding": "WKB", "geometry_types": ["Point"], "crs": frame.crs.to_json_dict()}
    about = {"version": "1.0.0", "primary_column": "geometry", "columns": {"geometry": geometry}}
    with_shapes = pandas.DataFrame(frame.to_wkb())
    notes = {"length_note": table.length_note, "source": table.source}
    metadata = {"geo": json.dumps(about), **{name: words for name, words in notes.items() if words}}
    fastparquet.write(str(path), with_shapes, compression="ZSTD", custom_metadata=metadata)
