"""Angles written in lists, compared with what the coordinates of the list say.

A bare number such as 62.1030 may be packed degrees, minutes and seconds or decimal degrees. That is a
question, unless the geometry fits one of the two readings only; and then both readings are still told.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from linemap.geometry.bearing import (
    AmbiguousAngle,
    format_bearing,
    format_deflection,
    parse_azimuth,
    parse_deflection,
    wrap180,
)

__all__ = ["ARC_SECOND", "compare_bearing", "compare_deflection"]

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
    return _compare(text, geometry_deg, within_deg, _deflection, format_deflection)


def compare_bearing(text: str, geometry_deg: float, *, within_deg: float) -> str:
    r"""Say what a written bearing or azimuth has against the azimuth of the coordinates; "" when they agree.

    >>> compare_bearing("N65°27'00\"E", 65.45 + 4 / 3600, within_deg=0.0005)
    'says N 65°27\'00" E, the coordinates say N 65°27\'04" E: 4" apart'
    """
    return _compare(text, geometry_deg, within_deg, _bearing, format_bearing)


def _deflection(text: str, packed: bool | None) -> float:
    return parse_deflection(text, packed=packed)


def _bearing(text: str, packed: bool | None) -> float:
    return parse_azimuth(text, packed=packed)


def _compare(
    text: str,
    geometry_deg: float,
    within_deg: float,
    parse: Callable[[str, bool | None], float],
    show: Callable[[float], str],
) -> str:
    try:
        written = parse(text, None)
    except AmbiguousAngle as doubt:
        return _settle(doubt.packed_deg, doubt.decimal_deg, geometry_deg, within_deg, show)
    except ValueError as error:
        return f"{error}; not compared"
    apart = abs(wrap180(written - geometry_deg))
    if not apart > within_deg:
        return ""
    told = f"says {show(written)}, the coordinates say {show(geometry_deg)}"
    return f"{told}: {_shown_apart(apart)} apart"


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
