"""What the tests of readers and writers share: a projection, and files made on the spot."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from linemap.domain.kind.kind import Code as Kind
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.source.read import read_source

Save = Callable[[str, str | bytes], Path]
Table = Callable[..., RawTable]


@pytest.fixture(scope="session")
def montana() -> Projection:
    """A state plane zone in international feet."""
    return Projection.from_text("EPSG:6515")


@pytest.fixture(scope="session")
def utm() -> Projection:
    """A zone in metres."""
    return Projection.from_text("EPSG:32612")


@pytest.fixture
def save(tmp_path: Path) -> Save:
    """Write a file into the test's folder."""

    def write(name: str, content: str | bytes) -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return write


@pytest.fixture
def table(save: Save) -> Table:
    """Write a file and read its first table."""

    def read(content: str | bytes, *, name: str = "list.csv", kind: Kind | None = None) -> RawTable:
        return read_source(save(name, content), kind=kind).tables[0]

    return read


@pytest.fixture
def workbook(tmp_path: Path) -> Callable[..., Path]:
    """Write a workbook: sheet name -> rows of cells; dates keep their date format."""

    def write(sheets: dict[str, list[list[Any]]], *, name: str = "list.xlsx") -> Path:
        path = tmp_path / name
        with xlsxwriter.Workbook(
            str(path), {"default_date_format": "d-mmm", "remove_timezone": True}
        ) as book:
            for title, rows in sheets.items():
                sheet = book.add_worksheet(title)
                for index, row in enumerate(rows):
                    sheet.write_row(index, 0, row)
        return path

    return write
