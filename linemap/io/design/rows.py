"""Read the rows of a declared list: every cell as its field says, every row that cannot be read named."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from statistics import median
from typing import Any, TypeVar

from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.kind.kind import Column, FieldError, Kind, columns_of, extra_of
from linemap.geometry.projection import Projection
from linemap.io.cells.dates import DateOrder
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.likeness import leave_out_strangers
from linemap.io.cells.sheet import sheet_of
from linemap.io.cells.table import Loaded, RawTable, is_blank
from linemap.io.design.columns import ParsedColumn, read_columns
from linemap.io.design.makers import GATHERERS, MAKERS, reach_of
from linemap.units import LengthUnit

R = TypeVar("R")
#: Ways of columns that name structures: a row that does names something.
_AT_STRUCTURES = {"structure", "reach", "end"}


def read_rows(
    table: RawTable,
    kind: Kind[R],
    *,
    unit: LengthUnit = LengthUnit.FOOT,
    line_default: str = "",
    order: DateOrder | None = None,
    naming: Naming = UNNAMED,
    projection: Projection | None = None,
) -> Loaded[tuple[R, ...]]:
    """Read a list as its kind declares it; where a row is not a record, by what makes records of its rows.

    A list whose rows stand somewhere needs the job's `projection`. Rows that name nothing are left out, and
    listed. A row that names something and cannot be read refuses the file: left out, it would be nobody's.
    """
    ledger = Ledger(sheet_of(table, kind.code), unit, naming)
    declared = (*columns_of(kind), *extra_of(kind))
    columns = [each for each in declared if each.way != "made" and not each.cell.compared]
    parsed = read_columns(ledger, columns, line_default, order, projection)
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
    ledger: Ledger, kind: Kind[Any], columns: Sequence[Column], parsed: Mapping[str, ParsedColumn]
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
    parsed: Mapping[str, ParsedColumn],
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
    parsed: Mapping[str, ParsedColumn],
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
