"""Where each row stands: grid coordinates, longitude and latitude, or the geometry of a vector file."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from linemap.domain.design.structure import BoolArray, FloatArray, ObjectArray
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection, other_crs_to
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.meaning import length_unit, parse_heading
from linemap.io.cells.numbers import Numbers
from linemap.io.cells.sheet import Sheet
from linemap.io.cells.table import JOB
from linemap.units import LengthUnit

_NAME_THEM = "name the columns longitude and latitude if that is what they are"
#: Grid coordinates larger than this cannot be mistaken for degrees.
_PLAINLY_GRID = 10_000.0
#: Where half of the elevations lie higher, metres, 0 is none of them.
_PLAINLY_HIGH_M = 30.0
#: Coordinates written twice are the same within this, metres: GeoJSON keeps nine decimals of a degree.
_SAME_M = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Positions:
    """Grid coordinates of all rows, CRS unit; nan where there are none or they cannot be used."""

    easting: FloatArray
    northing: FloatArray
    #: Row index -> (field, reason, remedy): why what is written cannot be used.
    faults: dict[int, tuple[str, str, str]]
    #: True where no coordinate is written at all.
    blank: BoolArray
    #: Field to name where coordinates are missing.
    field: str

    def leave_out_unplaced(self, ledger: Ledger) -> None:
        """List the rows that stand nowhere as left out: blank ones as idle, the others with what is wrong."""
        for index in np.flatnonzero(~np.isfinite(self.easting + self.northing)).tolist():
            if ledger.is_heading(index) or self.blank[index]:
                ledger.leave_out_idle(index)
            else:
                ledger.leave_out(index, *self.faults[index])


def read_positions(ledger: Ledger, projection: Projection) -> Positions:
    """Read the coordinates of all rows into the line's projection.

    The geometry of a vector file comes first, then grid columns, then longitude and latitude (WGS 84),
    which also fill rows whose grid cells are blank. Units in headings and cells are converted.

    Raises
    ------
    InputRefused
        If all eastings and northings look like degrees, the two columns are in different units, or a
        vector file declares no coordinate reference.
    """
    sheet = ledger.sheet
    if "geometry" in sheet.matches:
        return _by_columns(_from_geometry(sheet, projection), sheet, projection)
    size = len(sheet)
    grid = {"easting", "northing"} <= set(sheet.matches)
    result = Positions(
        easting=np.full(size, np.nan),
        northing=np.full(size, np.nan),
        faults={},
        blank=np.ones(size, dtype=np.bool_),
        field="easting" if grid else "longitude",
    )
    if grid:
        _fill_grid(result, ledger, projection)
    if {"longitude", "latitude"} <= set(sheet.matches) and result.blank.any():
        _fill_lonlat(result, sheet, projection)
    return result


def _fill_grid(result: Positions, ledger: Ledger, projection: Projection) -> None:
    sheet, source = ledger.sheet, _said_reference(ledger.sheet, projection)
    unit = source.unit
    written = [length_unit(sheet.matches[name].unit, unit) for name in ("easting", "northing")]
    if written[0] is not written[1]:
        reason = f"eastings are in the {written[0].word} and northings in the {written[1].word}"
        raise InputRefused(sheet.problem(None, "easting", reason, "correct the unit in one of the headings"))
    _refuse_second_columns(sheet)
    easting = ledger.lengths("easting", unit)
    northing = ledger.lengths("northing", unit)
    _check_degrees(sheet, easting, northing.values)
    _note_written(result, easting, northing, ("easting", "northing"))
    good = _usable(result)
    east, north = easting.values[good], northing.values[good]
    if source is not projection:
        east, north = geometry_to_grid(sheet, projection, east, north)
    result.easting[good], result.northing[good] = east, north
    _note_outside(result, good, projection, "easting")


def _refuse_second_columns(sheet: Sheet) -> None:
    """Ask which of two columns of one heading is meant, when they hold different coordinates."""
    headers = [parse_heading(heading).word for heading in sheet.table.headers]
    for name in ("easting", "northing"):
        match = sheet.matches[name]
        word = parse_heading(match.heading).word
        for index, other in enumerate(headers):
            if index == match.index or other != word or name in sheet.table.named:
                continue
            if sheet.table.column(index) != sheet.table.column(match.index):
                reason = f"columns {match.index + 1} and {index + 1} are both headed so and differ"
                remedy = f"say which is meant, like --column {name}={index + 1}"
                raise InputRefused(sheet.problem(None, name, reason, remedy))


def _said_reference(sheet: Sheet, projection: Projection) -> Projection:
    """Return the reference that grid columns are in: the job's, unless a person says another."""
    said = sheet.table.crs_said
    if said in {"", JOB, projection.text}:
        return projection
    try:
        return Projection.from_text(said)
    except InputRefused as refused:
        named = [replace(each, column="--crs-of-file") for each in refused.problems]
        raise InputRefused(named) from None


