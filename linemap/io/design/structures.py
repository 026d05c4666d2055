"""Structure lists: rows of a table become the structures of one or more lines."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from linemap.domain.design.line import PoleASide
from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.number import number_form
from linemap.domain.design.structure import Structures
from linemap.domain.kind.kind import columns_in
from linemap.geometry.projection import Projection
from linemap.io.cells.angles import settle_degrees
from linemap.io.cells.dates import DateOrder
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.likeness import leave_out_strangers
from linemap.io.cells.numbers import parse_numbers
from linemap.io.cells.position import Positions, read_positions
from linemap.io.cells.sheet import sheet_of
from linemap.io.cells.table import Loaded, RawTable, is_blank
from linemap.io.design.date_numbers import date_readings, restore_numbers
from linemap.io.design.result_table import is_result_table, listed_details
from linemap.io.design.structure_details import compare_angles, read_details
from linemap.io.design.structure_numbers import (
    NumberColumn,
    as_written,
    distance_along,
    mile_candidates,
    read_numbers,
    station_values,
)

_LONE = 2
_SHOWN = 12
_DELETED = re.compile(r"\b(?:deleted|removed|void|not used)\b", re.IGNORECASE)


def read_structures(
    table: RawTable,
    *,
    projection: Projection,
    line_default: str = "",
    pole_a: PoleASide = "left",
    order: DateOrder | None = None,
    naming: Naming = UNNAMED,
) -> Loaded[Structures]:
    """Read a structure list.

    Titles, totals, repeated headings and rows marked deleted are listed as left out. Numbers a spreadsheet
    turned into dates are restored and noted where only one reading fits the row's mile, its neighbours and
    the other numbers, or `order` says how they were read. Line angles are compared with the turns between the
    centres, and what disagrees or can be read two ways is noted; they are not used. The side of pole A turns
    a written arm azimuth (A to B) into the azimuth of the structure's ahead direction.

    Raises
    ------
    InputRefused
        With every row whose number or coordinates are missing or cannot be used, numbers that stand twice
        in one line, and numbers turned into dates that fit two ways or none.
    """
    sheet = sheet_of(table, "structures")
    ledger = Ledger(sheet)
    lines = sheet.texts("line", missing=line_default)
    numbers = read_numbers(sheet.cells("number"))
    places = settle_degrees(read_positions(ledger, projection), ledger, projection)
    _note_rounded(ledger, places)
    _leave_out_no_rows(ledger, numbers, places)
    numbers = _restored(ledger, numbers, lines, places, order, projection)
    _judge_rows(ledger, numbers, places)
    written = as_written(sheet.cells("number"), numbers.numbers)
    _refuse_repeats(ledger, lines, numbers.numbers, written, places)
    style = naming.numbering.style
    for index, number in enumerate(written if style != "any" else ()):
        if number and naming.numbering.parts(number) is None:
            ledger.note(index, "number", f"{number} is not numbered {style}, as the job declares")
    ledger.check_some_left("number")
    details = read_details(ledger, unit=projection.unit, pole_a=pole_a)
    if is_result_table(table):
        details = {**details, **listed_details(ledger)}
    ledger.check()
    compare_angles(ledger, lines, places.easting, places.northing)
    texts: Mapping[str, Any] = {
        column.name: sheet.texts(column.named)
        for column in columns_in(Structures)
        if column.item is np.object_ and column.name not in {"line", "number"}
    }
    every = Structures.from_columns(
        line=lines,
        number=written,
        easting=places.easting,
        northing=places.northing,
        **texts,
        **details,
        source_row=table.row_numbers,
        source_file=table.file,
    )
    keep = ledger.kept()
    return ledger.finish(every if len(keep) == len(every) else every.take(np.array(keep, dtype=np.int64)))


def _note_rounded(ledger: Ledger, places: Positions) -> None:
    """Say which rows give whole units only, where most give decimals."""
    stand = np.isfinite(places.easting + places.northing)
    whole = stand & (places.easting % 1.0 == 0.0) & (places.northing % 1.0 == 0.0)
    if 1 < whole.sum() < stand.sum() / 2:  # one may well be where the coordinates were begun
        rows = [ledger.sheet.table.row_numbers[index] for index in np.flatnonzero(whole).tolist()]
        shown = ", ".join(map(str, rows[:_SHOWN])) + (", ..." if len(rows) > _SHOWN else "")
        words = f"rounded to whole units in {len(rows):,} rows ({shown}); the others have decimals"
        ledger.note(None, "easting", words, "ask for their decimals before they are staked")


def _leave_out_no_rows(ledger: Ledger, numbers: NumberColumn, places: Positions) -> None:
    """List signatures, dates and remarks as no structures, by the rows that stand somewhere.

    A date under the numbers may be a number that a spreadsheet turned, unless it stands alone or by one word.
    """
    stand = np.isfinite(places.easting + places.northing)
    filled = {row: sum(not is_blank(cell) for cell in ledger.sheet.table.rows[row]) for row in numbers.faults}
    for index, count in filled.items():
        if places.blank[index] and count <= _LONE:
            ledger.leave_out_idle(index)
    odd = numbers.unusual | {row for row, number in enumerate(numbers.numbers) if not number}
    leave_out_strangers(
        ledger,
        [row for row in np.flatnonzero(~stand).tolist() if row in odd and filled.get(row, 0) <= _LONE],
        keys=("number", "easting", "northing", "longitude", "latitude"),
        records=[row for row in np.flatnonzero(stand).tolist() if numbers.numbers[row]],
    )


def _restored(
    ledger: Ledger,
    numbers: NumberColumn,
    lines: Sequence[str],
    places: Positions,
    order: DateOrder | None,
    projection: Projection,
) -> NumberColumn:
    """Return the numbers with the dates among them turned back; what fits two ways or none stays a fault."""
    if not numbers.faults:
        return numbers
    gone = ledger.left_out | _marked(ledger, "type", _says_deleted)
    dates = {i: fault for i, fault in numbers.faults.items() if i not in gone}
    if not dates:
        return numbers
    column = replace(numbers, faults=dates)
    miles = _miles(ledger, column, places, projection)
    cells = ledger.sheet.cells("number")
    found = restore_numbers(cells, column, lines=lines, miles=miles, order=order, unique=True)
    return found.listed(ledger, "number", column)


def _miles(
    ledger: Ledger, numbers: NumberColumn, places: Positions, projection: Projection
) -> dict[int, frozenset[int]]:
    """Return the miles each row may lie in by its station; by the distance where no station is written."""
    sheet, cells = ledger.sheet, ledger.sheet.cells("number")
    choices = {
        index: [number]
        for index, number in enumerate(numbers.numbers)
        if number and index not in numbers.unusual and index not in ledger.left_out
    }
    known = bool(choices)
    for index in numbers.faults:
        found = date_readings(cells[index])
        choices[index] = [] if found is None else list(found.options)
    stations = station_values(sheet.texts("station"), unit=projection.unit)
    if np.isfinite(stations).any():
        return mile_candidates(stations, choices, unit=projection.unit)
    # the list may begin anywhere, so a distance needs a number that was left alone to be counted by
    along = distance_along(places.easting, places.northing)
    return mile_candidates(along, choices, unit=projection.unit) if known else {}


def _judge_rows(ledger: Ledger, numbers: NumberColumn, places: Positions) -> None:
    """Look at every row that is not plainly a numbered structure at finite coordinates."""
    deleted = _marked(ledger, "type", _says_deleted) | _marked(ledger, "remarks", _is_deleted)
    unplaced = np.flatnonzero(~np.isfinite(places.easting + places.northing)).tolist()
    unnumbered = [index for index, number in enumerate(numbers.numbers) if not number]
    for index in sorted({*unplaced, *unnumbered, *deleted}):
        if index in deleted:
            ledger.leave_out(index, "type", "marked as deleted in the list")
        elif index not in numbers.faults:
            _judge_row(ledger, index, numbers, places)


def _marked(ledger: Ledger, name: str, says: Callable[[str], bool]) -> set[int]:
    """Return the rows whose cell of a field says so; each text is looked at once."""
    texts = dict(ledger.written(name))
    said = {text for text in set(texts.values()) if says(text)}
    return {index for index, text in texts.items() if text in said} if said else set()


def _says_deleted(text: str) -> bool:
    return _DELETED.search(text) is not None


def _is_deleted(text: str) -> bool:
    return _DELETED.fullmatch(text.strip(" .*-")) is not None


def _judge_row(ledger: Ledger, index: int, numbers: NumberColumn, places: Positions) -> None:
    number = numbers.numbers[index]
    named = bool(number) and index not in numbers.unusual
    if ledger.is_heading(index) or (not named and (places.blank[index] or ledger.is_total(index))):
        if not number and _holds_spans_only(ledger, index):
            ledger.leave_out(
                index, "ahead_span", "a span between two structures; spans are computed, not read"
            )
        ledger.leave_out_idle(index)
    elif not number:
        ledger.refuse(index, "number", "the structure number is missing", "fill it in, or take the row out")
    elif index in places.faults:
        ledger.refuse(index, *places.faults[index])
    else:
        reason = f"structure {number} has no coordinates"
        ledger.refuse(index, places.field, reason, "fill them in, or take the row out")


def _holds_spans_only(ledger: Ledger, index: int) -> bool:
    """Say whether a row holds nothing but spans, as lists that stagger them between the structures do."""
    columns = (ledger.sheet.column(name) for name in ("ahead_span", "back_span"))
    spans = {column.index for column in columns if column is not None}
    filled = {at: cell for at, cell in enumerate(ledger.sheet.table.rows[index]) if not is_blank(cell)}
    return bool(filled) and filled.keys() <= spans and not parse_numbers(list(filled.values())).faults


def _refuse_repeats(
    ledger: Ledger, lines: Sequence[str], numbers: Sequence[str], written: Sequence[str], places: Positions
) -> None:
    """Refuse a number that stands twice; two written differently at two places are noted as alike."""
    forms = {
        index: number_form(number)
        for index, number in enumerate(numbers)
        if number and index not in ledger.left_out
    }
    spellings: dict[tuple[str, str], dict[str, int]] = {}
    for index, form in forms.items():
        spellings.setdefault((lines[index], form), {}).setdefault(written[index], index)
    apart: set[str] = set()
    for found in (each for each in spellings.values() if len(each) > 1):
        rows = [*found.values()]
        if len({(places.easting[index], places.northing[index]) for index in rows}) == len(rows):
            apart.update(found)
            ledger.note(
                rows[1],
                "number",
                f"{' and '.join(found)} differ in nothing but their writing; both are kept, and other files "
                "must write them exactly so",
                "renumber one of them where the list may be changed",
            )
    ledger.refuse_repeats(
        "number",
        (
            (
                index,
                (lines[index], written[index] if written[index] in apart else form),
                f"structure {written[index]}{f' of line {lines[index]}' if lines[index] else ''}",
            )
            for index, form in forms.items()
        ),
        "keep one of them, or correct the number",
    )
