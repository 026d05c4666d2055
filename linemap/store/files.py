"""Files as they were loaded, byte for byte, with how they were understood and what was wrong in them."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, insert, select

from linemap.errors import NotFound, Problem, Severity
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["FileRecord", "add_file", "file_content", "file_problems", "find_files", "list_files"]

_COLUMNS = tuple(column for column in schema.file.c if column.name != "content")


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRecord:
    """One loaded file, without its content."""

    id: int
    name: str
    #: SHA-256 of the content, lower-case hexadecimal.
    sha256: str
    #: Bytes.
    size: int
    #: What it was read as: "structures", "shots", ...
    kind: str
    loaded_at: dt.datetime
    #: Who loaded it; "" = not known.
    loaded_by: str
    #: Column headings of the file by the meaning they were taken for.
    mapping: Mapping[str, Any]


def add_file(
    connection: Connection,
    *,
    name: str,
    content: bytes,
    sha256: str,
    kind: str,
    loaded_by: str,
    now: dt.datetime,
    mapping: Mapping[str, Any],
    problems: Sequence[Problem] = (),
) -> int:
    """Keep a file and what was wrong in it; return its identifier. The same file may be loaded again.

    Raises
    ------
    ValueError
        If `sha256` is not the digest of `content`: the bytes changed on their way here.
    """
    if hashlib.sha256(content).hexdigest() != sha256:
        raise ValueError(f"{name} does not have the digest {sha256}; read the file again")
    query = insert(schema.file).values(
        name=name,
        sha256=sha256,
        size=len(content),
        kind=kind,
        content=content,
        loaded_at=now,
        loaded_by=loaded_by,
        mapping=dict(mapping),
    )
    file_id: int = connection.execute(query.returning(schema.file.c.id)).scalar_one()
    _add_problems(connection, file_id, problems)
    bump(connection)
    return file_id


def list_files(connection: Connection) -> tuple[FileRecord, ...]:
    """Return all files in the order they were loaded."""
    return _records(connection, select(*_COLUMNS))


def find_files(connection: Connection, sha256: str) -> tuple[FileRecord, ...]:
    """Return the files with this content, so that loading one twice can be told."""
    return _records(connection, select(*_COLUMNS).where(schema.file.c.sha256 == sha256))


def file_content(connection: Connection, file_id: int) -> bytes:
    """Return the bytes of a file as they were loaded.

    Raises
    ------
    NotFound
        If there is no such file.
    """
    found = connection.execute(select(schema.file.c.content).where(schema.file.c.id == file_id)).first()
    if found is None:
        raise NotFound(f"the job has no file with the identifier {file_id}")
    return bytes(found.content)


def file_problems(connection: Connection, file_id: int) -> tuple[Problem, ...]:
    """Return what was wrong in a file, in the order it was found; empty for an unknown file too."""
    table = schema.problem
    rows = connection.execute(
        select(table, schema.file.c.name.label("file"))
        .join(schema.file, table.c.file_id == schema.file.c.id)
        .where(table.c.file_id == file_id)
        .order_by(table.c.seq)
    )
    return tuple(
        Problem(
            file=row.file,
            row=row.source_row,
            column=row.heading,
            value=row.value,
            reason=row.reason,
            remedy=row.remedy,
            severity=Severity(row.severity),
        )
        for row in rows
    )


def _records(connection: Connection, query: Select[Any]) -> tuple[FileRecord, ...]:
    rows = connection.execute(query.order_by(schema.file.c.id))
    return tuple(FileRecord(**row._mapping) for row in rows)


def _add_problems(connection: Connection, file_id: int, problems: Sequence[Problem]) -> None:
    rows = [
        {
            "file_id": file_id,
            "seq": seq,
            "source_row": problem.row,
            "heading": problem.column,
            "value": problem.value,
            "reason": problem.reason,
            "remedy": problem.remedy,
            "severity": problem.severity.value,
        }
        for seq, problem in enumerate(problems)
    ]
    if rows:
        connection.execute(insert(schema.problem), rows)