def _check_degrees(sheet: Sheet, easting: Numbers, north: FloatArray) -> None:
    """Longitudes pasted into eastings: all of them refuse the table, a few among grid values their rows."""
    east = easting.values
    with np.errstate(invalid="ignore"):
        degrees = (np.abs(east) <= 180.0) & (np.abs(north) <= 180.0)
        grid = np.isfinite(east) & np.isfinite(north) & ~degrees
    if not degrees.any():
        return
    if not grid.any():
        first = int(np.flatnonzero(degrees)[0])
        reason = "all eastings and northings are so small that they look like longitude and latitude"
        raise InputRefused(sheet.problem(first, "easting", reason, _NAME_THEM))
    if float(np.median(np.maximum(np.abs(east[grid]), np.abs(north[grid])))) > _PLAINLY_GRID:
        for index in np.flatnonzero(degrees).tolist():
            easting.faults[index] = f"looks like longitude and latitude among grid coordinates; {_NAME_THEM}"


def _fill_lonlat(result: Positions, sheet: Sheet, projection: Projection) -> None:
    wanted = result.blank.copy()
    longitude, latitude = sheet.numbers("longitude"), sheet.numbers("latitude")
    for numbers, limit in ((longitude, 180.0), (latitude, 90.0)):
        numbers.values[~wanted] = np.nan
        _check_angles(numbers, limit)
        for index in [index for index in numbers.faults if not wanted[index]]:
            del numbers.faults[index]
    _note_written(result, longitude, latitude, ("longitude", "latitude"))
    good = wanted & _usable(result)
    east, north = projection.from_lonlat(longitude.values[good], latitude.values[good])
    result.easting[good], result.northing[good] = east, north
    _note_outside(result, good, projection, "longitude")


def _check_angles(numbers: Numbers, limit: float) -> None:
    for index, unit in numbers.units.items():
        if unit.casefold() not in {"°", "deg"}:
            numbers.faults.setdefault(index, "not in decimal degrees, west and south negative")
    with np.errstate(invalid="ignore"):
        far = np.flatnonzero(np.abs(numbers.values) > limit)
    for index in far.tolist():
        numbers.faults.setdefault(index, f"beyond {limit:.0f} degrees")


def _note_written(result: Positions, first: Numbers, second: Numbers, names: tuple[str, str]) -> None:
    """Take over what is wrong with two columns of coordinates, and where one of the two is missing."""
    for numbers, name in zip((first, second), names, strict=True):
        result.blank[~np.isnan(numbers.values)] = False
        for index, reason in numbers.faults.items():
            result.faults.setdefault(index, (name, reason, "correct the cell"))
            result.blank[index] = False
    for index in np.flatnonzero(np.isnan(first.values) != np.isnan(second.values)).tolist():
        name = names[0] if np.isnan(first.values[index]) else names[1]
        result.faults.setdefault(index, (name, "one of the two coordinates is missing", "fill the cell"))


def _usable(result: Positions) -> BoolArray:
    usable = ~result.blank
    usable[list(result.faults)] = False
    return usable


