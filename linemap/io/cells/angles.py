"""Angles in lists: bearings and deflections compared with coordinates, degrees pasted into grid columns.

A bare number such as 62.1030 may be packed degrees, minutes and seconds or decimal degrees. That is a
question, unless the geometry fits one of the two readings only; and then both readings are still told.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np

from linemap.geometry.bearing import (
    format_bearing,
    format_deflection,
    parse_azimuth,
    parse_deflection,
    wrap180,
)
from linemap.geometry.projection import Projection
from linemap.geometry.sexagesimal import AmbiguousAngle
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.position import Positions
from linemap.io.cells.table import cell_text

#: One second of arc, degrees.
ARC_SECOND = 1.0 / 3600.0


def compare_deflection(text: str, geometry_deg: float, *, within_deg: float) -> str:
    r"""Say what a written deflection has against the geometry; "" when they agree.

    Parameters
    ----------
    text : str
        As written: "18-45-10 LT", "62.1030 L", "TANGENT".
    geometry_deg : float
        Deflection by the coordinates, right positive; nan where they tell none.
    within_deg : float
        Differences up to this are none.

    >>> compare_deflection("3°12'40\" RT", 3.2111, within_deg=0.001)
    ''
    >>> compare_deflection("62.1030 L", -62.175, within_deg=0.001)
    'may be 62°10\'30" L (packed) or 62°06\'11" L (decimal); the coordinates say the first'
    """
    return _compare(text, geometry_deg, within_deg, parse_deflection, format_deflection)


def compare_bearing(text: str, geometry_deg: float, *, within_deg: float) -> str:
    r"""Say what a written bearing or azimuth has against the azimuth of the coordinates; "" when they agree.

    >>> compare_bearing("N65°27'00\"E", 65.45 + 4 / 3600, within_deg=0.0005)
    'says N 65°27\'00" E, the coordinates say N 65°27\'04" E: 4" apart'
    """
    return _compare(text, geometry_deg, within_deg, parse_azimuth, format_bearing)


def _compare(
    text: str,
    geometry_deg: float,
    within_deg: float,
    parse: Callable[[str], float],
    show: Callable[[float], str],
) -> str:
    try:
        written = parse(text)
    except AmbiguousAngle as doubt:
        return _settle(doubt.packed_deg, doubt.decimal_deg, geometry_deg, within_deg, show)
    except ValueError as error:
        return f"{error}; not compared"
    apart = abs(wrap180(written - geometry_deg))
    if not apart > within_deg:
        return ""
    both = f"says {show(written)}, the coordinates say {show(geometry_deg)}"
    return f"{both}: {_shown_apart(apart)} apart"


def _settle(
    packed_deg: float,
    decimal_deg: float,
    geometry_deg: float,
    within_deg: float,
    show: Callable[[float], str],
) -> str:
    question = f"may be {show(packed_deg)} (packed) or {show(decimal_deg)} (decimal)"
    if not math.isfinite(geometry_deg):
        return f"{question}; which is meant?"
    fits = [abs(wrap180(each - geometry_deg)) <= within_deg for each in (packed_deg, decimal_deg)]
    if fits == [True, False] or fits == [False, True]:
        return f"{question}; the coordinates say the {'first' if fits[0] else 'second'}"
    neither = "" if any(fits) else ", which is neither"
    return f"{question}; the coordinates say {show(geometry_deg)}{neither}; which is meant?"


def _shown_apart(degrees: float) -> str:
    seconds = degrees / ARC_SECOND
    return f'{seconds:.0f}"' if seconds < 600.0 else f"{degrees:.2f}°"


#: A converted point this far beyond the other rows is not on their line, metres (10 miles).
_BEYOND_M = 16_093.44
_THOUSAND = 1000.0
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
        if near and projection.made_for(float(longitude[index]), float(latitude[index])):
            places.easting[index], places.northing[index] = easting, northing
            del places.faults[index]
            ledger.note(index, "easting", _words(sheet.cells("northing")[index], projection))
    return places


def _within(value: float, others: np.ndarray[tuple[int], np.dtype[np.float64]], reach: float) -> bool:
    return bool(others.min() - reach <= value <= others.max() + reach)


def _words(latitude: object, projection: Projection) -> str:
    decimals = re.search(r"\.(\d+)", cell_text(latitude if isinstance(latitude, str | float) else None))
    places = len(decimals[1]) if decimals else 0
    apart = _DEGREE_M * 10.0**-places / 2.0 / projection.unit.metres
    shown = f"{apart:.3g}" if apart < _THOUSAND else f"{apart:,.0f}"
    good = f"good to {shown} {projection.unit.symbol} as written"
    return f"latitude and longitude among grid coordinates; read as WGS 84, {good}; is that meant?"
