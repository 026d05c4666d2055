"""Structure numbers as lists hold them, and those a spreadsheet has turned into dates."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from linemap.domain.design.number import StructureNumber, same_number
from linemap.io.cells.table import Cell, cell_text

__all__ = [
    "DATE_REMEDY",
    "NumberColumn",
    "StructureSet",
    "looks_like_date",
    "parse_set",
    "read_numbers",
]

DATE_REMEDY = "format the column as text and enter the number again, like 1/2"
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|sept|oct|nov|dec)[a-z]*\.?"
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


#: A number as `StructureNumber` writes it, without an insertion: nearly every one.
_SPELLED = re.compile(r"[1-9][0-9]{0,4}/[1-9][0-9]{0,5}")
_RANGE = re.compile(
    r"(\S*/\S*?|\d+)\s*(?:\s(?:to|thru|through)\s|\.\.\.?|[\u2013\u2014]|\s-\s|(?<=/\d)-(?=\d+/)|(?<=/\d\d)-(?=\d+/))\s*(\S+)",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"\s*(?:[,;&+\n]|\band\b)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureSet:
    """The structures a cell names: one by one, or from a first to a last."""

    numbers: tuple[str, ...] = ()
    first: str = ""
    last: str = ""


def parse_set(text: str) -> StructureSet:
    """Read a cell that names one structure, several, or a range.

    Raises
    ------
    ValueError
        If some part is no structure number, or ranges and single numbers stand in one cell.

    >>> parse_set("7/3, 7/4").numbers, parse_set("11/4 thru 11/6").last, parse_set("22/2-22/5").first
    (('7/3', '7/4'), '11/6', '22/2')
    """
    if _SPELLED.fullmatch(text):
        return StructureSet(numbers=(text,))
    if looks_like_date(text):
        raise ValueError(f"{text} {_TURNED} a date; {DATE_REMEDY}")
    span = _RANGE.fullmatch(text)
    if span:
        return StructureSet(first=_one(span[1]), last=_one(span[2]))
    parts = [part for part in _BETWEEN.split(text) if part]
    if any(_RANGE.fullmatch(part) for part in parts):
        raise ValueError(f"{text!r} mixes a range with single numbers; give each a row of its own")
    return StructureSet(numbers=tuple(_one(part) for part in parts))


def _one(text: str) -> str:
    return text if _SPELLED.fullmatch(text) else str(StructureNumber.parse(text))


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
    """Read a column of structure numbers into one spelling, looking for dates made by spreadsheets."""
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


def _spelling(text: str) -> tuple[str, bool]:
    if not text or _SPELLED.fullmatch(text):
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
