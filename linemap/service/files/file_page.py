"""The page of files: what was loaded, how it was understood, and what a person says of columns instead."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import NamedTuple, cast

from sqlalchemy import Connection

from linemap.answers.lists import FileColumn, FileList, LoadedFile, StandingAnswer
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, NotFound
from linemap.io.cells.shape import Answers, shape_key
from linemap.io.cells.table import RawTable, ReadFrom
from linemap.io.source.read import call_of, laid_out, read_source
from linemap.io.source.sandbox import call_all
from linemap.service.files.load_report import file_as_read, problem_answer
from linemap.service.files.reading import FileRead
from linemap.service.files.states import states_of_lists
from linemap.service.view.view import JobView
from linemap.store.changes import proposal_files
from linemap.store.database import Database
from linemap.store.files import (
    FileRecord,
    KeptAnswer,
    file_content,
    file_problems,
    list_files,
    rows_by_file,
    save_answer,
    standing_answer,
    standing_files,
)

#: A file larger than this is not read again to tell how it is read; its mapping and problems are kept.
_READ_AGAIN_BELOW = 4 * 1024 * 1024
#: Rows that tell the shape of a file without headings.
_ROWS = 1000


def files_answer(database: Database, view: JobView) -> FileList:
    """Return every file ever loaded, the latest first; mapping and problems are those of that day."""
    with database.reading() as connection:
        counts, standing = rows_by_file(connection), standing_files(connection)
        records = list(reversed(list_files(connection)))
        again = _read_again(connection, records)
        files = [_file(connection, record, again.get(record.id), counts, standing) for record in records]
        lists = states_of_lists(view, connection)
    return FileList(name=view.name, data_version=view.data_version, files=files, lists=lists)


def find_file(database: Database, file_id: int) -> FileRecord:
    """Return the record of one file, or say that there is none (`NotFound`)."""
    with database.reading() as connection:
        return _record(connection, file_id)


def original(database: Database, file_id: int) -> bytes:
    """Return a file byte for byte as it was loaded, or say that there is none (`NotFound`)."""
    with database.reading() as connection:
        return file_content(connection, file_id)


def answer_file(
    database: Database, file_id: int, *, kind: Kind, fields: Mapping[str, str | int], by: str, at: dt.datetime
) -> bool:
    """Keep what a person says about the columns of files of this file's shape; False when it stands already.

    The next file of the shape is read by it. Nothing that was loaded is read again. `fields` are field ->
    heading as it stands in the file, or number of the column counted from 1. Nobody named, an unknown field
    or a column the file has not is refused.
    """
    with database.reading() as connection:
        record, content = _record(connection, file_id), file_content(connection, file_id)
    return _keep_answer(database, record.name, content, Answers(kind=kind, fields=dict(fields)), by=by, at=at)


def answer_columns(
    database: Database,
    proposal_id: str,
    name: str,
    *,
    kind: Kind,
    fields: Mapping[str, str | int],
    by: str,
    at: dt.datetime,
) -> None:
    """Keep what is said of columns of a file that waits for review, as `answer_file` does.

    Its own headings need not be understood. What was said before of other columns of files of its shape
    stands with it.
    """
    with database.reading() as connection:
        content = dict(proposal_files(connection, proposal_id)).get(name)
    if content is None:
        raise NotFound(f"{name} is not among the files that were brought")
    with database.reading() as connection:
        before = [standing_answer(connection, shape) for shape in _shapes(name, content, kind)]
    kept = {
        field: column
        for answer in before
        if answer is not None and answer.content.get("kind") == kind
        for field, column in answer.content.get("fields", {}).items()
    }
    _keep_answer(database, name, content, Answers(kind=kind, fields={**kept, **fields}), by=by, at=at)


def _keep_answer(
    database: Database, name: str, content: bytes, answers: Answers, *, by: str, at: dt.datetime
) -> bool:
    """Keep what is said of files of the shapes that a file has as its headings tell, and as is said."""
    if not by.strip():
        raise InputRefused.at("by", by, "names nobody", "say who confirms the columns")
    answers.check()
    (table,) = _tables([_FileAsked(name, content, answers.kind, answers)])
    if isinstance(table, InputRefused):
        raise table
    shapes = dict.fromkeys([*_shapes(name, content, answers.kind), shape_key(table)])
    with database.writing() as connection:
        saved = [save_answer(connection, shape, answers.as_dict(), who=by.strip(), at=at) for shape in shapes]
    return any(saved)


def _shapes(name: str, content: bytes, kind: Kind) -> list[str]:
    """Return the shape of a file as its own headings tell; [] = they are not understood."""
    (plain,) = _tables([_FileAsked(name, content, kind)])
    return [] if isinstance(plain, InputRefused) else [shape_key(plain)]


def _record(connection: Connection, file_id: int) -> FileRecord:
    found = next((record for record in list_files(connection) if record.id == file_id), None)
    if found is None:
        raise NotFound(f"the job has no file with the identifier {file_id}")
    return found


class _FileAsked(NamedTuple):
    """A kept file that is read again, as the kind it is, or as somebody says."""

    name: str
    content: bytes
    kind: Kind
    answers: Answers | None = None


def _tables(files: Sequence[_FileAsked]) -> list[RawTable | InputRefused]:
    """Return the first rows of kept files, as they are read in child processes."""
    with ExitStack() as stack:
        paths = [stack.enter_context(laid_out(file.name, file.content)) for file in files]
        return call_all(
            [
                call_of(path, partial(_first_rows, path, file.kind, file.answers))
                for path, file in zip(paths, files, strict=True)
            ]
        )


def _first_rows(path: Path, kind: Kind, answers: Answers | None) -> RawTable:
    """Return the table of a file with as many rows as tell its shape."""
    source = read_source(path, answers=answers) if answers else read_source(path, kind=kind)
    table = source.table(kind)
    geometry = None if table.geometry is None else table.geometry[:0]
    return replace(
        table, rows=table.rows[:_ROWS], row_numbers=tuple(table.row_numbers[:_ROWS]), geometry=geometry
    )


def _file(
    connection: Connection,
    record: FileRecord,
    read: FileRead | None,
    counts: Mapping[int, int],
    in_force: Collection[int],
) -> LoadedFile:
    standing = standing_answer(connection, shape_key(read.table)) if read is not None and read.table else None
    headings = list(read.table.headers) if read is not None and read.table else []
    return LoadedFile(
        id=record.id,
        name=record.name,
        kind=record.kind,
        size=record.size,
        sha256=record.sha256,
        loaded_at=record.loaded_at.isoformat(timespec="seconds"),
        loaded_by=record.loaded_by,
        read_as=file_as_read(read).understood if read is not None else "",
        headings=headings,
        mapping=[
            FileColumn(field=field, heading=str(read), named=read.heading if read.heading in headings else "")
            for field, read in ((field, ReadFrom(**kept)) for field, kept in record.mapping.items())
        ],
        rows_kept=counts.get(record.id, 0),
        problems=[
            problem_answer(record.kind, problem, standing=record.id in in_force)
            for problem in file_problems(connection, record.id)
        ],
        answer=None if standing is None else _answer(standing),
    )


def _read_again(connection: Connection, records: Sequence[FileRecord]) -> dict[int, FileRead]:
    """Read kept bytes as the kind they were loaded as, by file; not those that are many or no longer read."""
    asked = [(each, cast(Kind, each.kind)) for each in records if each.size <= _READ_AGAIN_BELOW]
    tables = _tables([_FileAsked(each.name, file_content(connection, each.id), kind) for each, kind in asked])
    return {
        each.id: FileRead(name=each.name, kind=kind, table=table)
        for (each, kind), table in zip(asked, tables, strict=True)
        if isinstance(table, RawTable)
    }


def _answer(kept: KeptAnswer) -> StandingAnswer:
    return StandingAnswer(
        by=kept.who,
        at=kept.at.isoformat(timespec="seconds"),
        kind=str(kept.content.get("kind", "")),
        fields={str(field): str(column) for field, column in kept.content.get("fields", {}).items()},
    )
