"""Write tables as CSV text and as workbooks, byte for byte the same on every run."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path

import xlsxwriter

__all__ = ["CREATED", "Cell", "write_csv", "write_xlsx"]

Cell = str | int | float

#: Creation date written into workbooks, so that they do not change from run to run.
CREATED = datetime(2026, 2, 9, 8, 0, 0)  # noqa: DTZ001 - workbooks hold local times without a zone


def write_csv(path: Path, rows: Iterable[Sequence[Cell]]) -> None:
    """Write rows as UTF-8 CSV with line feeds."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(rows)


def write_xlsx(path: Path, sheet: str, rows: Iterable[Sequence[Cell]]) -> None:
    """Write rows to the only sheet of a workbook; text stays text, also "10/5"."""
    with xlsxwriter.Workbook(str(path)) as book:
        book.set_properties({"title": sheet, "created": CREATED})
        page = book.add_worksheet(sheet)
        for number, row in enumerate(rows):
            for column, value in enumerate(row):
                if isinstance(value, str):
                    page.write_string(number, column, value)
                else:
                    page.write_number(number, column, value)
