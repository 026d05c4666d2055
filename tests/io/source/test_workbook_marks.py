"""What sheets show by looks: struck-through rows, hidden rows and columns, filters."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest
import xlsxwriter

from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.structures import read_structures
from linemap.io.source.read import read_source
from linemap.io.source.workbook_marks import read_marks

HEAD = ["Str", "N", "E", "Type", "Remarks"]
ROWS: list[list[object]] = [
    ["1/1", 900_000, 2_250_000, "H-TAN", ""],
    ["1/2", 900_500, 2_250_900, "H-TAN", ""],
    ["1/3", 901_000, 2_251_800, "H-TAN", "see Dwg 14"],
]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "list.xlsx"


def write(path: Path, struck: dict[int, range], *, hidden: bool = False, rich: bool = False) -> None:
    with xlsxwriter.Workbook(str(path)) as book:
        page, look = book.add_worksheet(), book.add_format({"font_strikeout": True})
        plain = book.add_format({"bold": True})
        for number, row in enumerate([HEAD, *ROWS]):
            for column, cell in enumerate(row):
                is_struck = column in struck.get(number, range(0))
                if rich and is_struck and isinstance(cell, str) and cell:
                    page.write_rich_string(number, column, look, cell[:1], look, cell[1:])
                else:
                    page.write(number, column, cell, look if is_struck else plain)
        if hidden:
            page.set_row(2, None, None, {"hidden": True})
            page.set_column(4, 4, None, None, {"hidden": True})
            page.autofilter(0, 0, 3, 4)


def table(path: Path) -> RawTable:
    return read_source(path).tables[0]


def test_a_struck_row_is_left_out_and_listed(path: Path, montana: Projection) -> None:
    write(path, {2: range(5)})
    loaded = read_structures(table(path), projection=montana)
    assert loaded.value.number.tolist() == ["1/1", "1/3"]
    assert loaded.rows_left_out == (3,)
    assert (loaded.rows_in, loaded.rows_used) == (3, 2)
    assert str(loaded.problems[0]) == (
        'list.xlsx, row 3, "1/2 900500 2250900 H-TAN": struck through on the sheet'
    )


def test_rich_text_struck_in_every_run_counts(path: Path) -> None:
    write(path, {2: range(4)}, rich=True)
    marks = read_marks(path.read_bytes(), "list.xlsx")["Sheet1"]
    assert marks.struck == {3: frozenset({0, 1, 2, 3})}


def test_one_struck_cell_is_noted_and_the_row_read(path: Path, montana: Projection) -> None:
    write(path, {3: range(4, 5)})
    loaded = read_structures(table(path), projection=montana)
    assert len(loaded.value) == 3
    assert [(p.row, p.severity) for p in loaded.problems] == [(4, Severity.NOTED)]
    assert "1 of its 5 cells are struck through; it is read as it stands" in loaded.problems[0].reason


def test_hidden_rows_and_columns_are_read_and_said(path: Path, montana: Projection) -> None:
    write(path, {}, hidden=True)
    loaded = read_structures(table(path), projection=montana)
    assert len(loaded.value) == 3
    assert loaded.value.remarks[2] == "see Dwg 14"
    assert [p.reason for p in loaded.problems] == [
        "1 rows are hidden by a filter on the sheet and are read: 3",
        "hidden columns are read: Remarks",
    ]


def test_a_plain_workbook_has_no_marks(path: Path) -> None:
    write(path, {})
    (marks,) = read_marks(path.read_bytes(), "list.xlsx").values()
    assert (marks.struck, marks.hidden_rows, marks.hidden_columns, marks.filtered) == ({}, (), (), False)


def with_part(path: Path, part: str, content: bytes) -> bytes:
    """Return the workbook with one part replaced."""
    stream = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            new.writestr(name, content if name == part else old.read(name))
    return stream.getvalue()


def test_styles_that_are_no_xml_are_refused(path: Path) -> None:
    write(path, {2: range(5)})
    with pytest.raises(InputRefused, match="the workbook is damaged"):
        read_marks(with_part(path, "xl/styles.xml", b"<styleSheet><fonts>"), "list.xlsx")


def test_entities_are_never_resolved(path: Path, tmp_path: Path) -> None:
    write(path, {2: range(5)})
    secret = tmp_path / "secret.txt"
    secret.write_text("secret", encoding="utf-8")
    evil = (
        f'<!DOCTYPE s [<!ENTITY x SYSTEM "file://{secret}">]>'
        '<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">&x;</styleSheet>'
    ).encode()
    path.write_bytes(with_part(path, "xl/styles.xml", evil))
    with pytest.raises(InputRefused, match="declares a document type or entities"):
        read_source(path)
