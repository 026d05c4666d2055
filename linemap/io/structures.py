"""Structure lists: rows of a table become the structures of one or more lines."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from linemap.domain.line import PoleASide
from linemap.domain.structure import Structures
from linemap.geometry.geodesy import Projection
from linemap.io.position import Positions, read_positions
from linemap.io.sheet import Ledger, Sheet, sheet_of
from linemap.io.structure_details import Details, read_details
from linemap.io.structure_numbers import DATE_REMEDY, NumberColumn, read_numbers
from linemap.io.table import Loaded, RawTable

__all__ = ["read_structures"]

_DELETED = re.compile(r"\b(?:deleted|removed|void|not used)\b", re.IGNORECASE)


def read_structures(
    table: RawTable, *, projection: Projection, line_default: str = "", pole_a: PoleASide = "left"
) -> Loaded[Structures]:
    """Read a structure list.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    projection : Projection
        Of the job: coordinates end up in it, lengths in its unit.
    line_default : str
        Line of rows that name none.
    pole_a : "left" or "right"
        Which side pole A stands on; only used to turn a written arm azimuth (A to B) into the azimuth of
        the structure's ahead direction.

    Returns
    -------
    Loaded of Structures
        In file order. Titles, totals, repeated headings and rows marked deleted are listed as left out.

    Raises
    ------
    InputRefused
        With every row whose number or coordinates are missing or cannot be used, numbers that stand twice
        in one line, and numbers a spreadsheet turned into dates.
    """
    sheet = sheet_of(table, "structures")
    ledger = Ledger(sheet)
    numbers = read_numbers(sheet.cells("number"))
    places = read_positions(ledger, projection)
    _judge_rows(ledger, numbers, places)
    lines = sheet.texts("line", missing=line_default)
    _refuse_repeats(ledger, lines, numbers.numbers)
    ledger.check_some_left("number")
    details = read_details(ledger, unit=projection.unit, pole_a=pole_a)
    ledger.check()
    return ledger.finish(_assemble(sheet, ledger.kept(), numbers.numbers, lines, places, details))


def _judge_rows(ledger: Ledger, numbers: NumberColumn, places: Positions) -> None:
    """Look at every row that is not plainly a numbered structure at finite coordinates."""
    deleted = {index for index, text in ledger.written("type") if _DELETED.search(text)}
    unplaced = np.flatnonzero(~np.isfinite(places.easting + places.northing)).tolist()
    unnumbered = [index for index, number in enumerate(numbers.numbers) if not number]
    for index in sorted({*unplaced, *unnumbered, *deleted, *numbers.faults}):
        if index in deleted:
            ledger.leave_out(index, "type", "marked as deleted in the list")
        else:
            _judge_row(ledger, index, numbers, places)


def _judge_row(ledger: Ledger, index: int, numbers: NumberColumn, places: Positions) -> None:
    number = numbers.numbers[index]
    if index in numbers.faults:
        ledger.refuse(index, "number", numbers.faults[index], DATE_REMEDY)
        return
    named = bool(number) and index not in numbers.unusual
    if ledger.is_heading(index) or (not named and (places.blank[index] or ledger.is_total(index))):
        ledger.leave_out_idle(index)
    elif not number:
        ledger.refuse(index, "number", "the structure number is missing", "fill it in, or take the row out")
    elif index in places.faults:
        ledger.refuse(index, *places.faults[index])
    else:
        reason = f"structure {number} has no coordinates"
        ledger.refuse(index, places.field, reason, "fill them in, or take the row out")


def _refuse_repeats(ledger: Ledger, lines: Sequence[str], numbers: Sequence[str]) -> None:
    first: dict[tuple[str, str], int] = {}
    rows = ledger.sheet.table.row_numbers
    for index, key in enumerate(zip(lines, numbers, strict=True)):
        if not key[1] or index in ledger.left_out:
            continue
        earlier = first.setdefault(key, index)
        if earlier != index:
            of_line = f" of line {key[0]}" if key[0] else ""
            reason = f"structure {key[1]}{of_line} stands twice, in rows {rows[earlier]} and {rows[index]}"
            ledger.refuse(index, "number", reason, "keep one of them, or correct the number")


def _assemble(
    sheet: Sheet,
    keep: Sequence[int],
    numbers: Sequence[str],
    lines: Sequence[str],
    places: Positions,
    details: Details,
) -> Structures:
    every = Structures.from_columns(
        line=lines,
        number=numbers,
        easting=places.easting,
        northing=places.northing,
        elevation=details.elevation,
        spacing=details.spacing,
        pole_count=details.pole_count,
        rule=details.rule,
        explicit_azimuth=details.azimuth,
        section_break=details.section_break,
        type_code=sheet.texts("type"),
        given_station=sheet.texts("station"),
        remarks=sheet.texts("remarks"),
        source_row=sheet.table.row_numbers,
        source_file=sheet.table.file,
    )
    return every if len(keep) == len(every) else every.take(np.array(keep, dtype=np.int64))
