"""What a file is by its first bytes, and whether it is fit to be opened at all.

A file is checked before any library reads it: its size, its true nature against its suffix, XML that
declares entities, and packed sheets that would unpack to more than they should (the usual ways to make a
small file fill a machine's memory).
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
import zlib
from pathlib import Path

from linemap.errors import InputRefused

_refused = InputRefused.of_file

#: Largest file accepted, 256 MB.
MAX_BYTES = 256 * 1024 * 1024
_MAX_UNPACKED = 1024 * 1024 * 1024
_MAX_RATIO = 200
_MAX_PARTS = 5_000
_MAX_CELLS = 10_000_000
_MAX_SHARED_BYTES = 1 << 32
_CHUNK = 1 << 20

_MAGIC = (
    (b"PK\x03\x04", "a ZIP archive"),
    (b"PK\x05\x06", "an empty ZIP archive"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"\xd0\xcf\x11\xe0", "an old binary office file"),
    (b"SQLite format 3\x00", "a SQLite database"),
    (b"PAR1", "a Parquet file"),
    (b"\x00\x00\x27\x0a", "a shapefile"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
)
_ENTITY = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.IGNORECASE)
_ENCODING = re.compile(rb"""<\?xml[^>]*?encoding\s*=\s*["']([^"']+)""", re.IGNORECASE)
_XML_ENCODINGS = {
    "utf-8",
    "utf-16",
    "utf-16le",
    "utf-16be",
    "us-ascii",
    "ascii",
    "iso-8859-1",
    "windows-1252",
}
_FAR_COLUMN = re.compile(rb'[ \t\r\n]r="([A-Z]{2,3})\d+"')
_ROW = re.compile(rb'<(?:\w+:)?row\b[^>]*?[ \t\r\n]r="(\d+)"')
_SHARED_CELL = re.compile(rb't="s"')


def read_bytes(path: Path, name: str) -> bytes:
    """Read a whole file.

    Raises
    ------
    InputRefused
        If it is missing, a folder, unreadable, empty, larger than `MAX_BYTES`, or changed while it is read.
    """
    try:
        if path.is_dir():
            raise _refused(name, "this is a folder, not a file", "name the file inside it")
        before = path.stat()
        size = before.st_size
        if size > MAX_BYTES:
            raise _refused(
                name,
                f"the file has {size:,} bytes; at most {MAX_BYTES:,} are read",
                "split it, or leave out what is not needed",
            )
        data = path.read_bytes()
        after = path.stat()
        if (len(data), after.st_size, after.st_mtime_ns) != (size, size, before.st_mtime_ns):
            raise _changed(name)
    except FileNotFoundError:
        raise _refused(name, "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        words = getattr(error, "strerror", None) or str(error)
        raise _refused(name, f"the file cannot be read: {words.lower()}", "check its permissions") from None
    if not data.strip(b"\x00\r\n\t \xef\xbb\xbf\xff\xfe"):
        raise _refused(name, "the file is empty", "export it again")
    return data


def check_unchanged(path: Path, name: str, sha256: str) -> None:
    """Refuse a file whose bytes are no longer those that were read: half of it may be of another state.

    Raises
    ------
    InputRefused
        If the file now has another fingerprint, or is gone.
    """
    try:
        with path.open("rb") as stream:
            now = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        now = ""
    if now != sha256:
        raise _changed(name)


def _changed(name: str) -> InputRefused:
    return _refused(
        name,
        "the file changed while it was read",
        "wait until the other program has written it, then try again",
    )


def fingerprint(data: bytes) -> str:
    """Return the lower-case hexadecimal SHA-256 of the bytes."""
    return hashlib.sha256(data).hexdigest()


def nature(data: bytes) -> str:
    """Name what a file is by its first bytes, in words; "" when it may be text.

    >>> nature(b"%PDF-1.7"), nature(b"Str,E,N")
    ('a PDF document', '')
    """
    return next((words for magic, words in _MAGIC if data.startswith(magic)), "")


def check_xml(data: bytes, name: str) -> None:
    """Refuse XML that declares a document type or entities, or is in an unusual encoding.

    Raises
    ------
    InputRefused
        In those cases; readers then never meet an entity.
    """
    flat = data.replace(b"\x00", b"")
    if _ENTITY.search(flat):
        raise _refused(
            name, "the XML declares a document type or entities, which linemap never reads", "export it again"
        )
    declared = _ENCODING.search(flat[:1000])
    encoding = declared[1].decode("latin-1").casefold() if declared else "utf-8"
    if encoding not in _XML_ENCODINGS:
        raise _refused(name, f"the XML is written in the encoding {encoding}", "save it as UTF-8")


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
        if part.filename.startswith("xl/worksheets/"):
            _check_extent(content, name)
            shared_cells += sum(1 for _ in _SHARED_CELL.finditer(content))
        elif part.filename.endswith("sharedStrings.xml"):
            longest = max(len(text) for text in content.split(b"</si>"))
    if shared_cells * longest > _MAX_SHARED_BYTES:
        raise _refused(name, f"its cells repeat a text of {longest:,} bytes {shared_cells:,} times", _RESAVE)


def _check_extent(sheet: bytes, name: str) -> None:
    """Refuse a cell far out: readers lay out every cell in between."""
    rows = max((int(row[-9:]) for row in _ROW.findall(sheet)), default=1)
    columns = max((_column(letters) for letters in set(_FAR_COLUMN.findall(sheet))), default=26)
    if rows * columns > _MAX_CELLS:
        raise _refused(
            name,
            f"a sheet reaches over {rows:,} rows and {columns:,} columns",
            "delete what stands far right or far below the list",
        )


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number
