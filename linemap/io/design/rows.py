"""Read the rows of a declared list: every cell as its field says, every row that cannot be read named."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeVar

from linemap.domain.kind.kind import Column, Kind, columns_of, extra_of
from linemap.io.cells.dates import DateOrder, parse_moments
from linemap.io.cells.numbers import Numbers, parse_yes
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable, cell_text, is_blank
from linemap.io.design.structure_numbers import DATE_REMEDY, StructureSet, parse_set, read_numbers
from linemap.units import LengthUnit

R = TypeVar("R")
#: Makes the records of one row of its values; a `ValueError` refuses the row.
Maker = Callable[[Ledger, int, dict[str, Any]], Iterable[R]]
#: Makes the records of all rows, given with their indices and values; refuses rows by itself.
Gatherer = Callable[[Ledger, Sequence[tuple[int, dict[str, Any]]]], Iterable[R]]
_CELL = "correct the cell"
_WHOLE = frozenset({"all", "line", "whole line"})
_BETWEEN_WORDS = re.compile(r"[,;&+/]|\band\b")


@dataclass(slots=True)
class _Parsed:
    """One column of a file, cell by cell."""

    values: Sequence[Any]
    #: Row index -> why its cell cannot be read, and what to do.
    faults: dict[int, tuple[str, str]] = field(default_factory=dict)
    #: Row index -> what a person should look at.
    notes: dict[int, str] = field(default_factory=dict)


def read_rows(
    table: RawTable,
    kind: Kind[R],
    *,
    unit: LengthUnit = LengthUnit.FOOT,
    line_default: str = "",
    order: DateOrder | None = None,
    make: Maker[R] | None = None,
    gather: Gatherer[R] | None = None,
) -> Loaded[tuple[R, ...]]:
    """Read a list as its kind declares it.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    kind : Kind
    unit : LengthUnit
        Unit of the job, in which "ground" lengths are returned.
    line_default : str
        Line of rows that name none.
    order : "mdy" or "dmy", optional
        How dates such as 5/6/2026 are meant where a column does not tell.
    make : callable, optional
        Makes the records of a row; None = a row is a record.
    gather : callable, optional
        Makes the records of all rows, for lists of which several rows are one record.

    Returns
    -------
    Loaded of tuple
        Records in file order. Rows that name nothing are left out, and listed.

    Raises
    ------
    InputRefused
        With every row that names something and cannot be read: left out, it would be nobody's.
    """
    ledger = Ledger(sheet_of(table, kind.code))
    columns = (*columns_of(kind), *extra_of(kind))
    parsed = {column.name: _parse(ledger, column, unit, line_default, order) for column in columns}
    naming = [ledger.sheet.texts(column.named) for column in columns if column.name in kind.named_by]
    records: list[Any] = []
    for index in range(len(ledger.sheet)):
        named = any(texts[index] for texts in naming)
        if ledger.is_heading(index) or (kind.totals and ledger.is_total(index)) or not named:
            ledger.leave_out_idle(index)
        elif not _refused(ledger, index, columns, parsed):
            records += _made(ledger, index, kind, parsed, make if gather is None else _as_read)
    ledger.check_some_left(_first_named(kind))
    return ledger.finish(tuple(records if gather is None else gather(ledger, records)))


def _as_read(_: Ledger, index: int, values: dict[str, Any]) -> list[tuple[int, dict[str, Any]]]:
    return [(index, values)]


def _refused(ledger: Ledger, index: int, columns: Sequence[Column], parsed: Mapping[str, _Parsed]) -> bool:
    """List what is wrong with the cells of a row, and say whether that is anything."""
    refused = False
    for column in columns:
        fault = parsed[column.name].faults.get(index)
        if fault is not None:
            ledger.refuse(index, column.named, *fault)
            refused = True
    return refused


def _made(
    ledger: Ledger, index: int, kind: Kind[Any], parsed: Mapping[str, _Parsed], make: Maker[Any] | None
) -> Sequence[Any]:
    columns = columns_of(kind)
    read = [*columns, *extra_of(kind)]
    values = {column.name: parsed[column.name].values[index] for column in read if column.way != "made"}
    (first, *others) = kind.key
    if not others and values.get(first) == "":
        values[first] = f"row {ledger.sheet.table.row_numbers[index]}"
    reach = next((column for column in columns if column.way == "reach"), None)
    try:
        if reach is not None:
            values |= _reach(kind, reach, values)
        made = [kind.record(**values)] if make is None else list(make(ledger, index, values))
    except ValueError as error:
        ledger.refuse(index, reach.named if reach else _first_named(kind), str(error), "correct the row")
        return ()
    for column in columns:
        note = parsed[column.name].notes.get(index)
        if note is not None:
            ledger.note(index, column.named, note)
    return made


def _first_named(kind: Kind[Any]) -> str:
    return next(column.named for column in columns_of(kind) if column.name == kind.named_by[0])


def _reach(kind: Kind[Any], column: Column, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the structures a row names one by one, or the first and the last of them."""
    text = str(values[column.name])
    if text.casefold() in _WHOLE:
        found = StructureSet()
    elif text or not values["from_structure"]:
        found = parse_set(text)
        if not (found.numbers or found.first):
            raise ValueError(
                f"the {kind.noun} names no structure; write its numbers, or all for the whole line"
            )
    else:
        first = values["from_structure"]
        ends = [parse_set(first), parse_set(values["to_structure"] or first)]
        if any(len(end.numbers) != 1 for end in ends):
            raise ValueError(f"a {kind.noun} runs from one structure to one structure")
        found = StructureSet(first=ends[0].numbers[0], last=ends[1].numbers[0])
    return {column.name: found.numbers, "from_structure": found.first, "to_structure": found.last}


