"""Structure numbers as lists hold them, those a spreadsheet turned into dates, and the miles they lie in.

Numbering differs by owner: miles or kilometres, the first one 0 or 1, measured by station or by true
distance. Which of these a list uses shows in the numbers a spreadsheet left alone; a way of counting is
heeded only when nine rows of ten agree with it.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from itertools import product

import numpy as np

from linemap.domain.design.naming import AmbiguousNumber, ListedNumbers
from linemap.domain.design.number import StructureNumber, in_one_spelling, same_number, spelled
from linemap.domain.design.structure import FloatArray
from linemap.geometry.station import parse_station
from linemap.io.cells.dates import MONTHS
from linemap.io.cells.table import Cell, cell_text
from linemap.units import LengthUnit

DATE_REMEDY = "format the column as text and enter the number again, like 1/2"
_MONTH = rf"(?:{'|'.join(MONTHS)})[a-z]*\.?"
_DATE = re.compile(
    rf"""\d{{1,2}}[-\ /]{_MONTH}(?:[-\ /,]+\d{{2,4}})?
      | {_MONTH}[-\ /]\d{{1,4}}(?:[-\ /,]+\d{{2,4}})?
      | \d{{1,2}}[/.\-]\d{{1,2}}[/.\-](?:\d{{2}}|\d{{4}})
      | \d{{4}}[/.\-]\d{{1,2}}[/.\-]\d{{1,2}}(?:[T\ ]\d{{1,2}}:\d{{2}}(?::\d{{2}}(?:\.\d+)?)?)?""",
    re.VERBOSE | re.IGNORECASE,
)
_TURNED = "looks like a structure number a spreadsheet turned into"
#: Day counts a spreadsheet uses for the years 2000 to 2060.
_SERIALS = range(36526, 58807)


_NONE_LISTED = ListedNumbers()
_RANGE = re.compile(
    r"(\S*/\S*?|[A-Z0-9][\w\-]*?)\s*(?:\s(?:to|thru|through)\s|\.\.\.?|[\u2013\u2014]|\s-\s|(?<=/\d)-(?=\d+/)|(?<=/\d\d)-(?=\d+/))\s*(\S+)",
    re.IGNORECASE,
)
_TO = re.compile("[-\u2013\u2014]|\\s(?:to|thru|through)\\s|\\.\\.\\.?", re.IGNORECASE)
_SIGN = re.compile(r"\d(\s*[/\-]\s*)\d")
_BETWEEN = re.compile(r"\s*(?:[,;&+\n]|\band\b)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureSet:
    """The structures a cell names: one by one, or from a first to a last."""

    numbers: tuple[str, ...] = ()
    first: str = ""
    last: str = ""


def parse_set(text: str, listed: ListedNumbers = _NONE_LISTED, *, line: str = "") -> StructureSet:
    """Read a cell that names one structure, several, or a range, as the job's list writes them.

    Raises
    ------
    ValueError
        If some part is no structure number or may be several of the list, or ranges and single numbers stand
        in one cell.

    >>> parse_set("7/3, 7/4").numbers, parse_set("11/4 thru 11/6").last, parse_set("22/2-22/5").first
    (('7/3', '7/4'), '11/6', '22/2')
    """
    if listed.has(text, line) or (not listed and in_one_spelling(text)):
        return StructureSet(numbers=(text,))
    if looks_like_date(text) and not listed.meant(text, line):
        raise ValueError(f"{text} {_TURNED} a date; {DATE_REMEDY}")
    ends = _ends(text, listed, line)
    if ends:
        return StructureSet(first=_one(ends[0], listed, line), last=_one(ends[1], listed, line))
    parts = [part for part in _BETWEEN.split(text) if part]
    if len(parts) > 1 and any(_RANGE.fullmatch(part) for part in parts):
        raise ValueError(f"{text!r} mixes a range with single numbers; give each a row of its own")
    return StructureSet(numbers=tuple(_one(part, listed, line) for part in parts))


def _ends(text: str, listed: ListedNumbers, line: str) -> tuple[str, str] | None:
    """Return the first and the last number of a range; a listed number is none: "12-3", but "12-3-12-6"."""
    if listed and not listed.meant(text, line):
        for sign in _TO.finditer(text):
            first, last = text[: sign.start()], text[sign.end() :]
            if all(each.strip() and listed.meant(each, line) for each in (first, last)):
                return first, last
    found = _RANGE.fullmatch(text)
    return None if found is None else (found[1], found[2])


def _one(text: str, listed: ListedNumbers, line: str) -> str:
    """Return one number as the list writes it; what is in no list must look like a number."""
    if not listed and in_one_spelling(text):
        return text
    found = listed.find(text, line)
    if not listed.has(found, line):
        StructureNumber.parse(text)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberColumn:
    """A column of structure numbers."""

    #: One spelling each, "" where blank.
    numbers: list[str]
    #: Row indices whose text is no structure number ("TOTAL 121", "Bay 2").
    unusual: set[int]
    #: Row index -> why the cell cannot be a structure number.
    faults: dict[int, str]


def looks_like_date(cell: Cell) -> bool:
    """Say whether a cell is a date, or text as a spreadsheet shows one.

    >>> [looks_like_date(text) for text in ("2-Jan", "Jan-02", "1/2/2026", "1/2", "12/3A")]
    [True, True, True, False, False]
    """
    if isinstance(cell, datetime | date | time):
        return True
    return isinstance(cell, str) and _DATE.fullmatch(cell.strip()) is not None


def read_numbers(cells: Sequence[Cell]) -> NumberColumn:
    """Read a column of structure numbers into one spelling, looking for dates made by spreadsheets.

    See `as_written` for the spelling of a structure list, `as_listed` for that of all others.
    """
    seen: dict[str, tuple[str, bool]] = {}
    result = NumberColumn(numbers=[], unusual=set(), faults={})
    for index, cell in enumerate(cells):
        text = cell_text(cell)
        known = seen.get(text)
        if known is None:
            known = seen[text] = _spelling(text)
        result.numbers.append(known[0])
        if known[1]:
            result.unusual.add(index)
            if looks_like_date(cell):
                result.faults[index] = (
                    f"{_shown(cell)} looks like a structure number a spreadsheet turned into a date"
                )
    _find_serials(result)
    return result


def as_written(cells: Sequence[Cell], numbers: Sequence[str]) -> list[str]:
    """Return the numbers of a structure list as their cells write them; restored ones as most others are.

    >>> as_written(["12-3", "12-04", "6-Dec"], ["12/3", "12/4", "12/6"])
    ['12-3', '12-04', '12-6']
    """
    written = [
        spelled(text) if text and text != number and same_number(text) == number else number
        for text, number in zip(map(cell_text, cells), numbers, strict=True)
    ]
    signs = Counter(sign[1] for sign in map(_SIGN.search, written) if sign)
    usual = signs.most_common(1)[0][0] if signs else "/"
    if usual == "/":
        return written
    return [
        number.replace("/", usual) if number == given and looks_like_date(cell) else number
        for number, given, cell in zip(written, numbers, cells, strict=True)
    ]


def as_listed(
    column: NumberColumn, cells: Sequence[Cell], lines: Sequence[str], listed: ListedNumbers
) -> NumberColumn:
    """Return a column of numbers as the job's list writes them; one that may be several of it is a fault."""
    if not listed:
        return column
    numbers, faults, unusual = list(column.numbers), dict(column.faults), set(column.unusual)
    known: dict[tuple[str, str], tuple[str, ...]] = {}
    for index, (number, cell) in enumerate(zip(column.numbers, cells, strict=True)):
        text, line = cell_text(cell), lines[index]
        if not number or listed.has(text, line):
            faults.pop(index, None)
            numbers[index] = text if number else number
            unusual.discard(index)
            continue
        asked = number if looks_like_date(cell) or same_number(text) != number else text
        found = known.setdefault((line, asked), listed.meant(asked, line))
        if len(found) == 1:
            numbers[index] = found[0]
            unusual.discard(index)
        elif found:
            faults[index] = str(AmbiguousNumber(text, found))
    return replace(column, numbers=numbers, faults=faults, unusual=unusual)


