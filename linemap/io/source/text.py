"""Delimited text: encoding, delimiter, decimal mark, headings, rows.

The delimiter is the one under which the headings are understood best, so a decimal comma, a title full of
commas or a remark never decides it.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import islice

from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Problem, Severity
from linemap.io.cells.header import (
    HEADER_ROWS,
    find_header,
    heading_row,
    likely_without_headings,
    looks_like_shots,
)
from linemap.io.cells.meaning import describe_need
from linemap.io.cells.near import nearest_kinds
from linemap.io.cells.numbers import decimal_mark
from linemap.io.cells.shape import Answers
from linemap.io.cells.table import KINDS, Cell, RawTable, cell_text

_refused = InputRefused.of_file

_LONGEST_LINE = 100_000
_SAMPLE_LINES = 200
_NO_CELLS, _CLOSE_IT = "the text cannot be split into cells", "close the quotation mark it opens"
_DELIMITERS = (",", ";", "\t", "|", " ")
#: Texts a spreadsheet would run as a formula, and those already marked with apostrophes.
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_MARKED = re.compile(r"'+[=+\-@\t\r]")


def protected_text(text: str) -> str:
    """Return a text as it is written to CSV: one apostrophe goes before what a spreadsheet would run.

    `plain_text` takes exactly one off again, so a round trip through CSV changes nothing.

    >>> protected_text("=1+1"), protected_text("12/3"), protected_text("'=1")
    ("'=1+1", '12/3', "''=1")
    """
    return "'" + text if _FORMULA.match(text) else text


def plain_text(text: str) -> str:
    """Undo `protected_text`.

    >>> plain_text("'=1+1"), plain_text("'80s")
    ('=1+1', "'80s")
    """
    return text[1:] if _MARKED.match(text) else text


def read_text(data: bytes, name: str, *, kind: Kind | None, answers: Answers | None = None) -> RawTable:
    """Read delimited text into a table; `kind` limits what its headings may mean, `answers` name columns.

    Raises
    ------
    InputRefused
        If the bytes are no text, a line is longer than 100,000 characters, a quotation mark is never
        closed, or no headings are found (survey shots need none).
    """
    text, encoding = _decode(data, name)
    _check_lines(text, name)
    delimiter = _delimiter(text, name, kind, answers)
    rows, numbers, blank = _split(text, delimiter, name)
    if "'" in text and delimiter != " ":
        rows = [[plain_text(cell) if cell.startswith("'") else cell for cell in row] for row in rows]
    table = lay_out(rows, numbers, file=name, kind=kind, answers=answers)
    mark = "."
    if delimiter != "," or '"' in text:
        doubtful = "." if delimiter == "," else "?"
        mark = decimal_mark((cell for row in rows for cell in row), doubtful=doubtful)
    return replace(table, encoding=encoding, delimiter=delimiter, decimal_mark=mark, blank_rows=blank)


def _decode(data: bytes, name: str) -> tuple[str, str]:
    tries = "utf-8-sig" if data.startswith(b"\xef\xbb\xbf") else "utf-8 cp1252"
    for encoding in ("utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else tries).split():
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text, encoding
    raise _refused(name, "the file is not readable as text", "save it as CSV in UTF-8")


def _check_lines(text: str, name: str) -> None:
    for number, line in enumerate(_lines(text), start=1):
        if len(line) > _LONGEST_LINE:
            reason = f"a line of {len(line):,} characters; no list has lines longer than {_LONGEST_LINE:,}"
            raise _refused(name, reason, "export it again with line ends", row=number)


def _delimiter(text: str, name: str, kind: Kind | None, answers: Answers | None) -> str:
    """Return what parts the cells: under it the headings are understood best, or rows read as shots."""
    kinds = KINDS if kind is None else (kind,)
    sample = "".join(islice((line for line in _lines(text) if line.strip()), _SAMPLE_LINES))
    best = shots = ""
    understood = 0
    for delimiter in _DELIMITERS:
        if delimiter == " " and (best or shots):
            break  # words of a remark must not be taken for headings
        try:
            rows = [row for row, _ in _records(sample, delimiter) if any(row)]
        except csv.Error as error:
            raise _refused(name, f"{_NO_CELLS}: {error}", _CLOSE_IT) from None
        header = find_header(rows, kinds=kinds, answers=answers)
        if header is not None and header.score > understood:
            best, understood = delimiter, header.score
        mark = decimal_mark((cell for row in rows for cell in row), doubtful="?")
        bare = "shots" in kinds and looks_like_shots(rows, mark=mark)
        if not shots and (bare or holds_columns(rows, answers)):
            shots = delimiter
    if not (best or shots):
        raise no_header(name, kind, _widest(sample))
    return best or shots


def _widest(sample: str) -> list[list[str]]:
    """Return the rows of a sample as the delimiter parts them that gives most cells."""
    parted = ([row for row, _ in _records(sample, each) if any(row)] for each in _DELIMITERS[:-1])
    return max(parted, key=lambda rows: sum(map(len, rows)))


def holds_columns(rows: Sequence[Sequence[Cell]], answers: Answers | None) -> bool:
    """Say whether most rows reach to the columns a person named by their numbers."""
    numbers = [column for column in answers.fields.values() if isinstance(column, int)] if answers else []
    wide = sum(len(row) >= max(numbers, default=0) for row in rows)
    return bool(numbers) and 2 * wide > len(rows)


def no_header(name: str, kind: Kind | None, rows: Sequence[Sequence[Cell]] = ()) -> InputRefused:
    """Return the refusal of a table whose headings say nothing, with the kind they are nearest to."""
    need = f"; {kind} need {describe_need(kind)}" if kind else ""
    near = nearest_kinds(rows[:HEADER_ROWS], (kind,) if kind else KINDS)
    named = heading_row(rows, mark=decimal_mark((cell for row in rows for cell in row), doubtful="?"))
    reason = f"no row of headings is understood within the first {HEADER_ROWS} rows{need}"
    if named is not None:
        reason = f"row {named + 1} looks like headings, and they are not understood{need}"
    remedy = "rename them, or name the columns with --as KIND and --column FIELD=HEADING"
    return InputRefused(
        Problem(
            file=name,
            value=_joined(rows[named or 0]) if rows else "",
            reason=reason + (f"; {near}" if near else ""),
            remedy=remedy if near or named is not None else _PLAIN_HEADINGS,
        )
    )


_PLAIN_HEADINGS = "give the columns headings such as structure, easting, northing"


def _lines(text: str) -> io.StringIO:
    """Give lines with their ends; unlike `str.splitlines`, only line feeds and returns end one."""
    return io.StringIO(text, newline="")


def _records(text: str, delimiter: str) -> Iterator[tuple[list[str], int]]:
    """Give each record with the number of the line it starts on."""
    if delimiter == " ":
        for number, line in enumerate(_lines(text), start=1):
            yield line.split(None, 4), number
        return
    reader = csv.reader(_lines(text), delimiter=delimiter)
    number = 1
    for row in reader:
        yield row, number
        number = reader.line_num + 1


def _split(text: str, delimiter: str, name: str) -> tuple[list[list[str]], list[int], int]:
    rows: list[list[str]] = []
    numbers: list[int] = []
    blank = 0
    number = 1
    try:
        for row, number in _records(text, delimiter):
            joined = "".join(row)
            if joined and not joined.isspace():
                rows.append(row)
                numbers.append(number)
            else:
                blank += 1
        if delimiter != " " and '"' in text:
            _check_end(text, delimiter, number)
    except csv.Error as error:
        raise _refused(name, f"{_NO_CELLS}: {error}", _CLOSE_IT, row=number) from None
    # only a quotation mark lets a cell run over several lines
    for row, start in zip(rows, numbers, strict=True) if '"' in text else ():
        if _swallows(row, delimiter):
            reason = "a quotation mark is opened that takes in the next rows too"
            raise _refused(name, reason, "close it, or take it out", row=start)
    return rows, numbers, blank


def _swallows(row: Sequence[str], delimiter: str) -> bool:
    """Say whether a cell runs over several lines, one of which holds as many cells as the row itself."""
    return len(row) > 2 and any(
        line.count(delimiter) + 1 >= len(row)
        for cell in row
        if "\n" in cell
        for line in cell.splitlines()[1:]
    )


def _check_end(text: str, delimiter: str, last: int) -> None:
    """Refuse a quotation mark that is still open where the file ends; the reader would not mind."""
    tail = islice(_lines(text), last - 1, None)
    try:
        for _ in csv.reader(tail, delimiter=delimiter, strict=True):
            pass
    except csv.Error as error:
        if "unexpected end" in str(error):
            raise csv.Error("a quotation mark is opened and never closed") from None


def lay_out(
    rows: Sequence[Sequence[Cell]],
    numbers: Sequence[int],
    *,
    file: str,
    kind: Kind | None,
    sheet: str = "",
    answers: Answers | None = None,
) -> RawTable:
    """Take the headings off the rows; rows above them are listed as left out.

    Raises
    ------
    InputRefused
        If no headings are found and the rows do not read as survey shots.
    """
    header = find_header(rows, kinds=KINDS if kind is None else (kind,), answers=answers)
    if header is None:
        if kind not in {None, "shots"} and not holds_columns(rows, answers):
            raise no_header(file, kind, rows)
        kinds: tuple[Kind, ...] = (kind,) if kind else likely_without_headings(rows)
        return RawTable(file=file, sheet=sheet, kinds=kinds, rows=rows, row_numbers=numbers)
    start = header.index + header.height
    above, reason = (
        zip(rows[: header.index], numbers, strict=False),
        "stands above the headings and is not read",
    )
    titles = tuple(
        Problem(file=file, row=number, value=_joined(row), reason=reason, severity=Severity.LEFT_OUT)
        for row, number in above
    )
    return RawTable(
        file=file,
        sheet=sheet,
        kinds=header.kinds,
        headers=header.headings,
        heading_texts=tuple(cell_text(cell) for row in rows[header.index : start] for cell in row),
        header_row=numbers[header.index],
        rows=rows[start:],
        row_numbers=numbers[start:],
        problems=titles,
    )


def _joined(row: Sequence[Cell]) -> str:
    return " ".join(text for text in map(cell_text, row) if text)
