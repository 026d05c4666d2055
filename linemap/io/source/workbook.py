"""Spreadsheet workbooks (.xlsx): every sheet whose headings are understood."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace

from python_calamine import CalamineError, CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Problem, Severity
from linemap.io.cells.header import find_header, looks_like_shots
from linemap.io.cells.numbers import decimal_mark
from linemap.io.cells.shape import Answers
from linemap.io.cells.table import KINDS, Cell, RawTable, is_blank
from linemap.io.source.text import holds_columns, lay_out, no_header
from linemap.io.source.workbook_marks import Marks, apply_marks, read_marks
from linemap.io.source.workbook_size import check_workbook


def read_workbook(
    data: bytes, name: str, *, kind: Kind | None, answers: Answers | None = None
) -> tuple[RawTable, ...]:
    """Read the sheets of a workbook whose headings are understood; the others are noted.

    Dates stay dates, so that a structure number turned into one is seen. Rows that are struck through are
    left out and listed; hidden rows and columns are read, and said.

    Raises
    ------
    InputRefused
        If the workbook is damaged, locked or suspiciously large, or no sheet has headings.
    """
    check_workbook(data, name)
    sheets = _sheets(data, name)
    marks = read_marks(data, name)
    read, unread = [], []
    first: list[list[Cell]] = []
    for title, rows in sheets:
        numbered = [(row, number) for number, row in enumerate(rows, start=1) if not _is_empty(row)]
        table = _table(numbered, name, title if len(sheets) > 1 else "", kind, answers)
        if table is None:
            unread.append(title)
            first = first or [row for row, _ in numbered]
        else:
            marked = apply_marks(table, marks.get(title, Marks()))
            read.append(replace(marked, blank_rows=len(rows) - len(numbered)))
    if not read:
        raise no_header(name, kind, first)
    read[0] = replace(read[0], problems=read[0].problems + tuple(_note(name, title) for title in unread))
    return tuple(read)


def _sheets(data: bytes, name: str) -> list[tuple[str, list[list[Cell]]]]:
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        # What is shown goes before what is hidden, which is often an older revision.
        shown = sorted(book.sheets_metadata, key=lambda sheet: sheet.visible is not SheetVisibleEnum.Visible)
        return [
            (sheet.name, _cells(book, sheet.name)) for sheet in shown if sheet.typ is SheetTypeEnum.WorkSheet
        ]
    except (CalamineError, OSError, ValueError, KeyError, IndexError) as error:
        remedy = "save it again as .xlsx without a password"
        raise InputRefused.of_file(name, f"the workbook cannot be read: {error}", remedy) from None


def _cells(book: CalamineWorkbook, title: str) -> list[list[Cell]]:
    # Empty areas are kept, so that row 7 of the sheet is row 7 here.
    return [list(row) for row in book.get_sheet_by_name(title).to_python(skip_empty_area=False)]


def _is_empty(row: Sequence[Cell]) -> bool:
    return all(is_blank(cell) for cell in row)


def _table(
    numbered: list[tuple[list[Cell], int]],
    name: str,
    sheet: str,
    kind: Kind | None,
    answers: Answers | None,
) -> RawTable | None:
    rows = [row for row, _ in numbered]
    mark = decimal_mark((cell for row in rows for cell in row), doubtful="?")
    header = find_header(rows, kinds=KINDS if kind is None else (kind,), answers=answers)
    bare = kind in {None, "shots"} and looks_like_shots(rows, mark=mark)
    if header is None and not (bare or holds_columns(rows, answers)):
        return None
    numbers = [number for _, number in numbered]
    table = lay_out(rows, numbers, file=name, kind=kind, sheet=sheet, answers=answers)
    return replace(table, decimal_mark=mark)


def _note(name: str, sheet: str) -> Problem:
    return Problem(
        file=name,
        value=sheet,
        reason="no headings are understood on this sheet; it is not read",
        severity=Severity.NOTED,
    )
