from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from linemap.errors import InputRefused
from linemap.io.source.read import read_source
from linemap.io.source.workbook import read_workbook

Book = Callable[..., Path]
ROWS: list[list[Any]] = [
    ["STRUCTURE LIST", "", "", ""],
    [],
    ["Str", "Northing", "Easting", "Ahead Span"],
    ["1/1", 900000, 2250000.0, 1073],
    [],
    ["1/2", "900,499.4", "2250948.7", 835.5],
]


def test_rows_keep_their_numbers_and_cells_their_types(workbook: Book) -> None:
    table = read_source(workbook({"Sheet1": ROWS})).tables[0]
    assert (table.header_row, list(table.row_numbers), table.blank_rows) == (3, [4, 6], 2)
    assert list(table.rows[0]) == ["1/1", 900000.0, 2250000.0, 1073.0]
    assert (table.sheet, table.kinds) == ("", ("structures",))


def test_dates_stay_dates(workbook: Book) -> None:
    rows: list[list[Any]] = [["Str", "N", "E"], [datetime(2026, 1, 2), 900000.0, 2250000.0]]  # noqa: DTZ001
    table = read_source(workbook({"S": rows})).tables[0]
    assert table.rows[0][0] == date(2026, 1, 2)


def test_sheets_without_headings_are_noted_and_the_first_that_fits_is_read(workbook: Book) -> None:
    path = workbook({"Cover": [["Kettle & Spar"]], "Rev B": ROWS, "Rev A": ROWS})
    source = read_source(path)
    assert [table.sheet for table in source.tables] == ["Rev B", "Rev A"]
    chosen = source.table("structures")
    assert chosen.sheet == "Rev B"
    assert {problem.value for problem in chosen.problems} >= {"Cover", "Rev A"}
    with pytest.raises(InputRefused, match="looks like holds"):
        source.table("holds")


def test_a_hidden_sheet_is_read_last(tmp_path: Path) -> None:
    path = tmp_path / "list.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        for title in ("old", "new"):
            sheet = book.add_worksheet(title)
            for index, row in enumerate(ROWS):
                sheet.write_row(index, 0, row)
        book.worksheets()[1].activate()
        book.worksheets()[0].hide()
        book.add_chartsheet("picture")
    assert [table.sheet for table in read_source(path).tables] == ["new", "old"]


def test_shots_without_headings_may_stand_on_a_sheet(workbook: Book) -> None:
    rows: list[list[Any]] = [[5001, 911423.7, 2273378.01, 3952.66, "STR 5/5 A"]]
    table = read_source(workbook({"Sheet1": rows})).tables[0]
    assert (table.kinds, table.headers, list(table.row_numbers)) == (("shots",), (), [1])


def test_a_workbook_without_headings_is_refused(workbook: Book) -> None:
    with pytest.raises(InputRefused, match="no row of headings"):
        read_source(workbook({"Sheet1": [["nothing", "here"], [1, 2]]}))
    with pytest.raises(InputRefused, match="no row of headings"):
        read_source(workbook({"Sheet1": []}))


def test_a_zip_that_is_no_workbook_is_refused() -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("hello.txt", "Str,N,E")
    with pytest.raises(InputRefused, match="the workbook cannot be read"):
        read_workbook(buffer.getvalue(), "list.xlsx", kind=None)
