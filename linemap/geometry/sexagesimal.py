"""Degrees, minutes and seconds as people write them, and the doubt between packed and decimal numbers."""

from __future__ import annotations

import math
import re

_SIGNS = str.maketrans(
    {
        "′": "'", "’": "'", "‘": "'", "´": "'", "`": "'", "ʹ": "'",
        "″": '"', "”": '"', "“": '"', "ʺ": '"',
        "º": "°", "˚": "°", "−": "-", "–": "-", "‑": "-", "\u00a0": " ",
    }
)  # fmt: skip
_WORDS = (
    (re.compile(r"\s*DEG(?:REES?)?\.?"), "°"),
    (re.compile(r"\s*MIN(?:UTES?)?\.?"), "'"),
    (re.compile(r"\s*SEC(?:ONDS?)?\.?|''"), '"'),
)
_NUMBER = r"(?:\d+(?:\.\d*)?|\.\d+)"
_DMS = re.compile(rf"(\d+)\s*[°D:\s-]\s*(\d+)\s*['M:\s-]\s*({_NUMBER})\s*[\"S]?")
_DM = re.compile(rf"(\d+)\s*[°D:\s-]\s*({_NUMBER})\s*['M]?")
_DECIMAL = re.compile(rf"({_NUMBER})\s*([°D]?)")


class AmbiguousAngle(ValueError):  # noqa: N818 - a question to put to a person, named as the trade would
    """A number that can be read as packed DD.MMSS and as decimal degrees, to different angles.

    Parameters
    ----------
    text : str
        What was written.
    packed_deg, decimal_deg : float
        The two readings, in degrees, signed or reduced as the answer would have been.
    """

    def __init__(self, text: str, *, packed_deg: float, decimal_deg: float) -> None:
        self.packed_deg = packed_deg
        self.decimal_deg = decimal_deg
        super().__init__(
            f"{text!r} can be {format_dms(packed_deg)} (packed DD.MMSS) or {format_dms(decimal_deg)} "
            "(decimal degrees); say which, or write it with degree signs"
        )


def plain_text(text: str) -> str:
    r"""Put typographic primes, quotes and dashes, and the words deg, min and sec, into plain signs.

    The text is trimmed and raised to capitals.

    >>> plain_text(" 18º45′10″ l ")
    '18°45\'10" L'
    """
    plain = text.translate(_SIGNS).strip().upper()
    for word, sign in _WORDS:
        plain = word.sub(sign, plain)
    return plain


def parse_degrees(
    digits: str, *, text: str, packed: bool | None, doubtful: bool, limit: float, sign: float = 1.0
) -> float:
    """Degrees of an unsigned angle as people write it, times `sign`, which is 1 or −1.

    Parameters
    ----------
    digits : str
        The angle, in plain characters (see `plain_text`), without side or quadrant.
    text : str
        What messages quote: the whole text the digits were taken from.
    packed : bool, optional
        How to read a bare number: True as DD.MMSS, False or not given as decimal degrees.
    doubtful : bool
        Whether a bare number with four or more decimals that can be either raises AmbiguousAngle.
    limit : {90.0, 180.0, 360.0}
        Largest angle allowed: of a bearing, of a deflection, of an azimuth. ValueError beyond it.

    >>> parse_degrees("62-14-20", text="N 62-14-20 E", packed=None, doubtful=True, limit=90.0) * 3600
    224060.0
    """
    decimal = _DECIMAL.fullmatch(digits)
    if decimal is None:
        value = _sexagesimal(digits, text)
    elif decimal[2]:
        value = float(decimal[1])
    else:
        value = _bare(decimal[1], text=text, packed=packed, doubtful=doubtful, sign=sign)
    if value > limit:
        raise ValueError(f"{text!r} is beyond {limit:g}°; {_LIMIT_REMEDY[limit]}")
    return sign * value


_LIMIT_REMEDY = {
    90.0: "a bearing is counted from north or south up to 90°: name the other quadrant",
    180.0: "a deflection is how far the line turns, not the angle between the two tangents",
    360.0: "an azimuth is below 360°",
}


def _sexagesimal(digits: str, text: str) -> float:
    """Degrees of a text with degrees and minutes, or degrees, minutes and seconds."""
    parts = _DMS.fullmatch(digits) or _DM.fullmatch(digits)
    if parts is None:
        raise not_an_angle(text, "degrees, minutes and seconds such as 18°45'10\"")
    degrees, *rest = (float(part) for part in parts.groups())
    if any(part >= 60.0 for part in rest):
        raise ValueError(f"{text!r} has minutes or seconds of 60 or more; carry them")
    return degrees + sum(part / 60.0**power for power, part in enumerate(rest, start=1))


def _bare(number: str, *, text: str, packed: bool | None, doubtful: bool, sign: float) -> float:
    """Degrees of a number without degree sign: decimal, or packed DD.MMSS when `packed`."""
    decimal_deg, packed_deg = float(number), _unpack(number)
    if packed:
        if packed_deg is None:
            raise ValueError(f"{text!r} has minutes or seconds of 60 or more as DD.MMSS; read it as decimal")
        return packed_deg
    decimals = len(number.partition(".")[2])
    if doubtful and decimals >= 4 and packed_deg is not None and abs(packed_deg - decimal_deg) > 1e-9:
        raise AmbiguousAngle(text, packed_deg=sign * packed_deg, decimal_deg=sign * decimal_deg)
    return decimal_deg


def _unpack(number: str) -> float | None:
    """Degrees of a packed DD.MMSS number, or None where its minutes or seconds reach 60."""
    whole, _, decimals = number.partition(".")
    padded = decimals.ljust(4, "0")
    minutes, seconds = int(padded[:2]), float(f"{padded[2:4]}.{padded[4:]}")
    if minutes >= 60 or seconds >= 60.0:
        return None
    return float(whole or "0") + minutes / 60.0 + seconds / 3600.0


def not_an_angle(text: str, wanted: str) -> ValueError:
    """Make the error for a text that cannot be read, saying what to write instead."""
    return ValueError(f"{text!r} is not an angle; write {wanted}")


def format_dms(deg: float, *, decimals: int = 0) -> str:
    r"""Write degrees as degrees, minutes and seconds, rounded first so that 60 never appears; "" for nan.

    >>> format_dms(-(18 + 45 / 60 + 10 / 3600)), format_dms(3.99999999), format_dms(0.5, decimals=1)
    ('-18°45\'10"', '4°00\'00"', '0°30\'00.0"')
    """
    if not math.isfinite(deg):
        return ""
    scale = 10**decimals
    count = round(abs(deg) * 3600 * scale)
    degrees, rest = divmod(count, 3600 * scale)
    minutes, rest = divmod(rest, 60 * scale)
    seconds, part = divmod(rest, scale)
    tail = f".{part:0{decimals}d}" if decimals else ""
    return f"{'-' if deg < 0.0 and count else ''}{degrees}°{minutes:02d}'{seconds:02d}{tail}\""
