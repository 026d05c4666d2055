"""What a file is by its first bytes, and whether it is fit to be opened at all.

A file is checked before any library reads it: its size, its true nature against its suffix, what lies
beside it, XML that declares entities, archives. Workbooks have a module of their own (`workbook_size`).
"""

from __future__ import annotations

import hashlib
import io
import re
import stat
import zipfile
import zlib
from pathlib import Path

from linemap.errors import InputRefused

_refused = InputRefused.of_file

#: Largest file accepted, 256 MB.
MAX_BYTES = 256 * 1024 * 1024

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
        if not stat.S_ISREG(before.st_mode):
            raise _refused(name, "this is a device or a pipe, not a file", "write it to a file first")
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


def companions(path: Path) -> list[Path]:
    """Return the files beside a shapefile that belong to it; other files have none, whatever lies there."""
    if path.suffix.lower() != ".shp":
        return []
    beside = (path.with_suffix(suffix) for part in _PARTS for suffix in (part, part.upper()))
    return [each for each in beside if each.is_file()]


#: What belongs to a shapefile: attributes, index, coordinate reference, encoding.
_PARTS = (".dbf", ".shx", ".prj", ".cpg")


def parts_of(path: Path, data: bytes) -> dict[str, bytes]:
    """Return a vector file by its parts, suffix -> bytes; `data` are those of the file itself.

    Raises
    ------
    InputRefused
        If a part is too large or cannot be read, or a database beside the file holds its newest changes.
    """
    suffix, name = path.suffix.lower(), path.name
    for journal in (path.with_name(f"{name}-wal"), path.with_name(f"{name}-journal")):
        if suffix == ".gpkg" and journal.is_file() and journal.stat().st_size:
            reason = f"its newest changes are still in {journal.name}"
            raise _refused(name, reason, "close it in the program that has it open")
    if suffix == ".kmz":
        suffix, data = ".kml", unpack_kmz(data, name)
    if suffix == ".kml":
        check_xml(data, name)
    beside = companions(path)
    try:
        if sum(each.stat().st_size for each in beside) > MAX_BYTES:
            raise _refused(
                name, f"its parts have more than {MAX_BYTES:,} bytes", "leave out what is not needed"
            )
        return {**{each.suffix.lower(): each.read_bytes() for each in beside}, suffix: data}
    except OSError as error:
        raise _refused(
            name, f"its parts cannot be read: {error.strerror}", "check their permissions"
        ) from None


def unpack_kmz(data: bytes, name: str) -> bytes:
    """Return the one KML document of a KMZ archive; pictures and whatever else lies in it are not read.

    Raises
    ------
    InputRefused
        If the archive is damaged, holds no KML document or several, or the document is larger than
        `MAX_BYTES`.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            inside = [part for part in archive.infolist() if part.filename.lower().endswith(".kml")]
            if len(inside) != 1:
                held = ", ".join(part.filename for part in inside) or "none"
                reason = f"the archive holds {len(inside)} KML documents, not one"
                raise _refused(name, reason, "export the layer that is meant as KML", value=held)
            with archive.open(inside[0]) as document:
                unpacked = document.read(MAX_BYTES + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError, ValueError) as error:
        raise _refused(name, f"the archive is damaged: {error}", "export it again") from None
    if len(unpacked) > MAX_BYTES:
        raise _refused(name, f"it unpacks to more than {MAX_BYTES:,} bytes", "leave out what is not needed")
    return unpacked
