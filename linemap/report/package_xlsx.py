"""The workbook of the as-set package: numbers are numbers, their units stand in the headings."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Iterable, Sequence

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from linemap.report.package import (
    SIGNATURE,
    SIGNED,
    STATEMENT,
    Package,
    front_statements,
)
from linemap.report.package_tables import Col, package_tables
from linemap.report.palette import OFFICE
from linemap.report.red_marks import MarkSheet

#: What no document's own clock may change. Spreadsheet programs show it as the day of making.
_MADE = dt.datetime(2000, 1, 1)  # noqa: DTZ001 - the file format has no zone
_MOST_SIGNS = 32_767


def package_xlsx(package: Package) -> bytes:
    """Return the workbook: what the package is and who signs, then a sheet for each kind of row.

    The same `package` gives the same bytes.
    """
    into = io.BytesIO()
    options = dict.fromkeys(("strings_to_formulas", "strings_to_numbers", "strings_to_urls"), False)
    with xlsxwriter.Workbook(into, {"in_memory": True, **options}) as book:
        book.set_properties({"title": f"{package.sheet.job}: as-set package", "created": _MADE})
        formats = _Formats(book)
        _front(book.add_worksheet("package"), package, formats)
        for name, columns, items in package_tables(package):
            _write(book.add_worksheet(name), columns, items, formats, package.sheet)
    return into.getvalue()


class _Formats:
    """The formats of a workbook: heads, texts, and numbers by their decimals."""

    def __init__(self, book: xlsxwriter.Workbook) -> None:
        self.head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.text = book.add_format({"num_format": "@", "valign": "top", "text_wrap": True})
        self.bold = book.add_format({"bold": True, "valign": "top", "text_wrap": True})
        self.red = book.add_format(
            {
                "num_format": "@",
                "valign": "top",
                "text_wrap": True,
                "font_color": OFFICE["verdict-fail"].day.upper(),
            }
        )
        self.line = book.add_format({"bottom": 1})
        self._numbers = {
            places: book.add_format({"num_format": f"0.{'0' * places}" if places else "0", "valign": "top"})
            for places in range(5)
        }

    def number(self, text: str) -> Format:
        """Return the format that shows a number with the decimals it is printed with."""
        return self._numbers[len(text.partition(".")[2])]


def _front(page: Worksheet, package: Package, formats: _Formats) -> None:
    page.set_column(0, 0, 30)
    page.set_column(1, 1, 110)
    page.write_string(0, 0, "as-set package", formats.bold)
    page.write_string(0, 1, STATEMENT, formats.bold)
    row = 2
    for name, text in front_statements(package):
        page.write_string(row, 0, name, formats.text)
        page.write_string(row, 1, text[:_MOST_SIGNS], formats.text)
        row += 1
    page.write_string(row + 1, 1, SIGNATURE, formats.text)
    for place, label in enumerate((*SIGNED, "remarks", "seal")):
        page.write_string(row + 3 + 2 * place, 0, label, formats.text)
        page.write_blank(row + 3 + 2 * place, 1, None, formats.line)
    _set_up(page, package.sheet)


def _write(
    page: Worksheet, columns: Sequence[Col], items: Iterable[object], formats: _Formats, sheet: MarkSheet
) -> None:
    for at, column in enumerate(columns):
        page.write_string(0, at, column.heading, formats.head)
        page.set_column(at, at, column.wide)
    for row, item in enumerate(items, start=1):
        for at, column in enumerate(columns):
            text = column.text(item)
            if text and column.number:
                page.write_number(row, at, float(text), formats.number(text))
            else:
                page.write_string(row, at, text[:_MOST_SIGNS], formats.red if text == "off" else formats.text)
    page.freeze_panes(1, 2)
    page.repeat_rows(0)
    _set_up(page, sheet)


def _set_up(page: Worksheet, sheet: MarkSheet) -> None:
    page.set_landscape()
    page.fit_to_pages(1, 0)
    job = sheet.job.replace("&", "&&")[:80]
    page.set_footer(
        f"&L{job}, data version {sheet.data_version} as of {sheet.data_date}\n{sheet.source}&R&P of &N"
    )
