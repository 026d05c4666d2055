"""Azimuths, deflections, bisectors and quadrant bearings: arithmetic, reading and writing.

Three words that are never mixed: an *azimuth* is a direction, clockwise from grid north, in [0, 360); a
*deflection* is how far a line turns at a point, right positive, in (−180, 180]; a *bisector* is the azimuth
that halves the turn. Definitions: J. Mahun, Open Access Surveying Library, part VI "Directions".
"""

from __future__ import annotations

import math
import re
from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linemap.geometry.sexagesimal import (
    AmbiguousAngle,
    format_dms,
    not_an_angle,
    parse_degrees,
    plain_text,
)

_SIDE = r"RIGHT|RT|R|LEFT|LT|L"
_SIDED = re.compile(rf"(?:({_SIDE})\.?)?\s*([+-]?)\s*([^A-Z+-].*?)\s*(?:({_SIDE})\.?)?")
_QUADRANT = re.compile(r"(NORTH|SOUTH|N|S)\.?\s*(\S.*?)\s*(EAST|WEST|E|W)\.?")
_DUE = {"N": 0.0, "NORTH": 0.0, "E": 90.0, "EAST": 90.0} | {
    "S": 180.0, "SOUTH": 180.0, "W": 270.0, "WEST": 270.0,
}  # fmt: skip


@overload
def wrap180(deg: float) -> float: ...
@overload
def wrap180(deg: NDArray[np.float64]) -> NDArray[np.float64]: ...
def wrap180(deg: float | NDArray[np.float64]) -> float | NDArray[np.float64]:
    """Reduce degrees to (−180, 180]; a scalar gives a float, an array an array, nan stays nan.

    >>> wrap180(-180.0), wrap180(190.0), wrap180(-541.0)
    (180.0, -170.0, 179.0)
    """
    turned = 180.0 - _of_full_turn(180.0 - np.asarray(deg, dtype=np.float64))
    turned[turned <= -180.0] = 180.0  # the remainder may round up to 360 itself
    return float(turned[0]) if np.ndim(deg) == 0 else turned


@overload
def wrap360(deg: float) -> float: ...
@overload
def wrap360(deg: NDArray[np.float64]) -> NDArray[np.float64]: ...
def wrap360(deg: float | NDArray[np.float64]) -> float | NDArray[np.float64]:
    """Reduce degrees to [0, 360); a scalar gives a float, an array an array, nan stays nan.

    >>> wrap360(360.0), wrap360(-30.0), wrap360(-1e-20)
    (0.0, 330.0, 0.0)
    """
    turned = _of_full_turn(np.asarray(deg, dtype=np.float64))
    turned[turned >= 360.0] = 0.0  # a tiny negative rounds up to 360 itself
    return float(turned[0]) if np.ndim(deg) == 0 else turned


@overload
def azimuth_deg(east: float, north: float) -> float: ...
@overload
def azimuth_deg(east: NDArray[np.float64], north: NDArray[np.float64]) -> NDArray[np.float64]: ...
def azimuth_deg(
    east: float | NDArray[np.float64], north: float | NDArray[np.float64]
) -> float | NDArray[np.float64]:
    """Azimuth of the direction (`east`, `north`), degrees in [0, 360); nan where the length is zero.

    >>> azimuth_deg(1.0, 1.0), azimuth_deg(-2.0, 0.0)
    (45.0, 270.0)
    """
    e, n = np.asarray(east, dtype=np.float64), np.asarray(north, dtype=np.float64)
    azimuth = np.where((e == 0.0) & (n == 0.0), np.nan, np.degrees(np.arctan2(e, n)))
    return wrap360(float(azimuth) if azimuth.ndim == 0 else azimuth)


