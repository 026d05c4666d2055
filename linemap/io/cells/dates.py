"""Dates and times as people write them. Whether 5/6 is May or June is never guessed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import Literal

from linemap.io.cells.table import Cell, cell_text

DateOrder = Literal["mdy", "dmy"]

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_CLOCK = r"(?:[\sT,]+(?P<clock>\d{1,2}:\d{2}(?::\d{2})?(?:\.\d+)?\s*(?:[ap]\.?m\.?)?))?"
_NUMERIC = re.compile(rf"(\d{{1,2}})[/.\-](\d{{1,2}})[/.\-](\d{{4}}|\d{{2}}){_CLOCK}", re.IGNORECASE)
_WEEKDAY = r"(?:[a-z]{3,9},?\s+)?"
_YEAR = r"(\d{4}|\d{2})"
_DAY_FIRST = re.compile(
    rf"{_WEEKDAY}(\d{{1,2}})[-\s.]+([a-z]{{3,9}})\.?[-\s,]+{_YEAR}{_CLOCK}", re.IGNORECASE
)
_MONTH_FIRST = re.compile(
    rf"{_WEEKDAY}([a-z]{{3,9}})\.?[-\s]+(\d{{1,2}}),?[-\s]+{_YEAR}{_CLOCK}", re.IGNORECASE
)
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?\s*(?:([ap])\.?m\.?)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moments:
    """A column of dates, with a time of day where one is written."""

    #: `datetime` where a time is written, else `date`; None where blank or at fault.
    values: list[date | None]
    #: Row index -> why the cell is no date.
    faults: dict[int, str]
    #: Order of day and month in the cells that leave it open; None = no such cell, or not known.
    order: DateOrder | None


def parse_clock(text: str) -> time:
    """Read a time of day.

    Raises
    ------
    ValueError
        If the text is none.

    >>> parse_clock("2:05 pm"), parse_clock("07:30")
    (datetime.time(14, 5), datetime.time(7, 30))
    """
    match = _TIME.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"{text!r} is no time of day; write it like 14:30")
    hour = int(match[1])
    if match[4]:
        if not 1 <= hour <= 12:
            raise ValueError(f"{text!r} is no time of day; write it like 14:30")
        hour = hour % 12 + (12 if match[4].casefold() == "p" else 0)
    return time(hour, int(match[2]), int(match[3] or 0))


def parse_moments(cells: Sequence[Cell], *, order: DateOrder | None = None) -> Moments:
    """Read a column of dates or moments.

    ISO dates, dates with the month in letters and cells that are dates are plain. In "5/13/2026" one
    number is above 12, which tells the order for the whole column; where nothing tells, "5/6/2026" is a
    fault unless `order` says how it is meant.

    >>> parse_moments(["5/6/2026", "5/13/2026"]).values
    [datetime.date(2026, 5, 6), datetime.date(2026, 5, 13)]
    >>> sorted(parse_moments(["5/6/2026", "6 May 2026"]).faults)
    [0]
    """
    known = order or _order(cells)
    values: list[date | None] = []
    faults: dict[int, str] = {}
    for index, cell in enumerate(cells):
        try:
            values.append(_moment(cell, known))
        except ValueError as error:
            values.append(None)
            faults[index] = str(error)
    return Moments(values=values, faults=faults, order=known)


def _order(cells: Sequence[Cell]) -> DateOrder | None:
    first = second = False
    for cell in cells:
        match = _NUMERIC.fullmatch(cell.strip()) if isinstance(cell, str) else None
        first = first or (match is not None and int(match[1]) > 12)
        second = second or (match is not None and int(match[2]) > 12)
    return None if first == second else "dmy" if first else "mdy"


def _moment(cell: Cell, order: DateOrder | None) -> date | None:
    if isinstance(cell, date):
        return cell
    if cell is None:
        return None
    if not isinstance(cell, str):
        raise ValueError("not a date; format the cell as a date")
    try:
        return _iso(cell)
    except ValueError:
        text = cell_text(cell)
    try:
        return _iso(text) if text else None
    except ValueError:
        return _written(text, order)


def _iso(text: str) -> date:
    parsed = datetime.fromisoformat(text)
    return parsed.date() if len(text) <= 10 else parsed


def _written(text: str, order: DateOrder | None) -> date:
    for pattern, places in ((_DAY_FIRST, (3, 2, 1)), (_MONTH_FIRST, (3, 1, 2))):
        match = pattern.fullmatch(text)
        if match and match[places[1]][:3].casefold() in MONTHS:
            month = MONTHS.index(match[places[1]][:3].casefold()) + 1
            return _build(match, int(match[places[0]]), month, int(match[places[2]]))
    match = _NUMERIC.fullmatch(text)
    if match is None:
        raise ValueError("not a date; write it like 2026-05-13")
    one, two = int(match[1]), int(match[2])
    if order is None and one != two:
        raise ValueError("day and month can be read both ways; write it like 2026-05-13")
    month, day = (two, one) if order == "dmy" else (one, two)
    return _build(match, int(match[3]), month, day)


def _build(match: re.Match[str], year: int, month: int, day: int) -> date:
    try:
        found = date(year + 2000 if year < 100 else year, month, day)
    except ValueError:
        raise ValueError("there is no such day; write it like 2026-05-13") from None
    return datetime.combine(found, parse_clock(match["clock"])) if match["clock"] else found


def at_noon(moment: date, *, clock: time | None, zone: tzinfo) -> datetime:
    """Return a moment with a time zone: its own, else `zone`; without a time of day, noon.

    >>> from datetime import UTC
    >>> at_noon(date(2026, 5, 13), clock=None, zone=UTC).isoformat()
    '2026-05-13T12:00:00+00:00'
    """
    if isinstance(moment, datetime) and clock is None:
        return moment if moment.tzinfo else moment.replace(tzinfo=zone)
    day = moment.date() if isinstance(moment, datetime) else moment
    return datetime.combine(day, clock or time(12), tzinfo=zone)