def _spelling(text: str) -> tuple[str, bool]:
    if not text or in_one_spelling(text):
        return text, False
    try:
        return str(StructureNumber.parse(text)), False
    except ValueError:
        return same_number(text), True


def _shown(cell: Cell) -> str:
    return f"{cell.day}-{cell:%b}" if isinstance(cell, date) else cell_text(cell)


def _find_serials(result: NumberColumn) -> None:
    """Among numbers with a slash, 45294 is a day count, not a structure."""
    if not any("/" in number for number in result.numbers):
        return
    for index, number in enumerate(result.numbers):
        if len(number) == 5 and number.isdigit() and int(number) in _SERIALS:
            result.faults[index] = (
                f"{number} looks like a structure number a spreadsheet turned into a day count"
            )


#: Stations and true distances differ by the station equations, so a row this near a mile's end may lie in
#: either mile; share of a mile. Common practice, no source.
_NEAR_END = 0.1
_AGREE = 0.9
_LENGTHS_M = (1609.344, 1000.0)


def station_values(texts: Sequence[str], *, unit: LengthUnit) -> FloatArray:
    """Return stations as numbers, nan where blank or no station.

    >>> station_values(["118+40", "10+73.5 BK", "", "see dwg"], unit=LengthUnit.FOOT).tolist()
    [11840.0, 1073.5, nan, nan]
    """
    return np.array([_station(text, unit.per_plus) for text in texts])


