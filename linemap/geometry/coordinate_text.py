"""Two coordinates as people write them: which is north, grid or degrees; every reading, none chosen."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from linemap.geometry.sexagesimal import parse_degrees, plain_text

_LABELS = {
    "N": "north", "S": "south", "E": "east", "W": "west", "Y": "north", "X": "east",
    "NORTHING": "north", "EASTING": "east", "LATITUDE": "latitude", "LAT": "latitude",
    "LONGITUDE": "longitude", "LONG": "longitude", "LON": "longitude",
}  # fmt: skip
_NORTHWARD, _NEGATIVE = frozenset({"north", "south", "latitude"}), frozenset({"south", "west"})
_OF_GRID = frozenset({"", "north", "east"})
_LABEL = f"({'|'.join(sorted(_LABELS, key=len, reverse=True))})"
_VALUE = r"([+-]?\d[\d\s.,°'\":-]*?)"
#: N 914050.99 E 2276177.43, lat: 46.7 lon: -108.4; and 914050.99 N, 2276177.43 E.
_LABELS_FIRST = re.compile(rf"{_LABEL}\s*[:=]?\s*{_VALUE}[\s,;]*{_LABEL}\s*[:=]?\s*{_VALUE}")
_LABELS_LAST = re.compile(rf"{_VALUE}\s*{_LABEL}[\s,;]*{_VALUE}\s*{_LABEL}")
#: What stands between two values without labels, the surest first: a comma may part thousands.
_BETWEEN = (r"\s*;\s*", r"\s*,\s+", r"\s*,\s*", r"\s+")
_NUMBER = re.compile(r"[+-]?(?:\d+|\d{1,3}(?:,\d{3})+)(?:\.\d*)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class CoordinatePair:
    """One reading of a pair of coordinates."""

    #: "grid" = northing and easting in the unit of the grid, "degrees" = latitude and longitude.
    read_as: Literal["grid", "degrees"]
    north: float
    east: float
    #: What was taken that is not written, "" = nothing: "north first", "longitude taken as west".
    note: str


def read_pairs(text: str) -> Iterator[CoordinatePair]:
    """Give every reading of a text as a pair of coordinates, none when it is no such pair.

    Letters say which is which and, in degrees, the hemisphere; without them both orders are given, and a
    positive longitude without a hemisphere also as west. Degrees may have minutes and seconds. A pair that
    can be degrees and grid coordinates is given as both.

    >>> [(each.read_as, each.north, each.east) for each in read_pairs("914050.99 N, 2276177.43 E")]
    [('grid', 914050.99, 2276177.43)]
    >>> [(each.north, each.east) for each in read_pairs("46°30'N 108°15'W") if each.read_as == "degrees"]
    [(46.5, -108.25)]
    """
    for values, labels in _split(plain_text(text)):
        for order in (1, -1):
            (north, east), (north_label, east_label) = values[::order], labels[::order]
            if (north_label and north_label not in _NORTHWARD) or east_label in _NORTHWARD:
                continue
            taken = "" if any(labels) else ("north first" if order == 1 else "east first")
            if {north_label, east_label} <= _OF_GRID:
                yield from _grid(north, east, taken)
            yield from _degrees(north, east, (north_label, east_label), taken)


def _grid(north: str, east: str, taken: str) -> Iterator[CoordinatePair]:
    if _NUMBER.fullmatch(north) and _NUMBER.fullmatch(east):
        values = [float(text.replace(",", "")) for text in (north, east)]
        yield CoordinatePair(read_as="grid", north=values[0], east=values[1], note=taken)


def _degrees(north: str, east: str, labels: tuple[str, str], taken: str) -> Iterator[CoordinatePair]:
    latitude, longitude = _angle(north, labels[0], limit=90.0), _angle(east, labels[1], limit=180.0)
    if latitude is None or longitude is None:
        return
    yield CoordinatePair(read_as="degrees", north=latitude, east=longitude, note=taken)
    if longitude > 0.0 and labels[1] in {"", "longitude"}:
        note = ", ".join(filter(None, (taken, "longitude taken as west")))
        yield CoordinatePair(read_as="degrees", north=latitude, east=-longitude, note=note)


def _angle(text: str, label: str, *, limit: float) -> float | None:
    """Read a latitude or longitude; one with a hemisphere has no sign of its own."""
    sign = -1.0 if text.startswith("-") or label in _NEGATIVE else 1.0
    digits = text.lstrip("+-").strip()
    try:
        return parse_degrees(digits, text=text, packed=False, doubtful=False, limit=limit, sign=sign)
    except ValueError:
        return None


def _split(plain: str) -> Iterator[tuple[tuple[str, str], tuple[str, str]]]:
    """Give the two values of a text, each with its label or ""."""
    if found := _LABELS_FIRST.fullmatch(plain):
        yield (_bare(found[2]), _bare(found[4])), (_LABELS[found[1]], _LABELS[found[3]])
    elif found := _LABELS_LAST.fullmatch(plain):
        yield (_bare(found[1]), _bare(found[3])), (_LABELS[found[2]], _LABELS[found[4]])
    else:
        parts = (re.split(between, plain) for between in _BETWEEN)
        two = next((each for each in parts if len(each) == 2 and all(each)), None)
        if two is not None:
            yield (two[0], two[1]), ("", "")


def _bare(value: str) -> str:
    return value.strip(" ,;")
