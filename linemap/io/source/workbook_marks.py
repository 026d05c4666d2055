"""What a spreadsheet shows by looks alone: struck-through cells, hidden rows and columns, filters.

Cell values do not tell these, so the parts of the workbook that do are read: the styles, and the rows and
cells of the sheet (ECMA-376 part 1, 18.3 and 18.8). No entity is ever resolved and nothing is fetched.
"""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from lxml import etree

from linemap.errors import InputRefused, Problem, Severity
from linemap.io.cells.table import RawTable, cell_text, is_blank
from linemap.io.source.workbook_size import column_number

_LINK = re.compile(r"\}id$")
_HIDDEN = re.compile(rb'\bhidden="(?:1|true)"')
_FILTER = re.compile(rb"<(?:\w+:)?autoFilter\b|\bfilterMode=\"(?:1|true)\"")


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What one sheet shows by looks."""

    #: Row number -> indices of its filled cells that are struck through.
    struck: Mapping[int, frozenset[int]] = field(default_factory=dict)
    hidden_rows: tuple[int, ...] = ()
    #: Indices of hidden columns, from 0.
    hidden_columns: tuple[int, ...] = ()
    filtered: bool = False


def read_marks(data: bytes, name: str) -> dict[str, Marks]:
    """Return the marks of every sheet of a workbook, by the sheet's name.

    Raises
    ------
    InputRefused
        If a part of the workbook is no proper XML.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            struck_styles = _struck_styles(book)
            struck_texts = _struck_texts(book)
            return {
                title: _marks(book.read(part), struck_styles, struck_texts)
                for title, part in _sheets(book)
                if part in book.namelist()
            }
    except (etree.XMLSyntaxError, KeyError, ValueError, zipfile.BadZipFile) as error:
        reason = f"the workbook is damaged: {error}"
        raise InputRefused(Problem(file=name, reason=reason, remedy="save it again as .xlsx")) from None


def _tree(book: zipfile.ZipFile, part: str) -> Any:
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)
    return etree.fromstring(book.read(part), parser)


