"""What linemap's own files say of themselves: which job they are of, and that some are no lists."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Sequence
from html import unescape

from linemap.errors import InputRefused
from linemap.io.cells.meaning import parse_headings
from linemap.io.cells.table import RawTable

_UUID = rb"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}"
_JOB = re.compile(rb"job (%b), life %b, linemap" % (_UUID, _UUID))
_TITLE = re.compile(r"<dc:title>([^<]*)</dc:title>")
#: What a workbook says of itself stands in this part, which is small.
_ABOUT, _LARGEST = "docProps/core.xml", 1 << 16
_NO_LIST = "load the lists it was made from"
#: End of the title of a workbook -> what it is.
_TITLED = {
    "as-set table and red marks": "red marks: what was surveyed beside the design",
    "staking": "a staking table: where stakes belong, not what was shot",
}
#: Headings of a table that is no list, squeezed -> what it is.
_HEADED = {
    frozenset({"backsight", "circletext", "distancetext", "checkcircletext"}): _TITLED["staking"],
}
#: Suffixes of files that are looked at or checked, not loaded.
_SHOWN = {
    ".html": "a page to look at",
    ".htm": "a page to look at",
    ".pdf": "sheets to print",
    ".jsonl": "the record of a job with its hashes",
}


def refuse_pages(name: str, suffix: str) -> None:
    """Refuse a snapshot, a sheet or an exported record as what it is; say nothing of other files.

    Raises
    ------
    InputRefused
        By the suffix alone.
    """
    if suffix in _SHOWN:
        remedy = "linemap log FILE verify checks it" if suffix == ".jsonl" else _NO_LIST
        reason = f"files of this kind are not read: {_SHOWN[suffix]}, no list"
        raise InputRefused.of_file(name, reason, remedy, value=suffix)


def job_of(data: bytes, name: str, tables: Sequence[RawTable]) -> str:
    """Return the identity of the job that a file says it was exported from; "" when it says none.

    Raises
    ------
    InputRefused
        If the file is an output of linemap whose rows are results of something else.
    """
    about, title = _about(data)
    for end, words in _TITLED.items():
        if title == end or title.endswith(f": {end}"):
            raise _no_list(name, words)
    for table in tables:
        words = next(
            (each for keys, each in _HEADED.items() if keys <= parse_headings(table.headers).keys()), ""
        )
        if words:
            raise _no_list(name, words)
    found = _JOB.search(about)
    return found[1].decode() if found else ""


def _about(data: bytes) -> tuple[bytes, str]:
    """Return where a file says what it is, and the title of a workbook."""
    if not data.startswith(b"PK"):
        return data, ""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if _ABOUT not in archive.namelist() or archive.getinfo(_ABOUT).file_size > _LARGEST:
                return b"", ""
            about = archive.read(_ABOUT)
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, OSError, ValueError, RuntimeError):
        return b"", ""
    title = _TITLE.search(about.decode("utf-8", errors="replace"))
    return about, unescape(title[1]) if title else ""


def _no_list(name: str, words: str) -> InputRefused:
    return InputRefused.of_file(name, f"the file is {words}; it is no list that can be loaded", _NO_LIST)
