"""Read any file linemap accepts into tables, and say what kind each table is."""

from __future__ import annotations

import importlib
from pathlib import Path

from linemap.errors import InputRefused, Problem
from linemap.io.cells.shape import Answers, with_answers
from linemap.io.cells.table import KINDS, Kind, RawTable, Source
from linemap.io.source.container import check_unchanged, check_xml, fingerprint, nature, read_bytes
from linemap.io.source.document import read_document
from linemap.io.source.signs import check_signs
from linemap.io.source.text import read_text

__all__ = ["SUFFIXES", "read_source", "recognise"]

_TEXT = (".csv", ".txt", ".tsv", ".asc", ".pnt", ".pts")
_WORKBOOK = (".xlsx", ".xlsm")
_VECTOR = (".geojson", ".gpkg", ".shp", ".kml")
#: Suffixes of the files that can be read.
SUFFIXES: tuple[str, ...] = (*_TEXT, *_WORKBOOK, *_VECTOR, ".json")

_NATURES = {
    ".xlsx": "a ZIP archive",
    ".xlsm": "a ZIP archive",
    ".gpkg": "a SQLite database",
    ".shp": "a shapefile",
}


def read_source(path: Path, *, kind: Kind | None = None, answers: Answers | None = None) -> Source:
    """Read a file into tables without giving its values a meaning yet.

    Parameters
    ----------
    path : Path
        CSV or other delimited text, XLSX, GeoJSON, GeoPackage, shapefile, KML, or JSON.
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
    return Source(name=name, data=data, sha256=sha256, tables=tables)


def _tables(path: Path, data: bytes, kind: Kind | None, answers: Answers | None) -> tuple[RawTable, ...]:
    name, suffix = path.name, path.suffix.lower()
    _check_nature(data, name, suffix)
    if suffix in _TEXT:
        return (read_text(data, name, kind=kind, answers=answers),)
    if suffix in _WORKBOOK:
        return _sheet_tables(data, name, kind, answers)
    if suffix == ".json":
        document = read_document(data, name)
        if document is not None:
            return (document,)
    if suffix == ".kml":
        check_xml(data, name)
    return _vector_tables(path, name, kind)


def _sheet_tables(data: bytes, name: str, kind: Kind | None, answers: Answers | None) -> tuple[RawTable, ...]:
    """Read a workbook; its libraries are loaded when one comes."""
    reader = importlib.import_module("linemap.io.source.workbook").read_workbook
    tables: tuple[RawTable, ...] = reader(data, name, kind=kind, answers=answers)
    return tables


def _vector_tables(path: Path, name: str, kind: Kind | None) -> tuple[RawTable, ...]:
    """Read a vector file; its libraries take a second to start, so they are loaded when one comes."""
    reader = importlib.import_module("linemap.io.source.vector").read_vector
    tables: tuple[RawTable, ...] = reader(path, name, kind=kind)
    return tables


def _check_nature(data: bytes, name: str, suffix: str) -> None:
    if suffix not in SUFFIXES:
        unpack = " (unpack it first)" if suffix in _PACKED else ""
        raise InputRefused(
            Problem(
                file=name,
                value=suffix,
                reason="files of this kind are not read",
                remedy=f"use one of {' '.join(SUFFIXES)}{unpack}",
            )
        )
    found, wanted = nature(data), _NATURES.get(suffix, "")
    if found != wanted:
        is_what = found or "text or something else"
        raise InputRefused(
            Problem(
                file=name,
                reason=f"the name says {suffix} but the file is {is_what}",
                remedy="give it the suffix of what it is, or export it again",
            )
        )


_PACKED = {".zip", ".kmz", ".gz", ".7z"}


def recognise(table: RawTable) -> Kind:
    """Return the kind of a table by its headings.

    Raises
    ------
    InputRefused
        If it could be several kinds or none: the user then says it with ``--as KIND``.
    """
    if len(table.kinds) == 1:
        return table.kinds[0]
    heard = ", ".join(table.headers)
    doubt = f"may be {' or '.join(table.kinds)}" if table.kinds else "is no kind of list linemap knows"
    raise InputRefused(
        Problem(
            file=table.file,
            value=heard,
            reason=f"by its headings the file {doubt}",
            remedy=f"say it with --as KIND, one of {', '.join(KINDS)}",
        )
    )