def _sheets(book: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    """Give the name of each sheet and the part that holds it."""
    if not {"xl/workbook.xml", "xl/_rels/workbook.xml.rels"} <= set(book.namelist()):
        return
    targets = {link.get("Id"): link.get("Target") for link in _tree(book, "xl/_rels/workbook.xml.rels")}
    for sheet in _tree(book, "xl/workbook.xml").findall("{*}sheets/{*}sheet"):
        link = next((value for key, value in sheet.attrib.items() if _LINK.search(key)), None)
        target = targets.get(link)
        if target:
            path = target.lstrip("/") if target.startswith("/") else posixpath.normpath(f"xl/{target}")
            yield sheet.get("name", ""), path


def _is_on(element: Any) -> bool:
    return element is not None and element.get("val", "1") not in {"0", "false"}


def _struck_styles(book: zipfile.ZipFile) -> frozenset[int]:
    """Return the numbers of the cell styles whose font is struck through."""
    if "xl/styles.xml" not in book.namelist():
        return frozenset()
    styles = _tree(book, "xl/styles.xml")
    fonts = styles.findall("{*}fonts/{*}font")
    struck = {index for index, font in enumerate(fonts) if _is_on(font.find("{*}strike"))}
    cells = styles.findall("{*}cellXfs/{*}xf")
    return frozenset(index for index, style in enumerate(cells) if int(style.get("fontId", "0")) in struck)


def _struck_texts(book: zipfile.ZipFile) -> frozenset[int]:
    """Return the numbers of the shared texts of which every run is struck through."""
    part = "xl/sharedStrings.xml"
    if part not in book.namelist() or b"strike" not in book.read(part):
        return frozenset()
    texts = _tree(book, part).findall("{*}si")
    return frozenset(index for index, text in enumerate(texts) if _is_struck(text))


def _is_struck(text: Any) -> bool:
    runs = text.findall("{*}r")
    return bool(runs) and all(_is_on(run.find("{*}rPr/{*}strike")) for run in runs)


def _marks(sheet: bytes, styles: frozenset[int], texts: frozenset[int]) -> Marks:
    struck: dict[int, frozenset[int]] = {}
    rows: list[int] = []
    if styles or texts or _HIDDEN.search(sheet):
        for number, row in _rows(sheet):
            if row.get("hidden") in {"1", "true"}:
                rows.append(number)
            cells = frozenset(_struck_cells(row, styles, texts))
            if cells:
                struck[number] = cells
    return Marks(
        struck=struck,
        hidden_rows=tuple(rows),
        hidden_columns=_hidden_columns(sheet),
        filtered=_FILTER.search(sheet) is not None,
    )


def _rows(sheet: bytes) -> Iterator[tuple[int, Any]]:
    events = etree.iterparse(
        io.BytesIO(sheet),
        tag="{*}row",
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
    )
    number = 0
    for _, row in events:
        number = int(row.get("r", number + 1))
        yield number, row
        row.clear()


def _struck_cells(row: Any, styles: frozenset[int], texts: frozenset[int]) -> Iterator[int]:
    column = -1
    for cell in row.findall("{*}c"):
        letters = re.match(r"[A-Z]+", cell.get("r", ""))
        column = column_number(letters[0].encode()) - 1 if letters else column + 1
        value = cell.find("{*}v")
        if value is None and cell.find("{*}is") is None:
            continue
        shared = cell.get("t") == "s" and value is not None and int(value.text or -1) in texts
        if shared or int(cell.get("s", "0")) in styles:
            yield column


def _hidden_columns(sheet: bytes) -> tuple[int, ...]:
    found: list[int] = []
    for column in re.findall(rb"<(?:\w+:)?col\b[^>]*>", sheet):
        spread = [re.search(rb'\b%s="(\d+)"' % word, column) for word in (b"min", b"max")]
        if _HIDDEN.search(column) and spread[0] and spread[1]:
            found.extend(range(int(spread[0][1]) - 1, min(int(spread[1][1]), 702)))
    return tuple(found)


def apply_marks(table: RawTable, marks: Marks) -> RawTable:
    """Leave out the rows that are struck through, and say what is hidden or filtered.

    A row is struck when half of its filled cells are, or more. Hidden rows and columns are read.
    """
    problems: list[Problem] = []
    keep: list[int] = []
    for index, number in enumerate(table.row_numbers):
        struck, filled = _share(table, index, marks.struck.get(number, frozenset()))
        if struck and 2 * struck >= filled:
            problems.append(_said(table, number, "struck through on the sheet", Severity.LEFT_OUT, index))
        else:
            keep.append(index)
            if struck:
                reason = f"{struck} of its {filled} cells are struck through; it is read as it stands"
                problems.append(_said(table, number, reason, Severity.NOTED, index))
    problems += [_said(table, None, words, Severity.NOTED) for words in _hidden_words(table, marks)]
    return replace(
        table,
        rows=[table.rows[index] for index in keep],
        row_numbers=[table.row_numbers[index] for index in keep],
        problems=(*table.problems, *problems),
    )


def _share(table: RawTable, index: int, struck: frozenset[int]) -> tuple[int, int]:
    filled = [column for column, cell in enumerate(table.rows[index]) if not is_blank(cell)]
    return sum(column in struck for column in filled), len(filled)


def _hidden_words(table: RawTable, marks: Marks) -> Iterator[str]:
    hidden = [number for number in table.row_numbers if number in set(marks.hidden_rows)]
    if hidden:
        filtered = " by a filter" if marks.filtered else ""
        listed = ", ".join(map(str, hidden[:12])) + (", ..." if len(hidden) > 12 else "")
        yield f"{len(hidden)} rows are hidden{filtered} on the sheet and are read: {listed}"
    elif marks.filtered:
        yield "a filter is set on the sheet; all rows are read"
    columns = [table.headers[i] for i in marks.hidden_columns if i < len(table.headers) and table.headers[i]]
    if columns:
        yield f"hidden columns are read: {', '.join(columns)}"


def _said(
    table: RawTable, row: int | None, reason: str, severity: Severity, index: int | None = None
) -> Problem:
    cells = [] if index is None else table.rows[index]
    return Problem(
        file=table.file,
        row=row,
        value=" ".join(cell_text(cell) for cell in cells if not is_blank(cell)),
        reason=reason,
        severity=severity,
    )
