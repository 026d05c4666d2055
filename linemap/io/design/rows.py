"""Read the rows of a declared list: every cell as its field says, every row that cannot be read named."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import MISSING, dataclass, field
from datetime import datetime
from statistics import median
from typing import Any, TypeVar

from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.kind.kind import Column, FieldError, Kind, columns_of, extra_of
from linemap.io.cells.dates import DateOrder, parse_moments
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.likeness import leave_out_strangers
from linemap.io.cells.numbers import Numbers, parse_yes
from linemap.io.cells.sheet import sheet_of
from linemap.io.cells.table import Loaded, RawTable, cell_text, is_blank
from linemap.io.design.makers import GATHERERS, MAKERS, reach_of
from linemap.io.design.poles import pole_cells
from linemap.io.design.structure_numbers import (
    DATE_REMEDY,
    as_listed,
    read_numbers,
)
from linemap.units import LengthUnit

R = TypeVar("R")
_CELL = "correct the cell"
#: Ways of columns that name structures: a row that does names something.
_AT_STRUCTURES = {"structure", "reach", "end"}
_BETWEEN_WORDS = re.compile(r"[,;&+/]|\band\b")


@dataclass(slots=True)
class _Parsed:
    """One column of a file, cell by cell."""

    values: list[Any]
    #: Row index -> why its cell cannot be read, and what to do.
    faults: dict[int, tuple[str, str]] = field(default_factory=dict)
    #: The same of cells that are taken as something else.
    notes: dict[int, tuple[str, str]] = field(default_factory=dict)


def read_rows(
    table: RawTable,
    kind: Kind[R],
    *,
    unit: LengthUnit = LengthUnit.FOOT,
    line_default: str = "",
    order: DateOrder | None = None,
    naming: Naming = UNNAMED,
) -> Loaded[tuple[R, ...]]:
    """Read a list as its kind declares it; where a row is not a record, by what makes records of its rows.

    Rows that name nothing are left out, and listed. A row that names something and cannot be read refuses
    the file: left out, it would be nobody's.
    """
    ledger = Ledger(sheet_of(table, kind.code), unit, naming)
    declared = (*columns_of(kind), *extra_of(kind))
    columns = [each for each in declared if each.way != "made" and not each.cell.compared]
    parsed = {column.name: _parse(ledger, column, line_default, order) for column in columns}
    said = [ledger.sheet.texts(column.named) for column in columns if column.name in kind.named_by]
    written = {each.name: ledger.sheet.texts(each.named) for each in columns} if kind.idle else {}
    gather = GATHERERS.get(kind.code)
    records: list[tuple[int, Any]] = []
    _leave_out_no_rows(ledger, kind, columns, parsed)
    for index in range(len(ledger.sheet)):
        if index in ledger.left_out:
            continue
        named = any(texts[index] for texts in said)
        if ledger.is_heading(index) or (kind.totals and ledger.is_total(index)) or not named:
            ledger.leave_out_idle(index)
            continue
        row = {each.name: parsed[each.name].values[index] for each in columns}
        idle = kind.idle(row) if kind.idle else ()
        if not _refused(ledger, index, columns, parsed, idle):
            row |= {each.name: each.default for each in columns if each.name in idle}
            made = [row] if gather else _made(ledger, index, kind, row)
            _note(ledger, index, columns, parsed, idle)
            for column in columns:
                if column.name in idle and written[column.name][index]:
                    words = f"not read: a {kind.noun} {row[kind.key[0]]} does not need it"
                    ledger.note(index, column.named, words)
            records += ((index, record) for record in made)
    if kind.unique:
        ledger.refuse_repeats(kind.unique[0], _named(kind, records), kind.unique[1])
    if not kind.empty:
        ledger.check_some_left(_first_named(kind))
    elif not records:
        ledger.note(None, _first_named(kind), kind.empty, "check that it is the right file")
    found = gather(ledger, records) if gather else (record for _, record in records)
    return ledger.finish(tuple(found))


def _leave_out_no_rows(
    ledger: Ledger, kind: Kind[Any], columns: Sequence[Column], parsed: Mapping[str, _Parsed]
) -> None:
    """List signatures, notes and the like: rows with little in them, or with cells that cannot be read."""
    filled = [sum(not is_blank(cell) for cell in row) for row in ledger.sheet.table.rows]
    few = median(filled) * 2 / 3 if filled else 0
    doubtful = {index for index, count in enumerate(filled) if count <= few}
    doubtful.update(*(parsed[column.name].faults for column in columns))
    names = {*kind.key, *kind.named_by, *(each.name for each in columns if each.way in _AT_STRUCTURES)}
    leave_out_strangers(
        ledger,
        sorted(doubtful),
        keys=[column.named for column in columns if column.name in names],
        records=range(len(filled)),
    )


def _refused(
    ledger: Ledger,
    index: int,
    columns: Iterable[Column],
    parsed: Mapping[str, _Parsed],
    idle: Collection[str],
) -> bool:
    """List what is wrong with the cells of a row, and say whether that is anything."""
    refused = False
    for column in columns:
        fault = parsed[column.name].faults.get(index)
        if fault is not None and column.name not in idle:
            ledger.refuse(index, column.named, *fault)
            refused = True
    return refused


def _note(
    ledger: Ledger,
    index: int,
    columns: Iterable[Column],
    parsed: Mapping[str, _Parsed],
    idle: Collection[str],
) -> None:
    """List the cells of a row that were taken as something else."""
    for column in columns:
        note = parsed[column.name].notes.get(index)
        if note is not None and column.name not in idle:
            ledger.note(index, column.named, *note)


def _made(ledger: Ledger, index: int, kind: Kind[Any], row: dict[str, Any]) -> Sequence[Any]:
    """Return the records of a row; list what is wrong with it instead."""
    columns = columns_of(kind)
    (first, *others) = kind.key
    if not others and row.get(first) == "":
        row[first] = f"row {ledger.sheet.table.row_numbers[index]}"
    reach = next((column for column in columns if column.way == "reach"), None)
    make, naming = MAKERS.get(kind.code), ledger.naming
    try:
        if reach is not None:
            row |= reach_of(kind, reach, row, naming.listed)
        return [kind.record(**row)] if make is None else list(make(ledger, index, row))
    except FieldError as error:
        named = {column.name: column.named for column in columns}
        ledger.refuse(index, named.get(error.field, error.field), error.reason, error.remedy)
    except ValueError as error:
        ledger.refuse(index, reach.named if reach else _first_named(kind), str(error), "correct the row")
    return ()


def _named(kind: Kind[Any], records: Iterable[tuple[int, Any]]) -> Iterable[tuple[int, Hashable, str]]:
    """Give records with what tells them apart and their names: "guy G1 of 9/2", "arm drop of H-TAN"."""
    noun = "" if kind.noun.endswith(" of") else f"{kind.noun} "
    for index, record in records:
        values = [getattr(record, name) for name in kind.key]
        yield index, (getattr(record, "line", ""), *values), noun + " of ".join(map(str, values[::-1]))


def _first_named(kind: Kind[Any]) -> str:
    return next(column.named for column in columns_of(kind) if column.name == kind.named_by[0])


def _parse(ledger: Ledger, column: Column, line_default: str, order: DateOrder | None) -> _Parsed:
    if column.way == "pole":
        return _Parsed(*pole_cells(ledger, column, line_default))
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


def _cells(ledger: Ledger, column: Column, line_default: str, order: DateOrder | None) -> _Parsed:
    sheet, name = ledger.sheet, column.named
    if column.way == "row":
        return _Parsed(values=list(sheet.table.row_numbers))
    if column.way == "line":
        return _Parsed(values=sheet.texts(name, missing=line_default))
    if column.way == "structure":
        return _structures(ledger, column, line_default)
    if column.way == "yes":
        return _answers(ledger, column)
    if column.way == "day":
        return _days(ledger, column, order)
    if column.way in {"count", "number"}:
        return _numbers(ledger, column)
    if column.cell.read is not None:
        return _read(sheet.texts(name), column, column.cell.read)
    texts = sheet.texts(name, missing=column.default if isinstance(column.default, str) else "")
    if column.way == "words":
        return _Parsed(values=[_words(text) or column.default for text in texts])
    return _Parsed(values=texts)


def _read(texts: Sequence[str], column: Column, read: Callable[[str], Any]) -> _Parsed:
    parsed = _Parsed(values=[column.default] * len(texts))
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


def _structures(ledger: Ledger, column: Column, line_default: str) -> _Parsed:
    cells = ledger.sheet.cells(column.named)
    plain = read_numbers(cells)
    read = as_listed(plain, cells, ledger.sheet.texts("line", missing=line_default), ledger.naming.listed)
    parsed = _Parsed(
        values=read.numbers,
        faults={row: (why, DATE_REMEDY if row in plain.faults else "") for row, why in read.faults.items()},
    )
    if column.default != "":
        blank = ("the structure number is missing", "correct the row")
        parsed.faults |= {row: blank for row, number in enumerate(read.numbers) if not number}
    return parsed


def _answers(ledger: Ledger, column: Column) -> _Parsed:
    parsed = _Parsed(values=[])
    for row, cell in enumerate(ledger.sheet.cells(column.named)):
        blank = column.optional and is_blank(cell)
        parsed.values.append(None if blank else parse_yes(cell))
        if parsed.values[row] is None and not blank:
            parsed.faults[row] = ("neither yes nor no", "write yes or no")
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


def _numbers(ledger: Ledger, column: Column) -> _Parsed:
    sheet, name = ledger.sheet, column.named
    own = {"ground": ledger.unit, "ft": LengthUnit.FOOT}.get(column.cell.unit)
    numbers = sheet.numbers(name) if own is None else ledger.lengths(name, own)
    parsed = _Parsed(values=[], faults={row: (why, _CELL) for row, why in numbers.faults.items()})
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