def _station(text: str, per_plus: int) -> float:
    if not text:
        return math.nan
    try:
        return parse_station(text, per_plus=per_plus).value
    except ValueError:
        return math.nan


def distance_along(easting: FloatArray, northing: FloatArray) -> FloatArray:
    """Return the distance of each row from the first along the list; nan where it has no coordinates.

    >>> distance_along(np.array([0.0, np.nan, 3.0]), np.array([0.0, 0.0, 4.0])).tolist()
    [0.0, nan, 5.0]
    """
    along = np.full(len(easting), np.nan)
    good = np.flatnonzero(np.isfinite(easting + northing))
    if len(good):
        steps = np.hypot(np.diff(easting[good]), np.diff(northing[good]))
        along[good] = np.concatenate([[0.0], np.cumsum(steps)])
    return along


def mile_candidates(
    distance: FloatArray, choices: Mapping[int, Sequence[str]], *, unit: LengthUnit
) -> dict[int, frozenset[int]]:
    """Return row index -> miles the row may lie in, empty when no way of counting agrees with the list.

    Parameters
    ----------
    distance : (n,) ndarray
        Stations, or distances along the list, in `unit`; nan where not known.
    choices : mapping
        Row index -> the numbers it may have: one where it is known.
    unit : LengthUnit

    >>> mile_candidates(np.array([0.0, 6000.0]), {0: ["1/1"], 1: ["2/1", "1/2"]}, unit=LengthUnit.FOOT)
    {0: frozenset({0, 1}), 1: frozenset({2})}
    """
    rows = [index for index in choices if math.isfinite(distance[index]) and distance[index] >= 0.0]
    own = {index: _miles(choices[index]) for index in rows}
    rows = [index for index in rows if own[index]]
    found: dict[int, set[int]] = {}
    for metres, first in product(_LENGTHS_M, (1, 0)):
        length = metres / unit.metres
        miles = {index: _near(float(distance[index]) / length, first) for index in rows}
        agree = sum(not own[index].isdisjoint(miles[index]) for index in rows)
        if rows and agree >= _AGREE * len(rows):
            for index in rows:
                found.setdefault(index, set()).update(miles[index])
    return {index: frozenset(miles) for index, miles in found.items()}


def _near(miles: float, first: int) -> set[int]:
    return {first + math.floor(miles - _NEAR_END), first + math.floor(miles + _NEAR_END)}


def _miles(numbers: Sequence[str]) -> set[int]:
    parsed = (StructureNumber.parse(number) for number in numbers)
    return {number.mile for number in parsed if number.mile is not None}
