"""What lies around a line: lists of crossings, and features such as roads, parcels and nests."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import PurePath

import numpy as np
import shapely

from linemap.domain.design.structure import FloatArray, ObjectArray
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.geometry.projection import Projection
from linemap.io.cells.meaning import Match, match_headings
from linemap.io.cells.numbers import parse_number, parse_yes
from linemap.io.cells.position import geometry_to_grid, read_positions
from linemap.io.cells.sheet import Ledger, Sheet, sheet_of
from linemap.io.cells.table import Cell, Loaded, RawTable, cell_text
from linemap.io.design.structure_numbers import parse_set
from linemap.units import LengthUnit

_WGS84 = {"EPSG:4326", "OGC:CRS84"}


def read_context(table: RawTable, *, projection: Projection) -> Loaded[tuple[ContextFeature, ...]]:
    """Read features to draw around the line.

    Parameters
    ----------
    table : RawTable
        A layer of a vector file, or rows of points.
    projection : Projection
        Of the job; reached on the way to longitude and latitude.

    Returns
    -------
    Loaded of tuple of ContextFeature
        In file order, in longitude and latitude. Without a layer column the layer is the sheet, layer or
        file it came from. A feature is restricted when its cell says so, or cannot be understood.

    Raises
    ------
    InputRefused
        If no feature can be used, or the file declares no coordinate reference.
    """
    ledger = Ledger(_sheet(table))
    sheet = ledger.sheet
    shapes = _points(ledger, projection) if table.geometry is None else _shapes(ledger, projection)
    layers = sheet.texts("layer", missing=table.sheet or PurePath(table.file).stem)
    names = sheet.texts("name")
    ledger.check_some_left("geometry")
    used = {match.index for match in sheet.matches.values()}
    return ledger.finish(
        tuple(
            ContextFeature(
                layer=layers[index],
                name=names[index],
                restricted=_restricted(ledger, index),
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
    return Sheet(table=table, matches={**matches, "geometry": Match(index=-1, heading="geometry")})


def _points(ledger: Ledger, projection: Projection) -> ObjectArray:
    places = read_positions(ledger, projection)
    for index in np.flatnonzero(~np.isfinite(places.easting + places.northing)).tolist():
        if ledger.is_heading(index) or places.blank[index]:
            ledger.leave_out_idle(index)
        else:
            ledger.leave_out(index, *places.faults[index])
    longitude, latitude = projection.to_lonlat(places.easting, places.northing)
    return np.asarray(shapely.points(longitude, latitude), dtype=object)


def _shapes(ledger: Ledger, projection: Projection) -> ObjectArray:
    table = ledger.sheet.table
    shapes = np.array([] if table.geometry is None else shapely.force_2d(table.geometry), dtype=object)
    if table.crs not in _WGS84:

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
    west, south, east, north = shapely.bounds(shape).tolist()
    return bool(-180.0 <= west <= east <= 180.0 and -90.0 <= south <= north <= 90.0)


def _restricted(ledger: Ledger, index: int) -> bool:
    answer = parse_yes(ledger.sheet.cells("restricted")[index])
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


_TEXTS = (
    "what",
    "owner",
    "station",
    "back_structure",
    "ahead_structure",
    "span",
    "voltage",
    "rule",
    "energized",
)
_KV = re.compile(r"(\d+(?:\.\d+)?)\s*kV\b", re.IGNORECASE)


def read_crossings(
    table: RawTable, *, unit: LengthUnit, line_default: str = ""
) -> Loaded[tuple[Crossing, ...]]:
    """Read a list of crossings.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    unit : LengthUnit
        Ground unit of the line, for true distances.
    line_default : str
        Line of rows that name none.

    Returns
    -------
    Loaded of tuple of Crossing
        In file order. What has a voltage, in its own column or in its name, is energized unless the list
        says no; words that are neither yes nor no are taken as energized, and noted.

    Raises
    ------
    InputRefused
        With every row that names a crossing and does not place it, or holds an unusable distance,
        structure or voltage.
    """
    ledger = Ledger(sheet_of(table, "crossings"))
    sheet = ledger.sheet
    texts = {name: sheet.texts(name) for name in _TEXTS}
    lines = sheet.texts("line", missing=line_default)
    distances = sheet.lengths("true_distance", unit, ledger=ledger)
    found = []
    for index in range(len(sheet)):
        row = {name: column[index] for name, column in texts.items()}
        if ledger.is_heading(index) or not row["what"]:
            ledger.leave_out_idle(index)
            continue
        if index in distances.faults:
            ledger.refuse(index, "true_distance", distances.faults[index], "correct the cell")
        distance = float(distances.values[index])
        found.append(_crossing(ledger, index, row, lines[index], distance if distance == distance else None))
    ledger.check_some_left("what")
    return ledger.finish(tuple(found))


def _crossing(ledger: Ledger, index: int, row: dict[str, str], line: str, distance: float | None) -> Crossing:
    back, ahead = _span(ledger, index, row)
    voltage = _voltage(ledger, index, row)
    if not (row["station"] or back or ahead or distance is not None):
        ledger.refuse(index, "what", "the crossing has no place", "give its station, true distance or span")
    return Crossing(
        line=line,
        what=row["what"],
        owner=row["owner"],
        station=row["station"],
        true_distance=distance,
        back_structure=back,
        ahead_structure=ahead,
        voltage_kv=voltage,
        rule=row["rule"],
        energized=_energized(ledger, index, row["energized"], voltage),
        row=ledger.sheet.table.row_numbers[index],
    )


def _span(ledger: Ledger, index: int, row: dict[str, str]) -> tuple[str, str]:
    name = "span" if row["span"] else "back_structure"
    try:
        if not row["span"]:
            return _number(row["back_structure"]), _number(row["ahead_structure"])
        named = parse_set(row["span"].casefold().removeprefix("span").strip())
        if named.first:
            return named.first, named.last
        if len(named.numbers) == 2:
            return named.numbers[0], named.numbers[1]
        raise ValueError("a span lies between two structures; write it like 17/2-17/3")
    except ValueError as error:
        ledger.refuse(index, name, str(error))
        return "", ""


def _number(text: str) -> str:
    numbers = parse_set(text).numbers if text else ()
    if len(numbers) > 1:
        raise ValueError(f"{text!r} names more than one structure")
    return numbers[0] if numbers else ""


def _voltage(ledger: Ledger, index: int, row: dict[str, str]) -> float | None:
    """Kilovolts; from the words of the crossing when it has no cell of its own."""
    if not row["voltage"]:
        named = _KV.search(row["what"])
        return float(named[1]) if named else None
    try:
        number = parse_number(row["voltage"], mark=ledger.sheet.table.decimal_mark)
        if number.unit.casefold() not in {"", "kv", "v"} or number.value <= 0.0:
            raise ValueError("no voltage; write it in kV")
    except ValueError as error:
        ledger.refuse(index, "voltage", str(error), "write a number in kV, or leave the cell blank")
        return None
    return number.value / 1000.0 if number.unit.casefold() == "v" else number.value


def _energized(ledger: Ledger, index: int, text: str, voltage: float | None) -> bool:
    if not text:
        return voltage is not None
    answer = parse_yes(text)
    if answer is None:
        plainly = "energi" in text.casefold() or "live" in text.casefold()
        if not plainly:
            ledger.note(index, "energized", "neither yes nor no; taken as energized", "write yes or no")
        return True
    return answer
