"""Latitudes and longitudes pasted into the northing and easting columns of a grid list."""

from __future__ import annotations

import re

import numpy as np

from linemap.geometry.geodesy import Projection
from linemap.io.cells.position import Positions
from linemap.io.cells.sheet import Ledger
from linemap.io.cells.table import cell_text

__all__ = ["settle_degrees"]

#: A converted point this far beyond the other rows is not on their line, metres (10 miles).
_BEYOND_M = 16_093.44
#: Length of one degree of latitude, metres, rounded.
_DEGREE_M = 111_000.0


def settle_degrees(places: Positions, ledger: Ledger, projection: Projection) -> Positions:
    """Read a few rows of degrees among grid coordinates as what they plainly are, and note each.

    A row is taken for latitude and longitude (WGS 84) when the pair lies in the area of use of the job's
    reference and, projected, among the other rows of the list. Other rows keep their fault.
    """
    sheet = ledger.sheet
    odd = [index for index, fault in places.faults.items() if fault[1].startswith("looks like longitude")]
    grid = np.isfinite(places.easting + places.northing)
    if not odd or not grid.any():
        return places
    longitude, latitude = (sheet.numbers(name).values for name in ("easting", "northing"))
    east, north = projection.from_lonlat(longitude[odd], latitude[odd])
    reach = _BEYOND_M / projection.unit.metres
    for index, easting, northing in zip(odd, east.tolist(), north.tolist(), strict=True):
        near = _within(easting, places.easting[grid], reach) and _within(
            northing, places.northing[grid], reach
        )
        if near and _in_use(projection, float(longitude[index]), float(latitude[index])):
            places.easting[index], places.northing[index] = easting, northing
            del places.faults[index]
            ledger.note(index, "easting", _words(sheet.cells("northing")[index], projection))
    return places


def _within(value: float, others: np.ndarray[tuple[int], np.dtype[np.float64]], reach: float) -> bool:
    return bool(others.min() - reach <= value <= others.max() + reach)


def _in_use(projection: Projection, longitude: float, latitude: float) -> bool:
    if projection.bounds is None:
        return True
    west, south, east, north = projection.bounds
    return west <= longitude <= east and south <= latitude <= north


def _words(latitude: object, projection: Projection) -> str:
    decimals = re.search(r"\.(\d+)", cell_text(latitude if isinstance(latitude, str | float) else None))
    places = len(decimals[1]) if decimals else 0
    apart = _DEGREE_M * 10.0**-places / 2.0 / projection.unit.metres
    good = f"good to {apart:,.3g} {projection.unit.symbol} as written"
    return f"latitude and longitude among grid coordinates; read as WGS 84, {good}; is that meant?"