@overload
def deflection_deg(azimuth_back_deg: float, azimuth_ahead_deg: float) -> float: ...
@overload
def deflection_deg(azimuth_back_deg: ArrayLike, azimuth_ahead_deg: ArrayLike) -> NDArray[np.float64]: ...
def deflection_deg(azimuth_back_deg: ArrayLike, azimuth_ahead_deg: ArrayLike) -> float | NDArray[np.float64]:
    """How far a line turns, in degrees, right positive, in (−180, 180].

    Both azimuths are in the direction of travel: of the tangent behind and of the tangent ahead.
    Source: J. Mahun, Open Access Surveying Library, part VI, chapter C.

    >>> round(deflection_deg(215 + 35 / 60, 130 + 50 / 60), 4)
    -84.75
    """
    turn = np.asarray(azimuth_ahead_deg, dtype=np.float64) - np.asarray(azimuth_back_deg, dtype=np.float64)
    return wrap180(float(turn) if turn.ndim == 0 else turn)


def at_distance(place: tuple[float, float], azimuth: float, distance: float) -> tuple[float, float]:
    """Return easting and northing of the point a distance from a place, in the direction of an azimuth.

    >>> [round(value, 6) for value in at_distance((100.0, 200.0), 90.0, 5.0)]
    [105.0, 200.0]
    """
    angle = math.radians(azimuth)
    return place[0] + distance * math.sin(angle), place[1] + distance * math.cos(angle)


@overload
def bisector_azimuth_deg(azimuth_back_deg: float, azimuth_ahead_deg: float) -> float: ...
@overload
def bisector_azimuth_deg(
    azimuth_back_deg: ArrayLike, azimuth_ahead_deg: ArrayLike
) -> NDArray[np.float64]: ...
def bisector_azimuth_deg(
    azimuth_back_deg: ArrayLike, azimuth_ahead_deg: ArrayLike
) -> float | NDArray[np.float64]:
    """Ahead direction halfway through the turn: back azimuth plus half the deflection, in [0, 360).

    Not the mean of the two azimuths, which points the wrong way across north. A line that doubles back by
    exactly 180° is taken to turn right.

    >>> bisector_azimuth_deg(350.0, 20.0)
    5.0
    """
    back = np.asarray(azimuth_back_deg, dtype=np.float64)
    middle = back + np.asarray(deflection_deg(back, azimuth_ahead_deg)) / 2.0
    return wrap360(float(middle) if middle.ndim == 0 else middle)


def parse_deflection(text: str, *, packed: bool | None = None) -> float:
    """Read a deflection as people write it: signed degrees, right positive.

    Parameters
    ----------
    text : str
        Degrees, minutes and seconds with any usual separator, degrees and decimal minutes, or decimal
        degrees; the side as R, RT, RIGHT, L, LT, LEFT before or after, or a sign. "TANGENT", "TAN" and "0"
        are 0; blank is nan, for not known.
    packed : bool, optional
        How to read a bare number such as 18.4510: True as DD.MMSS, False as decimal degrees. Not given: a
        number with a side letter and four or more decimals that could be either is asked about, not guessed.

    Raises
    ------
    AmbiguousAngle
        If the number can be packed or decimal and `packed` does not say which.
    ValueError
        If the text is no deflection, has two sides, or is beyond 180°.

    >>> parse_deflection("18-45-10 L") == parse_deflection("LT 18°45′10″") == -(18 + 45 / 60 + 10 / 3600)
    True
    >>> parse_deflection("18.4510 L", packed=True) == parse_deflection("18 45 10 LEFT")
    True
    """
    plain = plain_text(text)
    if not plain:
        return math.nan
    if plain in {"TANGENT", "TAN"}:
        return 0.0
    sided = _SIDED.fullmatch(plain)
    if sided is None:
        raise not_an_angle(text, "a deflection such as 18°45'10\" L")
    before, sign, digits, after = sided.groups()
    if sum(part is not None and part != "" for part in (before, sign, after)) > 1:
        raise ValueError(f"{text!r} says its side twice; write one side letter or one sign")
    direction = -1.0 if sign == "-" or (before or after or "R").startswith("L") else 1.0
    doubtful = packed is None and bool(before or after)
    return parse_degrees(digits, text=text, packed=packed, doubtful=doubtful, limit=180.0, sign=direction)