def _parse(
    ledger: Ledger, column: Column, unit: LengthUnit, line_default: str, order: DateOrder | None
) -> _Parsed:
    sheet, name = ledger.sheet, column.named
    if column.way == "row":
        return _Parsed(values=sheet.table.row_numbers)
    if column.way == "line":
        return _Parsed(values=sheet.texts(name, missing=line_default))
    if column.way == "structure":
        return _structures(ledger, column)
    if column.way == "yes":
        return _answers(ledger, column)
    if column.way == "day":
        return _days(ledger, column, order)
    if column.way in {"count", "number"}:
        return _numbers(ledger, column, unit)
    texts = sheet.texts(name, missing=column.default if isinstance(column.default, str) else "")
    if column.way == "words":
        return _Parsed(values=[_words(text) or column.default for text in texts])
    return _Parsed(values=texts)


def _words(text: str) -> tuple[str, ...]:
    parts = (part.strip().casefold() for part in _BETWEEN_WORDS.split(text))
    return tuple(part for part in parts if part)


def _structures(ledger: Ledger, column: Column) -> _Parsed:
    read = read_numbers(ledger.sheet.cells(column.named))
    parsed = _Parsed(
        values=read.numbers, faults={row: (why, DATE_REMEDY) for row, why in read.faults.items()}
    )
    if column.default != "":
        blank = ("the structure number is missing", "correct the row")
        parsed.faults |= {row: blank for row, number in enumerate(read.numbers) if not number}
    return parsed


def _answers(ledger: Ledger, column: Column) -> _Parsed:
    parsed = _Parsed(values=[])
    values: list[bool | None] = []
    for row, cell in enumerate(ledger.sheet.cells(column.named)):
        answer = None if column.optional and is_blank(cell) else parse_yes(cell)
        if answer is None and not (column.optional and is_blank(cell)):
            if column.cell.doubt is None:
                parsed.faults[row] = ("neither yes nor no", "write yes or no")
            else:
                answer, words = column.cell.doubt
                parsed.notes[row] = f"neither yes nor no; taken as {words}"
        values.append(answer)
    parsed.values = values
    return parsed


def _days(ledger: Ledger, column: Column, order: DateOrder | None) -> _Parsed:
    blank = column.cell.nothing
    cells = ledger.sheet.cells(column.named)
    moments = parse_moments(
        [None if blank and cell_text(cell).casefold() in blank else cell for cell in cells], order=order
    )
    parsed = _Parsed(
        values=[value.date() if isinstance(value, datetime) else value for value in moments.values],
        faults={row: (why, _CELL) for row, why in moments.faults.items()},
    )
    if not column.optional:
        missing = (f"the {column.label} is missing", "correct the row")
        for row, value in enumerate(parsed.values):
            if value is None:
                parsed.faults.setdefault(row, missing)
    return parsed


def _numbers(ledger: Ledger, column: Column, unit: LengthUnit) -> _Parsed:
    sheet, name = ledger.sheet, column.named
    own = {"ground": unit, "ft": LengthUnit.FOOT}.get(column.cell.unit)
    numbers = sheet.numbers(name) if own is None else sheet.lengths(name, own, ledger=ledger)
    parsed = _Parsed(values=(), faults={row: (why, _CELL) for row, why in numbers.faults.items()})
    if column.way == "count":
        parsed.faults |= dict.fromkeys(_no_counts(numbers), ("no whole count", _CELL))
    whole = int if column.way == "count" else float
    parsed.values = [
        column.default if value != value or row in parsed.faults else whole(value)
        for row, value in enumerate(numbers.values.tolist())
    ]
    return parsed


def _no_counts(numbers: Numbers) -> Iterable[int]:
    return (
        row
        for row, value in enumerate(numbers.values.tolist())
        if row not in numbers.faults and value == value and (value < 0.0 or not value.is_integer())
    )
