"""The columns of a declared list, cell by cell: what each says, and why one cannot be read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import MISSING, dataclass, field
from datetime import datetime, time
from typing import Any

import numpy as np

from linemap.domain.kind.kind import Column
from linemap.geometry.projection import Projection
from linemap.io.cells.dates import DateOrder, parse_clock, parse_moments
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.numbers import Numbers, known_values, parse_yes
from linemap.io.cells.position import Positions, read_positions
from linemap.io.cells.table import cell_text, is_blank
from linemap.io.design.poles import pole_cells
from linemap.io.design.structure_numbers import DATE_REMEDY, as_listed, read_numbers
from linemap.units import LengthUnit

_CELL = "correct the cell"
_BETWEEN_WORDS = re.compile(r"[,;&+/]|\band\b")


@dataclass(slots=True)
class ParsedColumn:
    """One column of a file, cell by cell."""

    values: list[Any]
    #: Row index -> why its cell cannot be read, and what to do.
    faults: dict[int, tuple[str, str]] = field(default_factory=dict)
    #: The same of cells that are taken as something else.
    notes: dict[int, tuple[str, str]] = field(default_factory=dict)


def read_columns(
    ledger: Ledger,
    columns: Sequence[Column],
    line_default: str,
    order: DateOrder | None,
    projection: Projection | None,
) -> dict[str, ParsedColumn]:
    """Return each column of a file by its field, cell by cell; `projection` for those that say a place."""
    cells = [column for column in columns if column.way != "place"]
    parsed = {column.name: _parse(ledger, column, line_default, order) for column in cells}
    places = [column for column in columns if column.way == "place"]
    if projection is None or not places:
        nowhere = [None] * len(ledger.sheet)
        return parsed | {column.name: ParsedColumn(values=nowhere) for column in places if column.optional}
    return parsed | _places(ledger, projection, places)


def _parse(ledger: Ledger, column: Column, line_default: str, order: DateOrder | None) -> ParsedColumn:
    if column.way == "pole":
        return ParsedColumn(*pole_cells(ledger, column, line_default))
    parsed = _cells(ledger, column, line_default, order)
    if column.cell.remedy:
        parsed.faults = {row: (why, column.cell.remedy) for row, (why, _) in parsed.faults.items()}
    if column.cell.doubt is not None:
        value, words = column.cell.doubt
        for row, (why, _) in parsed.faults.items():
            parsed.values[row] = value
            parsed.notes[row] = (f"{why}; taken as {words}", column.cell.remedy)
        parsed.faults = {}
    return parsed


def _places(ledger: Ledger, projection: Projection, columns: Sequence[Column]) -> dict[str, ParsedColumn]:
    """Return where rows stand, however it is written: on the grid, in degrees or as points of a layer."""
    found: Positions = read_positions(ledger, projection)
    # where a thing may go without a place, a row without one has none
    needed = any(not column.optional for column in columns)
    asked: list[int] = np.flatnonzero(found.blank).tolist() if needed else []
    missing = dict.fromkeys(asked, (found.field, "no coordinates", "fill the cells"))
    faults = {**missing, **found.faults}
    values = {"easting": known_values(found.easting), "northing": known_values(found.northing)}
    # what is wrong with the shape of a feature is told of its easting
    named = {column.name: {column.name} for column in columns}
    named["easting"].add("geometry")
    return {
        column.name: ParsedColumn(
            values=values.get(column.name, [None] * len(ledger.sheet)),
            faults={
                row: (why, remedy)
                for row, (name, why, remedy) in faults.items()
                if name in named[column.name]
            },
        )
        for column in columns
    }


def _cells(ledger: Ledger, column: Column, line_default: str, order: DateOrder | None) -> ParsedColumn:
    sheet, name = ledger.sheet, column.named
    if column.way == "row":
        return ParsedColumn(values=list(sheet.table.row_numbers))
    if column.way == "line":
        return ParsedColumn(values=sheet.texts(name, missing=line_default))
    if column.way == "structure":
        return _structures(ledger, column, line_default)
    if column.way == "yes":
        return _answers(ledger, column)
    if column.way == "day":
        return _days(ledger, column, order)
    if column.way == "clock":
        return _clocks(ledger, column, order)
    if column.way in {"count", "number"}:
        return _numbers(ledger, column)
    if column.cell.read is not None:
        return _read(sheet.texts(name), column, column.cell.read)
    texts = sheet.texts(name, missing=column.default if isinstance(column.default, str) else "")
    if column.way == "words":
        return ParsedColumn(values=[_words(text) or column.default for text in texts])
    return ParsedColumn(values=texts)


def _read(texts: Sequence[str], column: Column, read: Callable[[str], Any]) -> ParsedColumn:
    parsed = ParsedColumn(values=[column.default] * len(texts))
    for row, text in enumerate(texts):
        if text or column.default is MISSING:
            try:
                parsed.values[row] = read(text)
            except ValueError as error:
                parsed.faults[row] = (str(error), _CELL)
    return parsed


def _words(text: str) -> tuple[str, ...]:
    parts = (part.strip().casefold() for part in _BETWEEN_WORDS.split(text))
    return tuple(part for part in parts if part)


def _structures(ledger: Ledger, column: Column, line_default: str) -> ParsedColumn:
    cells = ledger.sheet.cells(column.named)
    plain = read_numbers(cells)
    read = as_listed(plain, cells, ledger.sheet.texts("line", missing=line_default), ledger.naming.listed)
    parsed = ParsedColumn(
        values=read.numbers,
        faults={row: (why, DATE_REMEDY if row in plain.faults else "") for row, why in read.faults.items()},
    )
    if column.default != "":
        blank = ("the structure number is missing", "correct the row")
        parsed.faults |= {row: blank for row, number in enumerate(read.numbers) if not number}
    return parsed


def _answers(ledger: Ledger, column: Column) -> ParsedColumn:
    parsed = ParsedColumn(values=[])
    for row, cell in enumerate(ledger.sheet.cells(column.named)):
        blank = column.optional and is_blank(cell)
        parsed.values.append(None if blank else parse_yes(cell))
        if parsed.values[row] is None and not blank:
            parsed.faults[row] = ("neither yes nor no", "write yes or no")
    return parsed


def _days(ledger: Ledger, column: Column, order: DateOrder | None) -> ParsedColumn:
    blank = column.cell.nothing
    cells = ledger.sheet.cells(column.named)
    moments = parse_moments(
        [None if blank and cell_text(cell).casefold() in blank else cell for cell in cells], order=order
    )
    parsed = ParsedColumn(
        values=[value.date() if isinstance(value, datetime) else value for value in moments.values],
        faults={row: (why, _CELL) for row, why in moments.faults.items()},
    )
    if not column.optional:
        missing = (f"the {column.label} is missing", "correct the row")
        for row, value in enumerate(parsed.values):
            if value is None:
                parsed.faults.setdefault(row, missing)
    return parsed


def _clocks(ledger: Ledger, column: Column, order: DateOrder | None) -> ParsedColumn:
    """Return times of day of a column of their own, or of the cells that say the day.

    Midnight in a day's cell is no time: spreadsheets write it behind every day.
    """
    parsed = _read(ledger.sheet.texts(column.named), column, parse_clock)
    if not column.cell.clock_of:
        return parsed
    moments = parse_moments(ledger.sheet.cells(column.cell.clock_of), order=order).values
    for row, moment in enumerate(moments):
        if parsed.values[row] is None and isinstance(moment, datetime) and moment.time() != time():
            if moment.utcoffset() is not None:
                parsed.faults[row] = ("a time with its distance from UTC", "write it by the clock of the job")
            parsed.values[row] = moment.time()
    return parsed


def _numbers(ledger: Ledger, column: Column) -> ParsedColumn:
    sheet, name = ledger.sheet, column.named
    own = {"ground": ledger.unit, "ft": LengthUnit.FOOT}.get(column.cell.unit)
    numbers = sheet.numbers(name) if own is None else ledger.lengths(name, own)
    parsed = ParsedColumn(values=[], faults={row: (why, _CELL) for row, why in numbers.faults.items()})
    if column.way == "count":
        parsed.faults |= dict.fromkeys(_no_counts(numbers), ("no whole count", _CELL))
    whole = int if column.way == "count" else float
    parsed.values = [
        column.default if value != value or row in parsed.faults else whole(value)
        for row, value in enumerate(numbers.values.tolist())
    ]
    return parsed


#: More than any list counts, and than a database keeps.
_MOST = 1e9


def _no_counts(numbers: Numbers) -> Iterable[int]:
    return (
        row
        for row, value in enumerate(numbers.values.tolist())
        if row not in numbers.faults and value == value and not (0.0 <= value <= _MOST and value.is_integer())
    )
