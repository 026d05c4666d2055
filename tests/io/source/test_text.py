from __future__ import annotations

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.errors import InputRefused, Severity
from linemap.io.cells.table import RawTable
from linemap.io.source.text import plain_text, protected_text, read_text

LIST = "Str;Northing;Easting;Remarks\n1/1;900000,5;2250000,25;Ö - low\n1/2;900499,4;2250948,7;\n"


def read(content: str | bytes) -> RawTable:
    return read_text(content if isinstance(content, bytes) else content.encode(), "list.csv", kind=None)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_every_usual_encoding_reads_the_same(encoding: str) -> None:
    table = read(LIST.encode(encoding))
    assert table.rows[0][3] == "Ö - low"
    assert (table.headers[0], table.delimiter, table.decimal_mark) == ("Str", ";", ",")


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_every_delimiter_is_found(delimiter: str) -> None:
    text = "TITLE, with; all | kinds\tof marks\n" + delimiter.join(["Str", "N", "E"]) + "\n"
    table = read(text + delimiter.join(["1/1", "900000.5", "2250000.5"]) + "\n")
    assert table.delimiter == delimiter
    assert list(table.rows[0]) == ["1/1", "900000.5", "2250000.5"]
    assert [problem.row for problem in table.problems] == [1]


def test_blanks_separate_shot_files() -> None:
    table = read(
        "5001 911423.70 2273378.01 3952.66 STR 5/5 A\n5002  911410.07 2273384.24 3953.30 STR 5/5 B\n"
    )
    assert (table.delimiter, table.kinds) == (" ", ("shots",))
    assert table.rows[1][4].strip() == "STR 5/5 B"  # type: ignore[union-attr]


def test_decimal_commas_between_semicolons_read_as_shots() -> None:
    table = read("1;911423,70;2273378,01;3952,66;STR 5/5 A\n")
    assert (table.delimiter, table.decimal_mark) == (";", ",")


def test_row_numbers_are_those_of_the_file() -> None:
    table = read('Str,N,E,Remarks\n\n1/1,1,2,"two\nlines"\n,,,\n1/2,3,4,\n')
    assert (table.header_row, list(table.row_numbers), table.blank_rows) == (1, [3, 6], 2)


def test_unusual_line_ends_do_not_shift_rows() -> None:
    table = read("Str,N,E,Remarks\r\n1/1,1,2,a\u2028b\r\n1/2,3,4,\x0bc\r\n")
    assert list(table.row_numbers) == [2, 3]
    assert len(read("Str,N,E\r1/1,1,2\r1/2,3,4\r").rows) == 2


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\x00\x01\x02binary\x00", "not readable as text"),
        (b"Str,N,E\n1/1,1,2\n1/2,\x81\x8d", "not readable as text"),
        (b"\xff\xfeS", "not readable as text"),
        ("no headings here\nat all\n", "no row of headings"),
        ("Str,N,E\n1/1,1,2\n" + '1/2,"3,4\n' * 3, "never closed"),
        ('Str,N,E,Remarks\n1/1,1,2,"low\n1/2,3,4,"\n1/3,5,6,\n', "takes in the next rows"),
    ],
)
def test_unreadable_text_is_refused(content: str | bytes, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read(content)


def test_inch_marks_do_not_count_as_quotation_marks() -> None:
    assert len(read('Str,N,E,Remarks\n1/1,1,2,pipe 12" wide\n1/2,3,4,\n').rows) == 2


def test_ten_megabytes_in_one_line_are_refused() -> None:
    with pytest.raises(InputRefused, match="a line of 10,485,760 characters"):
        read(b"1," * (5 * 1024 * 1024))


def test_title_rows_are_listed_as_left_out() -> None:
    problem = read("KETTLE & SPAR,LIST\nStr,N,E\n1/1,1,2\n").problems[0]
    assert (problem.severity, problem.row, problem.value) == (Severity.LEFT_OUT, 1, "KETTLE & SPAR LIST")


@given(st.text(max_size=12))
@settings(max_examples=examples(150))
def test_protection_from_formulas_is_undone_exactly(text: str) -> None:
    shown = protected_text(text)
    assert plain_text(shown) == text
    assert not shown.startswith(("=", "+", "-", "@", "\t", "\r"))


def test_a_cell_longer_than_any_is_refused_while_headings_are_sought() -> None:
    text = 'point,n,e\n1,"' + "x,900000\n" * 60 + ("y" * 90_000 + "\n") * 3
    with pytest.raises(InputRefused, match="cannot be split into cells"):
        read_text(text.encode(), "list.csv", kind=None)