def _note_outside(result: Positions, rows: BoolArray, projection: Projection, name: str) -> None:
    outside = rows & ~np.isfinite(result.easting + result.northing)
    for index in np.flatnonzero(outside).tolist():
        reason = f"lies outside of what {projection.name} can show"
        result.faults[index] = (name, reason, "check the coordinates and --crs")


def _from_geometry(sheet: Sheet, projection: Projection) -> Positions:
    points = _single_points(sheet.table.geometry)
    blank = np.asarray(shapely.is_missing(points) | shapely.is_empty(points))
    whole = np.asarray(~blank & (shapely.get_type_id(points) == 0))
    x, y = np.full(len(points), np.nan), np.full(len(points), np.nan)
    x[whole], y[whole] = shapely.get_x(points[whole]), shapely.get_y(points[whole])
    easting, northing = geometry_to_grid(sheet, projection, x, y)
    result = Positions(easting=easting, northing=northing, faults={}, blank=blank, field="geometry")
    for index in np.flatnonzero(~blank & ~whole).tolist():
        result.faults[index] = (
            "geometry",
            "the feature is no point",
            "export structures and shots as points",
        )
    _note_outside(result, whole, projection, "geometry")
    return result


def drop_zero_heights(ledger: Ledger, values: FloatArray, unit: LengthUnit) -> None:
    """Take an elevation of 0 among real ones for none, and note it; `values` are changed."""
    real = np.abs(values[np.isfinite(values) & (values != 0.0)])
    if len(real) and float(np.median(real)) * unit.metres > _PLAINLY_HIGH_M:
        for index in np.flatnonzero(values == 0.0).tolist():
            ledger.note(index, "elevation", "0 among real elevations; taken as not measured")
            values[index] = np.nan


def _by_columns(found: Positions, sheet: Sheet, projection: Projection) -> Positions:
    """Take eastings and northings of columns that say what the geometry says with more digits."""
    if not {"easting", "northing"} <= sheet.matches.keys():
        return found
    columns = [sheet.numbers(name).values for name in ("easting", "northing")]
    apart = np.hypot(columns[0] - found.easting, columns[1] - found.northing) * projection.unit.metres
    if not found.faults and not found.blank.any() and bool((apart < _SAME_M).all()):
        return replace(found, easting=columns[0], northing=columns[1])
    return found


def _single_points(shapes: ObjectArray | None) -> ObjectArray:
    """Take a multi-point of one point for that point."""
    points = np.array([] if shapes is None else shapes, dtype=object)
    for index in np.flatnonzero(shapely.get_type_id(points) == 4).tolist():
        if len(points[index].geoms) == 1:
            points[index] = points[index].geoms[0]
    return points


def geometry_to_grid(
    sheet: Sheet, projection: Projection, x: FloatArray, y: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Bring coordinates of a vector file from its declared reference to the line's projection.

    Raises
    ------
    InputRefused
        If the file declares no reference, or none that can be reached.
    """
    crs = sheet.table.crs_said or sheet.table.crs
    if not crs:
        reason = "the file does not say which coordinate reference it is in"
        remedy = "add its .prj file, or say --crs-of-file job, or like --crs-of-file EPSG:32612"
        raise InputRefused(sheet.problem(None, "geometry", reason, remedy))
    if crs in {projection.text, JOB}:
        return x, y
    try:
        found = other_crs_to(projection, crs, x, y)
    except InputRefused as refused:
        raise InputRefused(replace(problem, file=sheet.table.file) for problem in refused.problems) from None
    if len(x) and np.isfinite(x + y).any() and not np.isfinite(found[0] + found[1]).any():
        said = "is said to be" if sheet.table.crs_said else "declares to be"
        reason = f"the file {said} in {crs}, in which none of its coordinates lie near {projection.name}"
        remedy = "if they are in the job's own reference, say --crs-of-file job"
        raise InputRefused(sheet.problem(None, "geometry", reason, remedy))
    return found
