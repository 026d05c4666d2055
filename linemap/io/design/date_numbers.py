"""Structure numbers that a spreadsheet turned into dates, restored where only one reading fits.

"1/2" typed into a spreadsheet becomes 2 January where months stand first and 1 February where days do, so a
date alone may be 1/2 or 2/1. What else the list says decides: the line mile of the row's station (or of the
distance along the list), the numbers of its neighbours, and that no number stands twice. A date that fits
two ways is asked about, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from linemap.domain.design.number import StructureNumber
from linemap.io.cells.dates import MONTHS, DateOrder
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.table import Cell, cell_text
from linemap.io.design.structure_numbers import DATE_REMEDY, NumberColumn

Key = tuple[int, int, str]

_DAY_MONTH = re.compile(r"(\d{1,2})[-\s/]+([a-z]{3})[a-z]*\.?(?:[-\s/,]+\d{2,4})?", re.IGNORECASE)
_MONTH_DAY = re.compile(r"([a-z]{3})[a-z]*\.?[-\s/]+(\d{1,2})(?:[-\s/,]+\d{2,4})?", re.IGNORECASE)
_NUMERIC = re.compile(r"(\d{1,2})[/.\-](\d{1,2})[/.\-](?:\d{4}|\d{2})")
_ISO = re.compile(r"\d{4}[/.\-](\d{1,2})[/.\-](\d{1,2})(?:[T ].*)?")
#: Day 0 of the day counts of spreadsheets (ECMA-376 part 1, 18.17.4.1, without its day 60).
_DAY_ZERO = date(1899, 12, 30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """The structure numbers a date may have been."""

    #: Typed where months stand first, and where days do.
    mdy: str
    dmy: str
    #: All numbers it may have been, the likelier first.
    options: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """A column of structure numbers with the dates among them turned back where possible."""

    numbers: list[str]
    #: Row index -> how the number was restored, in words.
    notes: Mapping[int, str]
    #: Row index -> (why it cannot be, what to do).
    doubts: Mapping[int, tuple[str, str]]

    def listed(self, ledger: Ledger, name: str, column: NumberColumn) -> NumberColumn:
        """List each date of a column that was turned back; what fits two ways or none stays a fault."""
        for index, words in self.notes.items():
            ledger.note(index, name, words)
        for index, (reason, remedy) in self.doubts.items():
            ledger.refuse(index, name, reason, remedy)
        unusual = column.unusual - (column.faults.keys() - self.doubts.keys())
        return replace(column, numbers=self.numbers, unusual=unusual, faults=dict.fromkeys(self.doubts, ""))


def date_readings(cell: Cell) -> Readings | None:
    """Return the structure numbers a date cell, a day count or a date as text may have been.

    >>> date_readings("2-Jan").options, date_readings("Dec-32").options, date_readings("bay")
    (('1/2', '2/1'), ('12/32',), None)
    >>> date_readings("45293")  # 2 January 2024
    Readings(mdy='1/2', dmy='2/1', options=('1/2', '2/1'))
    """
    if isinstance(cell, date):
        return _of_date(cell)
    text = cell_text(cell)
    if text.isdigit():
        return _of_date(_DAY_ZERO + timedelta(days=int(text))) if len(text) == 5 else None
    if match := _DAY_MONTH.fullmatch(text):
        return _of_month(match[2], int(match[1]))
    if match := _MONTH_DAY.fullmatch(text):
        return _of_month(match[1], int(match[2]))
    if match := _ISO.fullmatch(text):
        return _both(int(match[1]), int(match[2]))
    if match := _NUMERIC.fullmatch(text):
        # shown in the order it was typed in, unless another machine shows it
        shown, other = f"{int(match[1])}/{int(match[2])}", f"{int(match[2])}/{int(match[1])}"
        return Readings(mdy=shown, dmy=shown, options=tuple(dict.fromkeys((shown, other))))
    return None


def _of_date(day: date) -> Readings:
    # 12/32 can be no day, so it becomes December 1932, the first of the month
    if day.day == 1 and 1932 <= day.year <= 1999:
        text = f"{day.month}/{day.year % 100}"
        return Readings(mdy=text, dmy=text, options=(text,))
    return _both(day.month, day.day)


def _of_month(word: str, other: int) -> Readings | None:
    if word.casefold() not in MONTHS:
        return None
    month = MONTHS.index(word.casefold()) + 1
    if other > 31:
        text = f"{month}/{other}"
        return Readings(mdy=text, dmy=text, options=(text,))
    return _both(month, other)


def _both(month: int, day: int) -> Readings:
    mdy, dmy = f"{month}/{day}", f"{day}/{month}"
    return Readings(mdy=mdy, dmy=dmy, options=tuple(dict.fromkeys((mdy, dmy))))


def restore_numbers(
    cells: Sequence[Cell],
    column: NumberColumn,
    *,
    lines: Sequence[str],
    miles: Mapping[int, frozenset[int]],
    order: DateOrder | None,
    unique: bool,
) -> Restored:
    """Turn dates among structure numbers back into numbers, where one reading alone fits.

    Parameters
    ----------
    cells : sequence of Cell
        The column as it stands in the file.
    column : NumberColumn
        What `read_numbers` made of it; its faults are the dates.
    lines : sequence of str
        Line of each row.
    miles : mapping
        Row index -> line miles its station or distance may lie in; rows left out tell nothing.
    order : "mdy" or "dmy", optional
        Said by a person: how the spreadsheet read what was typed.
    unique : bool
        True where every number stands once (structure lists), False where it may repeat (schedules).
    """
    readings = {index: date_readings(cells[index]) for index in column.faults}
    options = {index: _choices(found, order) for index, found in readings.items()}
    why = dict.fromkeys(options, "as the order of month and day was said" if order else "it has one reading")
    _drop_taken(options, why, column, lines, unique=unique)
    misfits = _drop_other_miles(options, why, miles)
    by_line: dict[str, list[int]] = {}
    for index, line in enumerate(lines):
        by_line.setdefault(line, []).append(index)
    for rows in by_line.values():
        _drop_out_of_order(options, why, column, rows, strict=unique)
    numbers, notes, doubts = list(column.numbers), {}, {}
    for index, left in options.items():
        if len(left) == 1 and index not in misfits:
            numbers[index] = left[0]
            notes[index] = f"restored from date as {left[0]}: {why[index]}"
        else:
            doubts[index] = _doubt(
                column.faults[index], left, readings[index], miles.get(index), misfits, index
            )
    return Restored(numbers=numbers, notes=notes, doubts=doubts)


def _choices(found: Readings | None, order: DateOrder | None) -> list[str]:
    if found is None:
        return []
    return list(found.options) if order is None else [found.mdy if order == "mdy" else found.dmy]


def _drop_taken(
    options: dict[int, list[str]],
    why: dict[int, str],
    column: NumberColumn,
    lines: Sequence[str],
    *,
    unique: bool,
) -> None:
    """Drop readings that are numbers of other rows of the line."""
    if not unique:
        return
    plain = set(range(len(column.numbers))) - set(options)
    taken = {(lines[index], column.numbers[index]) for index in plain}
    for index, left in options.items():
        free = [number for number in left if (lines[index], number) not in taken]
        if free and len(free) < len(left):
            options[index], why[index] = free, "the other reading is taken by another row"


def _drop_other_miles(
    options: dict[int, list[str]], why: dict[int, str], miles: Mapping[int, frozenset[int]]
) -> set[int]:
    """Drop readings in another mile than the row's; return the rows of which none is left."""
    misfits = set()
    for index, left in options.items():
        own = miles.get(index)
        fits = left if own is None else [number for number in left if _key(number)[0] in own]
        if not fits:
            misfits.add(index)
        elif len(fits) < len(left):
            options[index], why[index] = fits, "it alone lies in the mile of its row"
    return misfits


