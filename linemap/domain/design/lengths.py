"""Lengths as people write and say them: feet and inches on wood, and no more digits than a fix deserves."""

from __future__ import annotations

import math
import re
from fractions import Fraction

from linemap.units import LengthUnit, convert_length

#: A tape is read to the sixteenth of an inch.
_PER_INCH = 16
_SIGNS = str.maketrans({"′": "'", "’": "'", "″": '"', "”": '"', "−": "-", "–": "-"})
_NUMBER = r"(?:\d+(?:\.\d+)?|\.\d+)"
_INCHES = rf"(?:(?P<inches>{_NUMBER})?\s*(?P<part>\d+/\d+)?)\s*(?:\"|''|IN(?:CH(?:ES)?)?\.?)"
_FEET = rf"(?P<feet>{_NUMBER})\s*(?:'|FT\.?|FEET)"
_TEXT = re.compile(rf"(?:{_FEET}\s*-?\s*)(?:{_INCHES})?|{_INCHES.replace('?P<', '?P<only_')}", re.IGNORECASE)


def format_inches(inches: float) -> str:
    """Write inches to the nearest sixteenth, as a fraction; "" for nan.

    >>> format_inches(14.7128), format_inches(-0.06), format_inches(0.5), format_inches(3.0)
    ('14 11/16', '-1/16', '1/2', '3')
    """
    if not math.isfinite(inches):
        return ""
    count = round(abs(inches) * _PER_INCH)
    whole, part = divmod(count, _PER_INCH)
    sign = "-" if inches < 0.0 and count else ""
    fraction = f"{Fraction(part, _PER_INCH)}" if part else ""
    return sign + " ".join(filter(None, (str(whole) if whole or not part else "", fraction)))


def format_feet_inches(feet: float) -> str:
    r"""Write feet as feet and inches to the nearest sixteenth of an inch; "" for nan.

    Rounded first, so that 12 inches never appear; whole inches are always there, so that 1'-0 11/16" is
    not taken for 1'-11".

    >>> format_feet_inches(12.6392), format_feet_inches(0.99999), format_feet_inches(-5.3)
    ('12\'-7 11/16"', '1\'-0"', '-5\'-3 5/8"')
    """
    if not math.isfinite(feet):
        return ""
    count = round(abs(feet) * 12 * _PER_INCH)
    whole, rest = divmod(count, 12 * _PER_INCH)
    sign = "-" if feet < 0.0 and count else ""
    inches, part = divmod(rest, _PER_INCH)
    fraction = f" {Fraction(part, _PER_INCH)}" if part else ""
    return f"{sign}{whole}'-{inches}{fraction}\""


def parse_feet_inches(text: str) -> float:
    r"""Read feet and inches as drawings write them, in feet.

    Raises
    ------
    ValueError
        If the text is none, or has 12 inches or more beside feet.

    >>> parse_feet_inches("12'-6\""), parse_feet_inches("1' 7 1/2\""), parse_feet_inches("9 in")
    (12.5, 1.625, 0.75)
    """
    match = _TEXT.fullmatch(text.translate(_SIGNS).strip())
    if match is None:
        raise ValueError(f"{text!r} is no length in feet and inches; write it like 12'-6\"")
    whole, part = match["inches"] or match["only_inches"], match["part"] or match["only_part"]
    if match["feet"] is None and whole is None and part is None:
        raise ValueError(f"{text!r} is no length in feet and inches; write it like 12'-6\"")
    try:
        inches = float(whole or 0.0) + float(Fraction(part or 0))
    except ZeroDivisionError:
        raise ValueError(f"{text!r} divides by 0; correct the fraction") from None
    if match["feet"] is not None and inches >= 12.0:
        raise ValueError(f"{text!r} has 12 inches or more beside feet; carry them")
    return float(match["feet"] or 0.0) + inches / 12.0


def wood_text(length: float, unit: LengthUnit) -> str:
    r"""Write a length as it is marked on wood: feet and inches to 1/16, millimetres on a metric job.

    >>> wood_text(12.6392, LengthUnit.FOOT), wood_text(3.85243, LengthUnit.METRE)
    ('12\'-7 11/16"', '3.852 m')
    """
    if unit is LengthUnit.METRE:
        return f"{length:.3f} m" if math.isfinite(length) else ""
    return format_feet_inches(convert_length(length, source=unit, target=LengthUnit.FOOT))


def unbroken(length: str) -> str:
    r"""Keep a written length on one line of a sentence: half a length reads as another one.

    >>> unbroken('12\'-7 11/16"')
    '12\'-7\xa011/16"'
    """
    return length.replace(" ", "\N{NO-BREAK SPACE}")


_FOOT_M = 0.3048
_MILE_M = 1609.344
#: From this length on, miles (or kilometres) are said instead of feet (or metres).
_FAR_M = 800.0


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
