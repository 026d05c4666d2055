"""Write a table of results as CSV, XLSX, GeoJSON, GeoPackage or GeoParquet.

Every file is written beside its target and put in place when it is whole, so a reader never meets half a
file. In CSV one apostrophe goes before a text that a spreadsheet would run as a formula (it begins with
``=``, ``+``, ``-`` or ``@``); the reader takes it off again. CSV keeps structure numbers as plain text, which
spreadsheets may turn into dates: XLSX, whose text cells they leave alone, is the form for spreadsheets.
"""

from __future__ import annotations

import csv
import importlib
import tempfile
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import orjson
import xlsxwriter
from numpy.typing import NDArray

from linemap.errors import InputRefused
from linemap.io.output.table import Points, Table, plain_values
from linemap.io.source.text import protected_text

Columns = Mapping[str, NDArray[Any]]
#: Suffixes a table can be written to.
OUTPUT_SUFFIXES = (".csv", ".xlsx", ".geojson", ".gpkg", ".parquet")

_SHEET_ROWS = 1_048_576
_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


def write_table(
    columns: Columns,
    path: Path,
    *,
    points: Points | None = None,
    length_note: str = "",
    source: str = "",
    title: str = "structures",
) -> None:
    """Write columns of one length to a file whose suffix says the format.

    Parameters
    ----------
    columns : mapping of str to ndarray
        Name -> (n,) column of numbers, truth values or texts. nan and None become empty.
    path : Path
        Target; replaced whole when it exists.
    points : Points, optional
        Needed for .geojson (WGS 84, RFC 7946), .gpkg and .parquet (grid).
    length_note : str
        What lengths are in, such as "lengths in international feet"; kept where the format has room for
        it (not in CSV).
    source : str
        Which job the table is of; kept beside the note on lengths. A CSV file has no place for either that
        readers of columns pass over.
    title : str
        Name of the sheet or layer.

    Raises
    ------
    InputRefused
        If the suffix is none of `OUTPUT_SUFFIXES`, the folder is missing or cannot be written, the rows are
        too many for a sheet, or points are missing. Nothing is then left behind.
    """
    writer = _WRITERS.get(path.suffix.lower())
    if writer is None:
        found = path.suffix or "a file without suffix"
        raise InputRefused.of_file(
            path.name, f"cannot be written as {found}", f"use one of {' '.join(OUTPUT_SUFFIXES)}"
        )
    tidy = {name: np.asarray(column) for name, column in columns.items()}
    if len({len(column) for column in tidy.values()}) > 1:
        raise ValueError("columns differ in length")
    task = Table(columns=tidy, points=points, length_note=length_note, source=source, title=title)
    _put(path, lambda part: writer(task, part))


def write_text(text: str, path: Path) -> None:
    """Write a text as UTF-8, whole or not at all.

    Raises
    ------
    InputRefused
        If the folder is missing or cannot be written.
    """
    write_bytes(text.encode("utf-8"), path)


def write_bytes(content: bytes, path: Path) -> None:
    """Write bytes, whole or not at all.

    Raises
    ------
    InputRefused
        If the folder is missing or cannot be written.
    """
    _put(path, lambda part: part.write_bytes(content))


def _put(path: Path, write: Callable[[Path], object]) -> None:
    """Let `write` fill a file beside the target, and put it in place when it is whole."""
    if path.is_dir():
        raise InputRefused.of_file(path.name, "this is a folder", "name a file")
    try:
        with tempfile.TemporaryDirectory(prefix=".linemap-", dir=path.parent) as folder:
            part = Path(folder) / path.name
            write(part)
            part.replace(path)
    except OSError as error:
        words = error.strerror or str(error)
        raise InputRefused.of_file(
            path.name, f"cannot be written: {words.lower()}", "check the folder"
        ) from None


def _write_csv(task: Table, path: Path) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(task.columns)
        writer.writerows(zip(*(_csv_cells(column) for column in task.columns.values()), strict=True))


def _csv_cells(column: NDArray[Any]) -> list[str]:
    return [_csv_cell(value) for value in plain_values(column)]


def _csv_cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return protected_text(value) if isinstance(value, str) else repr(value)


def _write_xlsx(task: Table, path: Path) -> None:
    size = len(next(iter(task.columns.values()), ()))
    if size >= _SHEET_ROWS:
        raise InputRefused.of_file(path.name, f"{size:,} rows do not fit on a sheet", "write .csv or .gpkg")
    options = {
        "strings_to_formulas": False,
        "strings_to_numbers": False,
        "strings_to_urls": False,
        "constant_memory": False,
    }
    with xlsxwriter.Workbook(str(path), options) as book:
        # A fixed date keeps two exports of the same data equal byte for byte.
        book.set_properties(
            {
                "created": _EPOCH,
                "comments": "; ".join(filter(None, (task.length_note, task.source))),
                "title": task.title,
            }
        )
        text, head = book.add_format({"num_format": "@"}), book.add_format({"bold": True})
        sheet = book.add_worksheet(task.title[:31])
        sheet.freeze_panes(1, 0)
        for index, (name, column) in enumerate(task.columns.items()):
            sheet.write_string(0, index, name, head)
            for row, value in enumerate(plain_values(column), start=1):
                _write_cell(sheet, row, index, value, text)


def _write_cell(sheet: Any, row: int, index: int, value: Any, text: Any) -> None:
    if isinstance(value, bool):
        sheet.write_boolean(row, index, value)
    elif isinstance(value, str):
        # An empty text cell still carries the text format, so that a number entered later stays text.
        sheet.write_string(row, index, value, text) if value else sheet.write_blank(row, index, None, text)
    elif value is not None:
        sheet.write_number(row, index, value)


def _write_geojson(task: Table, path: Path) -> None:
    points = task.needed_points(path)
    names = list(task.columns)
    rows = zip(*(plain_values(column) for column in task.columns.values()), strict=True)
    # 9 decimals are 0.1 mm; RFC 7946 advises against more than a use needs.
    lon, lat = np.round(points.longitude, 9).tolist(), np.round(points.latitude, 9).tolist()
    with path.open("wb") as file:
        head = {"type": "FeatureCollection", "name": task.title, "length_note": task.length_note}
        if task.source:
            head["source"] = task.source
        file.write(orjson.dumps(head)[:-1] + b',"features":[\n')
        for index, row in enumerate(rows):
            known = np.isfinite(lon[index] + lat[index])
            geometry = {"type": "Point", "coordinates": [lon[index], lat[index]]} if known else None
            feature = {
                "type": "Feature",
                "geometry": geometry,
                "properties": dict(zip(names, row, strict=True)),
            }
            file.write((b",\n" if index else b"") + orjson.dumps(feature))
        file.write(b"\n]}\n")


def _late(name: str) -> Callable[[Table, Path], None]:
    """Return a writer that loads its libraries when it is first used: they take a second to start."""

    def write(table: Table, path: Path) -> None:
        getattr(importlib.import_module("linemap.io.output.write_vector"), name)(table, path)

    return write


_WRITERS: Mapping[str, Callable[[Table, Path], None]] = {
    ".csv": _write_csv,
    ".xlsx": _write_xlsx,
    ".geojson": _write_geojson,
    ".gpkg": _late("write_gpkg"),
    ".parquet": _late("write_parquet"),
}