def _drop_out_of_order(
    options: dict[int, list[str]],
    why: dict[int, str],
    column: NumberColumn,
    rows: Sequence[int],
    *,
    strict: bool,
) -> None:
    """Drop readings that no choice for the other rows puts in order; a list in no order tells nothing."""
    chain = [index for index in rows if _links(index, options, column)]
    keys = [[_key(number) for number in _links(index, options, column)] for index in chain]
    up = _in_order(keys, strict=strict)
    down = _in_order(keys[::-1], strict=strict)
    ways = [way for way in (up, None if down is None else down[::-1]) if way is not None]
    for position, index in enumerate(chain):
        if index in options and ways:
            left = [number for number in options[index] if any(_key(number) in way[position] for way in ways)]
            if len(left) < len(options[index]):
                options[index], why[index] = left, "it alone stands in order between its neighbours"


def _links(index: int, options: Mapping[int, list[str]], column: NumberColumn) -> list[str]:
    if index in options:
        return options[index]
    return [] if index in column.unusual or not column.numbers[index] else [column.numbers[index]]


def _in_order(rows: Sequence[Sequence[Key]], *, strict: bool) -> list[set[Key]] | None:
    """Return the keys of each row that belong to some ascending choice; None when there is none.

    >>> _in_order([[(1, 1, "")], [(1, 2, ""), (2, 1, "")], [(1, 3, "")]], strict=True)[1]
    {(1, 2, '')}
    """
    found: list[set[Key]] = []
    low: Key | None = None
    for keys in rows:
        fits = {key for key in keys if low is None or key > low or (key == low and not strict)}
        if not fits:
            return None
        found.append(fits)
        low = min(fits)
    high: Key | None = None
    for position in range(len(rows) - 1, -1, -1):
        fits = {k for k in found[position] if high is None or k < high or (k == high and not strict)}
        found[position] = fits
        high = max(fits)
    return found


def _key(number: str) -> Key:
    mile, sequence, inserted = StructureNumber.parse(number).key
    return mile, sequence, inserted


def _doubt(
    fault: str,
    left: Sequence[str],
    readings: Readings | None,
    own: frozenset[int] | None,
    misfits: set[int],
    index: int,
) -> tuple[str, str]:
    if readings is None or not left:
        return fault, DATE_REMEDY
    words = " or ".join(left)
    if index in misfits:
        said = " or ".join(str(mile) for mile in sorted(own or ()))
        return f"{fault}; as {words} it does not lie in mile {said} of its row", DATE_REMEDY
    remedy = f"say it with --date-order mdy ({readings.mdy}) or dmy ({readings.dmy}), or {DATE_REMEDY}"
    return f"{fault}; it may be {words}, and nothing in the list tells which", remedy
