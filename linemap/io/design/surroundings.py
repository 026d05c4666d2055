"""What lies around a line: features such as roads, parcels and nests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import PurePath

import numpy as np
import shapely

from linemap.domain.design.structure import FloatArray, ObjectArray
from linemap.domain.design.surroundings import ContextFeature
from linemap.geometry.projection import Projection
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.meaning import Match, match_headings
from linemap.io.cells.numbers import parse_yes
from linemap.io.cells.position import geometry_to_grid, read_positions
from linemap.io.cells.sheet import Sheet, sheet_of
from linemap.io.cells.table import Cell, Loaded, RawTable, cell_text

_WGS84 = {"EPSG:4326", "OGC:CRS84"}


def read_context(table: RawTable, *, projection: Projection) -> Loaded[tuple[ContextFeature, ...]]:
    """Read features to draw around the line.

    From a layer of a vector file, or rows of points; they come in longitude and latitude. Without a layer
    column the layer is the sheet, layer or file it came from. A feature is restricted when its cell says so,
    or cannot be understood.

    Raises
    ------
    InputRefused
        If no feature can be used, or the file declares no coordinate reference.
    """
    ledger = Ledger(_sheet(table))
    sheet = ledger.sheet
    shapes = _points(ledger, projection) if table.geometry is None else _shapes(ledger, projection)
    layers = sheet.texts("layer", missing=table.sheet or PurePath(table.file).stem)
    names, restricted = sheet.texts("name"), sheet.cells("restricted")
    ledger.check_some_left("geometry")
    used = {match.index for match in sheet.matches.values()}
    return ledger.finish(
        tuple(
            ContextFeature(
                layer=layers[index],
                name=names[index],
                restricted=_restricted(ledger, index, restricted[index]),
                geometry=shapes[index],
                properties=_properties(table.headers, table.rows[index], used),
            )
            for index in ledger.kept()
        )
    )


def _sheet(table: RawTable) -> Sheet:
    """Take a vector layer as context even when no column names its layer."""
    if table.geometry is None:
        return sheet_of(table, "context")
    matches = match_headings(table.headers, "context")
    matches = {**matches, "geometry": Match(index=-1, heading="geometry")}
    return Sheet(table=table, kind="context", matches=matches)


def _points(ledger: Ledger, projection: Projection) -> ObjectArray:
    places = read_positions(ledger, projection)
    places.leave_out_unplaced(ledger)
    longitude, latitude = projection.to_lonlat(places.easting, places.northing)
    return np.asarray(shapely.points(longitude, latitude), dtype=object)


def _shapes(ledger: Ledger, projection: Projection) -> ObjectArray:
    table = ledger.sheet.table
    shapes = np.array([] if table.geometry is None else shapely.force_2d(table.geometry), dtype=object)
    if (table.crs_said or table.crs) not in _WGS84:

        def to_lonlat(xy: FloatArray) -> FloatArray:
            grid = geometry_to_grid(ledger.sheet, projection, xy[:, 0], xy[:, 1])
            return np.column_stack(projection.to_lonlat(*grid))

        shapes = np.asarray(shapely.transform(shapes, to_lonlat), dtype=object)
    for index, shape in enumerate(shapes.tolist()):
        if shape is None or shape.is_empty:
            ledger.leave_out(index, "geometry", "the feature has no shape")
        elif not _on_the_globe(shape):
            ledger.leave_out(index, "geometry", "the shape lies off the globe", "check its reference")
        elif not shape.is_valid:
            ledger.note(index, "geometry", f"the shape is faulty: {shapely.is_valid_reason(shape).lower()}")
    return shapes


def _on_the_globe(shape: shapely.Geometry) -> bool:
    west, south, east, north = shapely.bounds(shape).tolist()  # which passes over what is no number
    return bool(np.isfinite(shapely.get_coordinates(shape)).all()) and bool(
        -180.0 <= west <= east <= 180.0 and -90.0 <= south <= north <= 90.0
    )


def _restricted(ledger: Ledger, index: int, cell: Cell) -> bool:
    answer = parse_yes(cell)
    if answer is None:
        ledger.note(index, "restricted", "neither yes nor no; taken as restricted")
    return answer is not False


def _properties(headers: Sequence[str], row: Sequence[Cell], used: set[int]) -> Mapping[str, str]:
    pairs = zip(headers, row, strict=False)
    return {
        name: text
        for index, (name, cell) in enumerate(pairs)
        if index not in used and (text := cell_text(cell))
    }