def parse_azimuth(text: str, *, packed: bool | None = None) -> float:
    """Read a quadrant bearing or an azimuth as people write it: degrees in [0, 360); blank is nan.

    Parameters
    ----------
    text : str
        ``N62°14'20"E``, ``S80 24 E``, ``N``, ``DUE EAST``, ``62°14'20"`` or ``62.2389``.
    packed : bool, optional
        As in `parse_deflection`; the doubt is raised for bare numbers between quadrant letters.

    Raises
    ------
    AmbiguousAngle
        If the number can be packed or decimal and `packed` does not say which.
    ValueError
        If the text is neither, a bearing is beyond 90°, or an azimuth is beyond 360° or negative.

    >>> parse_azimuth("S80 24 E"), parse_azimuth("due west"), parse_azimuth("360")
    (99.6, 270.0, 0.0)
    """
    plain = plain_text(text)
    if not plain:
        return math.nan
    due = plain.removeprefix("DUE").strip().rstrip(".")
    if due in _DUE:
        return _DUE[due]
    quadrant = _QUADRANT.fullmatch(plain)
    if quadrant is None:
        return wrap360(parse_degrees(plain, text=text, packed=packed, doubtful=False, limit=360.0))
    pole, digits, side = quadrant[1][0], quadrant[2], quadrant[3][0]
    try:
        bearing = parse_degrees(digits, text=text, packed=packed, doubtful=packed is None, limit=90.0)
    except AmbiguousAngle as doubt:
        readings = (_from_quadrant(pole, value, side) for value in (doubt.packed_deg, doubt.decimal_deg))
        raise AmbiguousAngle(text, packed_deg=next(readings), decimal_deg=next(readings)) from None
    return _from_quadrant(pole, bearing, side)


def _of_full_turn(deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Remainder of degrees by 360, in [0, 360]: as np.mod gives it, in a third of the time."""
    degrees = np.atleast_1d(deg)
    turned = degrees - 360.0 * np.floor(degrees / 360.0)
    outside = (turned < 0.0) | (turned > 360.0)  # the quotient was rounded up to the next whole turn
    if outside.any():
        turned[outside] = np.mod(degrees[outside], 360.0)
    return turned


def _from_quadrant(pole: str, bearing_deg: float, side: str) -> float:
    """Azimuth of a bearing counted from `pole` (N or S) towards `side` (E or W)."""
    from_pole = bearing_deg if (pole == "N") == (side == "E") else -bearing_deg
    return wrap360(from_pole + (0.0 if pole == "N" else 180.0))


def format_deflection(deg: float) -> str:
    r"""Write a deflection with its side letter; zero has no side, nan is "".

    >>> format_deflection(-(18 + 45 / 60 + 10 / 3600)), format_deflection(0.0)
    ('18°45\'10" L', '0°00\'00"')
    """
    text = format_dms(abs(deg))
    if not any(digit in text for digit in "123456789"):
        return text
    return f"{text} {'R' if deg > 0.0 else 'L'}"


def format_bearing(azimuth: float) -> str:
    r"""Write an azimuth as a quadrant bearing, rounded before the quadrant is chosen; nan is "".

    Due north is N 0 E, due east N 90 E, due south S 0 E, due west N 90 W.

    >>> format_bearing(62 + 14 / 60 + 20 / 3600), format_bearing(89.9999999)
    ('N 62°14\'20" E', 'N 90°00\'00" E')
    """
    if not math.isfinite(azimuth):
        return ""
    quarter = 90 * 3600
    count = round(wrap360(azimuth) * 3600) % (4 * quarter)
    if count <= quarter:
        pole, from_pole, side = "N", count, "E"
    elif count <= 2 * quarter:
        pole, from_pole, side = "S", 2 * quarter - count, "E"
    elif count < 3 * quarter:
        pole, from_pole, side = "S", count - 2 * quarter, "W"
    else:
        pole, from_pole, side = "N", 4 * quarter - count, "W"
    return f"{pole} {format_dms(from_pole / 3600)} {side}"
