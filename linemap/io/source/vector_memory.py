"""What GDAL is given to read: the parts of one file, in memory, and the drivers of its suffix alone.

GDAL knows 180 formats and finds out by the content which one a file is; some of them are instructions to read
other files, databases or addresses. So all other drivers are taken away while a file is read, and it lies in
GDAL's memory, where nothing else lies beside it (no auxiliary file, no journal).
"""

from __future__ import annotations

import ctypes
import re
import sqlite3
import threading
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from functools import cache
from typing import Any, Final

import pyogrio
import pyogrio._io

from linemap.errors import InputRefused

_refused = InputRefused.of_file

_DRIVERS: Final[Mapping[str, frozenset[bytes]]] = {
    ".geojson": frozenset({b"GeoJSON"}),
    ".json": frozenset({b"GeoJSON"}),
    ".gpkg": frozenset({b"GPKG"}),
    ".shp": frozenset({b"ESRI Shapefile"}),
    ".kml": frozenset({b"LIBKML", b"KML"}),
}
#: Drivers are the library's, not a thread's.
_ONE_AT_A_TIME: Final = threading.Lock()
_FOLDER: Final = "/vsimem/linemap"


@contextmanager
def in_memory(parts: Mapping[str, bytes], suffix: str) -> Iterator[str]:
    """Lay the parts of a file, by suffix, into GDAL's memory and let it know only the drivers of `suffix`.

    Yields
    ------
    str
        What pyogrio reads. It must not be asked for anything else meanwhile.
    """
    gdal = _library()
    pyogrio.set_gdal_config_options({"GDAL_PAM_ENABLED": "NO"})
    with _ONE_AT_A_TIME:
        drivers = [gdal.GDALGetDriver(at) for at in range(gdal.GDALGetDriverCount())]
        others = [each for each in drivers if gdal.GDALGetDriverShortName(each) not in _DRIVERS[suffix]]
        try:
            for each in others:
                gdal.GDALDeregisterDriver(each)
            for part, data in parts.items():
                held = gdal.VSIFileFromMemBuffer(f"{_FOLDER}/list{part}".encode(), data, len(data), 0)
                gdal.VSIFCloseL(held)
            yield f"{_FOLDER}/list{suffix}"
        finally:
            gdal.VSIRmdirRecursive(_FOLDER.encode())
            for each in others:
                gdal.GDALRegisterDriver(each)


@cache
def _library() -> Any:
    """Return the GDAL that pyogrio is linked with: the very one, whose drivers it asks."""
    gdal = ctypes.CDLL(pyogrio._io.__file__)
    handle = ctypes.c_void_p
    gdal.GDALGetDriver.restype = gdal.VSIFileFromMemBuffer.restype = handle
    gdal.GDALGetDriverShortName.restype = ctypes.c_char_p
    for name in ("GDALGetDriverShortName", "GDALDeregisterDriver", "GDALRegisterDriver", "VSIFCloseL"):
        getattr(gdal, name).argtypes = [handle]
    gdal.VSIFileFromMemBuffer.argtypes = [ctypes.c_char_p, ctypes.c_char_p, ctypes.c_uint64, ctypes.c_int]
    return gdal


#: Where a SQLite file says that newer pages may lie in a journal beside it, and what says that none do.
_JOURNAL_AT: Final = slice(18, 20)
_NO_JOURNAL: Final = b"\x01\x01"
_COMMENT: Final = re.compile(r"/\*.*?\*/|--[^\n]*", re.DOTALL)
_COMPUTED: Final = re.compile(r"\bas\s*\(", re.IGNORECASE)
_SPATIAL_INDEX: Final = re.compile(
    r"create\s+virtual\s+table\s+(\"[^\"]+\"|\w+)\s+using\s+rtree\b", re.IGNORECASE
)


def geopackage(data: bytes, name: str) -> bytes:
    """Return a GeoPackage as it may be read: it holds tables and spatial indexes, and nothing that runs.

    Triggers may be there: they run when something is written, and nothing is.

    Raises
    ------
    InputRefused
        If it is damaged, or holds a view, a virtual table or a computed column: reading does what they say.
    """
    data = data[: _JOURNAL_AT.start] + _NO_JOURNAL + data[_JOURNAL_AT.stop :]
    try:
        with closing(sqlite3.connect(":memory:")) as opened:
            opened.deserialize(data)
            rows = opened.execute("SELECT type, name, rootpage, sql FROM sqlite_master").fetchall()
    except (sqlite3.Error, OverflowError, UnicodeDecodeError) as error:
        raise _refused(name, f"the GeoPackage is damaged: {error}", "export it again") from None
    for what, title, page, sql in rows:
        text = _COMMENT.sub(" ", str(sql))
        found = (
            "a view"
            if what == "view"
            else "a virtual table"
            if what == "table" and not page and not _SPATIAL_INDEX.match(text)
            else "a computed column"
            if what == "table" and _COMPUTED.search(text)
            else ""
        )
        if found:
            reason = f"it holds {found}, which linemap never asks"
            remedy = "export the layer that is meant as a GeoPackage of its own"
            raise _refused(name, reason, remedy, value=str(title))
    return data
