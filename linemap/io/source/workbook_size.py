"""How far a packed workbook would unfold: told from its parts before any library lays out its cells.

A cell far out makes readers lay out every cell in between, and references may be quoted either way, be left
out, or disagree with their row; so each way is counted, and the larger answer taken.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from typing import Final

from linemap.errors import InputRefused
from linemap.io.source.container import check_xml

_refused = InputRefused.of_file

_MAX_UNPACKED: Final = 1024 * 1024 * 1024
_MAX_RATIO: Final = 200
_MAX_PARTS: Final = 5_000
_MAX_CELLS: Final = 10_000_000
_MAX_SHARED_BYTES: Final = 1 << 32
_CHUNK: Final = 1 << 20
_HEAD: Final = 1000

_FAR_COLUMN: Final = re.compile(rb"""\sr\s*=\s*["']([A-Za-z]{2,})\d""")
_FAR_ROW: Final = re.compile(rb"""\sr\s*=\s*["'][A-Za-z]*(\d{5,9})""")
_ANY_COLUMN: Final = re.compile(rb"""\sr\s*=\s*["']([A-Za-z]+)\d""")
_ANY_ROW: Final = re.compile(rb"""\sr\s*=\s*["'][A-Za-z]*(\d{1,9})""")
#: A row or cell that is not written as spreadsheets write it, its reference first.
_UNUSUAL: Final = re.compile(rb"""<(?:\w+:)?(?:c|row)(?=[\s>/])(?! r=["'][A-Za-z]{0,3}\d+["'])""")
_DISGUISED: Final = re.compile(rb"""\sr\s*=\s*["'](?:[^"'<]*&|[A-Za-z]*0+["'])""")
_ROW: Final = re.compile(rb"<(?:\w+:)?row(?=[\s>/])")
_ROW_WITH: Final = re.compile(rb"<(?:\w+:)?row\s(?:[^>]*?\s)?r\s*=")
_CELL: Final = re.compile(rb"<(?:\w+:)?c(?=[\s>/])")
_CELL_WITH: Final = re.compile(rb"<(?:\w+:)?c\s(?:[^>]*?\s)?r\s*=")
_SHARED_CELL: Final = re.compile(rb"""\st\s*=\s*["']s["']""")
#: How many texts a table of texts says it holds: readers make room for them at once.
_CLAIMED: Final = re.compile(rb"""\s(?:uniqueCount|count)\s*=\s*["']\s*(\d+)""")


def check_workbook(data: bytes, name: str) -> None:
    """Refuse a packed workbook that is damaged, locked, or far larger unpacked than a list can be.

    Raises
    ------
    InputRefused
        With the reason and the size found.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check_sizes(archive, name)
            _check_parts(archive, name)
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError, ValueError) as error:
        raise _refused(name, f"the workbook is damaged: {error}", "save it again as .xlsx") from None


def _check_sizes(archive: zipfile.ZipFile, name: str) -> None:
    parts = archive.infolist()
    unpacked = sum(part.file_size for part in parts)
    packed = max(1, sum(part.compress_size for part in parts))
    if len(parts) > _MAX_PARTS or unpacked > _MAX_UNPACKED:
        raise _refused(name, f"the workbook unpacks to {unpacked:,} bytes in {len(parts):,} parts", _RESAVE)
    # Sheets of equal cells pack well, so the ratio only speaks above 50 MB.
    if unpacked > 50 * _CHUNK and unpacked > _MAX_RATIO * packed:
        raise _refused(name, f"the workbook unpacks to {unpacked // packed:,} times its size", _RESAVE)


_RESAVE = "save the one sheet that is needed as a new workbook"


def _check_parts(archive: zipfile.ZipFile, name: str) -> None:
    shared_cells = longest = 0
    for part in archive.infolist():
        if not part.filename.endswith((".xml", ".rels", ".vml")):
            continue
        content = archive.read(part)
        check_xml(content, name)
        if b"\x00" in content[:_HEAD]:
            raise _refused(name, f"{part.filename} is written in two bytes a letter", _RESAVE)
        if part.filename.startswith("xl/worksheets/"):
            _check_extent(content, name)
            shared_cells += len(_SHARED_CELL.findall(content))
        elif part.filename.endswith("sharedStrings.xml"):
            texts = content.split(b"</si>")
            longest = max(map(len, texts))
            claimed = max(map(int, _CLAIMED.findall(content[:_HEAD])), default=0)
            if claimed > _MAX_CELLS and claimed > len(texts):
                raise _refused(
                    name, f"its table of {len(texts) - 1:,} texts says it holds {claimed:,}", _RESAVE
                )
    if shared_cells * longest > _MAX_SHARED_BYTES:
        raise _refused(name, f"its cells repeat a text of {longest:,} bytes {shared_cells:,} times", _RESAVE)


def _check_extent(sheet: bytes, name: str) -> None:
    if _DISGUISED.search(sheet):
        raise _refused(name, "a sheet hides the references of its cells", _RESAVE)
    usual = not _UNUSUAL.search(sheet)
    rows = max(map(int, set((_FAR_ROW if usual else _ANY_ROW).findall(sheet))), default=10_000 * usual)
    columns = max(
        map(column_number, set((_FAR_COLUMN if usual else _ANY_COLUMN).findall(sheet))), default=26 * usual
    )
    if not usual:  # what has no reference is the next one
        rows += max(0, len(_ROW.findall(sheet)) - len(_ROW_WITH.findall(sheet)))
        columns += max(len(_CELL.findall(row)) - len(_CELL_WITH.findall(row)) for row in _ROW.split(sheet))
    if rows * columns > _MAX_CELLS:
        raise _refused(
            name,
            f"a sheet reaches over {rows:,} rows and {columns:,} columns",
            "delete what stands far right or far below the list",
        )


def column_number(letters: bytes) -> int:
    """Return the number of a column, from 1, by its letters: A, B, ..., Z, AA."""
    number = 0
    for letter in letters[:8].upper():
        number = number * 26 + letter - 64
    return number
