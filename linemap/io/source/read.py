"""Read any file linemap accepts into tables, and say what kind each table is.

PostgreSQL stores no NUL character in text, and half of a surrogate pair is no character at all. They come
from damaged files and never from people, so a file that holds one is refused whole, whatever it is.
"""

from __future__ import annotations

import importlib
import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from itertools import chain
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar

from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Problem
from linemap.io.cells.meaning import match_headings
from linemap.io.cells.shape import Answers, with_answers
from linemap.io.cells.table import KINDS, Cell, RawTable, Source, cell_text, is_blank
from linemap.io.source.container import (
    check_unchanged,
    companions,
    fingerprint,
    nature,
    parts_of,
    read_bytes,
)
from linemap.io.source.own_output import job_of, refuse_pages
from linemap.io.source.sandbox import Call
from linemap.io.source.text import read_text

T = TypeVar("T")

_refused = InputRefused.of_file

_HEADERS = ("name", "value", "unit", "source")


def read_document(data: bytes, name: str) -> RawTable | None:
    """Read a JSON object of names and values; None when the object is GeoJSON.

    A value is a number, or an object with "value", "unit" and "source". A bare number is in degrees when
    its name ends in "_deg", else in the ground unit of the line.

    Raises
    ------
    InputRefused
        If the bytes are no JSON or no object.
    """
    try:
        content = json.loads(data.decode("utf-8-sig"), parse_constant=str)
    except (ValueError, RecursionError) as error:
        raise _refused(name, f"the file is no JSON: {error}", "correct it, or export it again") from None
    if not isinstance(content, dict):
        raise _refused(name, "the JSON is no object of names and values", "write it as {name: value}")
    if isinstance(content.get("type"), str) and ({"features", "geometry", "coordinates"} & content.keys()):
        return None
    rows = [_row(key, value) for key, value in content.items()]
    return RawTable(
        file=name,
        kinds=("tolerances",),
        headers=_HEADERS,
        header_row=0,
        rows=rows,
        row_numbers=range(1, len(rows) + 1),
        encoding="utf-8",
    )


def _row(key: str, value: Any) -> tuple[Cell, ...]:
    if isinstance(value, Mapping):
        return (key, *(_cell(value.get(part)) for part in _HEADERS[1:]))
    return (key, _cell(value), "deg" if key.endswith("_deg") else "ground", None)


def _cell(value: Any) -> Cell:
    return value if value is None or isinstance(value, str | int | float | bool) else json.dumps(value)


#: Share of the first cells of a column that tells what it holds, and how many they are.
_MOST, _FIRST = 0.8, 1000
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")


def check_signs(table: RawTable) -> RawTable:
    """Return the table as it is when all its texts can be stored.

    Raises
    ------
    InputRefused
        If a heading or a cell holds a NUL character or half of a surrogate pair; it names the first one.
    """
    rows = zip(table.row_numbers, table.rows, strict=True)
    for number, cells in chain([(table.header_row, table.headers)], rows):
        if _UNSTORABLE.search(_text(cells)):
            raise InputRefused(_problem(table, number, cells))
    return table


def _text(cells: Sequence[Cell]) -> str:
    # a half character at the end of one cell and another at the start of the next stay two halves
    try:
        return "".join(cells)  # type: ignore[arg-type] # nearly every row is nothing but texts
    except TypeError:
        return "".join([cell for cell in cells if isinstance(cell, str)])


def _problem(table: RawTable, number: int | None, cells: Sequence[Cell]) -> Problem:
    column, cell = next(
        (at, cell) for at, cell in enumerate(cells) if isinstance(cell, str) and _UNSTORABLE.search(cell)
    )
    heading = table.headers[column] if column < len(table.headers) else f"column {column + 1}"
    return Problem(
        file=table.file,
        row=number,
        column=_UNSTORABLE.sub("?", heading),
        value=_UNSTORABLE.sub("?", cell),
        reason="holds a character that is none (a NUL or half a character)",
        remedy="the file is damaged there; correct the cell or export the file again",
    )


_TEXT = (".csv", ".txt", ".tsv", ".asc", ".pnt", ".pts")
_WORKBOOK = (".xlsx", ".xlsm")
_VECTOR = (".geojson", ".gpkg", ".shp", ".kml", ".kmz")
#: Suffixes of the files that can be read.
SUFFIXES: tuple[str, ...] = (*_TEXT, *_WORKBOOK, *_VECTOR, ".json")

_NATURES = {
    ".xlsx": "a ZIP archive",
    ".xlsm": "a ZIP archive",
    ".kmz": "a ZIP archive",
    ".gpkg": "a SQLite database",
    ".shp": "a shapefile",
}


def read_source(path: Path, *, kind: Kind | None = None, answers: Answers | None = None) -> Source:
    """Read a file into tables without giving its values a meaning yet.

    Parameters
    ----------
    path : Path
        CSV or other delimited text, XLSX, GeoJSON, GeoPackage, shapefile, KML, KMZ, or JSON.
    kind : Kind, optional
        What the file is said to be; headings are then read with that kind's words only.
    answers : Answers, optional
        What a person said about the file's columns; they are found by it, and its kind is taken.

    Raises
    ------
    InputRefused
        If the file is missing, a folder, empty, too large, not what its suffix says, damaged, built to
        exhaust memory, without headings that are understood, changed by another program meanwhile, or with
        a character that no database stores.
    """
    name = path.name
    data = read_bytes(path, name)
    if answers is not None:
        answers.check()
    found = _tables(path, data, answers.kind if answers else kind, answers)
    tables = tuple(with_answers(check_signs(table), answers) for table in found)
    sha256 = fingerprint(data)
    check_unchanged(path, name, sha256)
    return Source(name=name, data=data, sha256=sha256, tables=tables, job=job_of(data, name, tables))


