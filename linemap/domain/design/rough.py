"""Lengths and days as people say them: no more digits than the fix deserves, and the month in letters."""

from __future__ import annotations

import math
from datetime import date

from linemap.units import LengthUnit

__all__ = ["date_words", "fix_step", "length_words", "plus_minus"]

_FOOT_M = 0.3048
_MILE_M = 1609.344
#: From this length on, miles (or kilometres) are said instead of feet (or metres).
_FAR_M = 800.0


def date_words(day: date) -> str:
    """Write a day with its month in letters, which no country reads the other way round.

    >>> date_words(date(2026, 6, 12))
    '12 June 2026'
    """
    return f"{day.day} {day:%B} {day.year}"


def fix_step(accuracy: float) -> int:
    """Return the whole step to round to, in the unit of `accuracy`: at least a tenth of it, a power of ten.

    >>> [fix_step(accuracy) for accuracy in (3.0, 16.0, 160.0)]
    [1, 1, 10]
    """
    return int(10 ** max(0, math.floor(math.log10(max(accuracy, 1.0))) - 1))


def length_words(metres: float, unit: LengthUnit, *, accuracy_m: float = 0.0) -> str:
    """Write a length in whole feet or metres, or in tenths of a mile or kilometre when it is far.

    >>> length_words(343.8, LengthUnit.FOOT), length_words(15449.7, LengthUnit.FOOT)
    ('1,128 ft', '9.6 mi')
    >>> length_words(343.8, LengthUnit.METRE, accuracy_m=120.0)
    '340 m'
    """
    metric = unit is LengthUnit.METRE
    if metres >= _FAR_M:
        return f"{metres / 1000.0:,.1f} km" if metric else f"{metres / _MILE_M:,.1f} mi"
    size = 1.0 if metric else _FOOT_M
    step = fix_step(accuracy_m / size)
    return f"{round(metres / size / step) * step:,} {unit.symbol}"


def plus_minus(accuracy_m: float, unit: LengthUnit) -> str:
    """Write how good a fix is, rounded up: it is never shown better than it is.

    >>> plus_minus(4.9, LengthUnit.FOOT), plus_minus(4.9, LengthUnit.METRE)
    ('±17 ft', '±5 m')
    """
    size = 1.0 if unit is LengthUnit.METRE else _FOOT_M
    return f"±{math.ceil(round(accuracy_m / size, 6)):,} {unit.symbol}"
