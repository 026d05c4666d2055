"""What is written to a file of results: columns of one length, and where their rows stand."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.structure import FloatArray
from linemap.errors import InputRefused


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Where the rows of a table stand, twice: on the globe and on the grid."""

    #: WGS 84, decimal degrees.
    longitude: FloatArray
    latitude: FloatArray
    #: Grid coordinates in `crs`.
    easting: FloatArray
    northing: FloatArray
    #: Coordinate reference of the grid, like "EPSG:6515".
    crs: str

    def take(self, rows: NDArray[Any]) -> Points:
        """Return where some rows stand."""
        each = {name: getattr(self, name)[rows] for name in ("longitude", "latitude", "easting", "northing")}
        return Points(**each, crs=self.crs)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """What is written: columns of one length, where the rows stand, what lengths are in."""

    columns: dict[str, NDArray[Any]]
    points: Points | None
    length_note: str
    #: Which job it is of; "" = none.
    source: str = ""
    title: str

    def needed_points(self, path: Path) -> Points:
        """Return the points, or refuse a table that has none."""
        if self.points is None:
            raise InputRefused.of_file(path.name, "the table has no positions", "write it as .csv or .xlsx")
        return self.points


def plain_values(column: NDArray[Any]) -> list[Any]:
    """Return the Python values of a column, None where nothing is known."""
    values: list[Any] = column.tolist()
    if column.dtype.kind == "f":
        known = np.isfinite(column).tolist()
        return [value if is_known else None for value, is_known in zip(values, known, strict=True)]
    if column.dtype.kind == "O":
        return [_value(value) for value in values]
    return values


def _value(value: Any) -> Any:
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, float):
        return value if np.isfinite(value) else None
    return str(value)