def _tables(path: Path, data: bytes, kind: Kind | None, answers: Answers | None) -> tuple[RawTable, ...]:
    name, suffix = path.name, path.suffix.lower()
    _check_nature(data, name, suffix)
    if suffix in _TEXT:
        return (read_text(data, name, kind=kind, answers=answers),)
    if suffix in _WORKBOOK:
        workbook = importlib.import_module(_WORKBOOK_READER).read_workbook
        sheets: tuple[RawTable, ...] = workbook(data, name, kind=kind, answers=answers)
        return sheets
    if suffix == ".json":
        document = read_document(data, name)
        if document is not None:
            return (document,)
    reader = importlib.import_module(_VECTOR_READER).read_vector
    tables: tuple[RawTable, ...] = reader(parts_of(path, data), name, kind=kind)
    return tables


def call_of(path: Path, work: partial[T]) -> Call[T]:
    """Return the call by which a file is read in a child process: it may read that file alone."""
    readable = (path, *companions(path))
    suffix = path.suffix.lower()
    modules = (_WORKBOOK_READER,) * (suffix in _WORKBOOK) + (_VECTOR_READER,) * (
        suffix in (*_VECTOR, ".json")
    )
    size = sum(each.stat().st_size for each in readable if each.is_file())
    return Call(work=work, file=path.name, readable=readable, size=size, modules=modules)


#: Read by libraries that take up to a second to start, so they are brought in when such a file comes.
_WORKBOOK_READER = "linemap.io.source.workbook"
_VECTOR_READER = "linemap.io.source.vector"


def _check_nature(data: bytes, name: str, suffix: str) -> None:
    if suffix not in SUFFIXES:
        refuse_pages(name, suffix)
        unpack = " (unpack it first)" if suffix in _PACKED else ""
        remedy = f"use one of {' '.join(SUFFIXES)}{unpack}"
        raise _refused(name, "files of this kind are not read", remedy, value=suffix)
    found, wanted = nature(data), _NATURES.get(suffix, "")
    if found != wanted:
        is_what = found or "text or something else"
        reason = f"the name says {suffix} but the file is {is_what}"
        raise _refused(name, reason, "give it the suffix of what it is, or export it again")


_PACKED = {".zip", ".gz", ".7z"}


def recognise(table: RawTable, listed: Callable[[str], object] | None = None) -> Kind:
    """Return the kind of a table by its headings.

    `listed` gives something for a text that is a structure number of the job: a column of such numbers speaks
    for structures, and the question says so.

    Raises
    ------
    InputRefused
        If it could be several kinds or none: the user then says it with ``--as KIND``.
    """
    if len(table.kinds) == 1:
        return table.kinds[0]
    heard = ", ".join(table.headers)
    doubt = f"may be {' or '.join(table.kinds)}" if table.kinds else "is no kind of list linemap knows"
    reason = f"by its headings the file {doubt}" if table.headers else f"without headings the file {doubt}"
    unknown = _unknown(table) if table.kinds else []
    if unknown:
        named = ", ".join(f'"{heading}"' for heading in unknown)
        reason += f"; {named} {'is' if len(unknown) == 1 else 'are'} not understood"
    holding = [] if listed is None else [each for each in table.headers if _names(table, each, listed)]
    numbers = next(iter(holding), "")
    if numbers:
        reason += f'; "{numbers}" holds structure numbers of the job'
    remedy = f"say it with --as KIND, one of {', '.join(table.kinds or KINDS)}"
    if unknown or not table.headers:
        remedy += f', and name its columns, like --column "number={numbers or unknown[0] if unknown else 1}"'
    asked = Problem(file=table.file, value=heard, reason=reason, remedy=remedy, may_be=table.kinds or KINDS)
    raise InputRefused(asked)


def _unknown(table: RawTable) -> list[str]:
    """Return the headings that none of the kinds a table may be understands."""
    known = {match.heading for kind in table.kinds for match in match_headings(table.headers, kind).values()}
    return [each.strip() for each in table.headers if each.strip() and each.strip() not in known]


def _names(table: RawTable, heading: str, listed: Callable[[str], object]) -> bool:
    """Say whether most cells of a column are structure numbers of the job."""
    cells = table.column(table.headers.index(heading))[:_FIRST]
    texts = [cell_text(cell) for cell in cells if not is_blank(cell)]
    return bool(texts) and _MOST * len(texts) <= sum(bool(listed(text)) for text in texts)


@contextmanager
def laid_out(name: str, content: bytes) -> Iterator[Path]:
    """Give a path at which kept bytes lie under the file's own name, in a folder that goes away after.

    Only the last part of the name is used, so it cannot point out of the folder.
    """
    with TemporaryDirectory(prefix="linemap-") as folder:
        path = Path(folder) / (Path(name).name or "file")
        path.write_bytes(content)
        yield path
