"""Files as loaded, byte for byte: how they were understood, their rows, what people said of their columns."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, func, insert, select

from linemap.domain.kind.kind import Keeps
from linemap.domain.kind.when import Answering
from linemap.errors import NotFound, Problem, Severity
from linemap.kinds.registry import DECLARED
from linemap.store import schema
from linemap.store.columns import record_of, with_clock
from linemap.store.database import bump
from linemap.store.states import list_states

_COLUMNS = tuple(column for column in schema.file.c if column.name != "content")
#: Field of a problem -> column that keeps it.
_PROBLEM = {"row": "source_row", "column": "heading"} | {
    name: name for name in ("value", "reason", "remedy", "severity", "line", "structure")
}


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
    #: Field -> "heading" of the file and "unit" in words that it was read from.
    mapping: Mapping[str, Mapping[str, str]]
    #: True when its load was undone: its rows count no more.
    aside: bool = False


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
        **with_clock("loaded_at", now),
        loaded_by=loaded_by,
        mapping=dict(mapping),
        aside=False,
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
    return tuple(problem for _, problem in _problems(connection, schema.problem.c.file_id == file_id))


def standing_files(connection: Connection, then: Answering | None = None) -> frozenset[int]:
    """Return the files of which what was wrong still matters, now or at another time, by identifier.

    Of lists with states, the files of those in force, and of those whose records they carried over; of others
    every file. A list that is not replaced forgets a file when one of its name comes.
    """
    states = {each.id: each for each in list_states(connection)}
    walk = [
        each.id for each in states.values() if (each.is_current if then is None else each.id in then.in_force)
    ]
    standing = set[int | None]()
    for state in walk:
        standing.add(states[state].file_id)
        walk += filter(None, [states[state].carried_from])
    keeps: dict[str, Keeps] = {code: kind.keeps for code, kind in DECLARED.items()}
    loaded = [each for each in list_files(connection) if each.kind in keeps]
    aside = {each.id for each in loaded if each.aside} if then is None else then.aside | then.later
    standing |= {each.id for each in loaded if keeps[each.kind] is Keeps.GROWS} - aside
    named = {(each.kind, each.name): each.id for each in loaded if each.id in standing}
    return frozenset(
        each.id
        for each in loaded
        if each.id in standing and (keeps[each.kind] is Keeps.STATE or named[each.kind, each.name] == each.id)
    )


def standing_problems(
    connection: Connection, then: Answering | None = None
) -> tuple[tuple[str, Problem], ...]:
    """Return what is wrong in the standing files, each with the kind of its file, in the order of loading."""
    return tuple(
        _problems(connection, schema.problem.c.file_id.in_(sorted(standing_files(connection, then))))
    )


def _problems(connection: Connection, which: ColumnElement[bool]) -> Iterator[tuple[str, Problem]]:
    table, file = schema.problem, schema.file
    query = select(table, file.c.name, file.c.kind).join(file, table.c.file_id == file.c.id).where(which)
    for row in connection.execute(query.order_by(table.c.file_id, table.c.seq)):
        kept = {name: row._mapping[column] for name, column in _PROBLEM.items()}
        yield row.kind, Problem(**{**kept, "severity": Severity(row.severity)}, file=row.name)


def _records(connection: Connection, query: Select[Any]) -> tuple[FileRecord, ...]:
    rows = connection.execute(query.order_by(schema.file.c.id))
    return tuple(record_of(FileRecord, row, "loaded_at") for row in rows)


def _add_problems(connection: Connection, file_id: int, problems: Sequence[Problem]) -> None:
    rows = [
        {"file_id": file_id, "seq": seq}
        | {column: getattr(problem, name) for name, column in _PROBLEM.items()}
        | {"severity": problem.severity.value}
        for seq, problem in enumerate(problems)
    ]
    if rows:
        connection.execute(insert(schema.problem), rows)


#: Tables that name a file or a state of a list without holding rows of a file.
_ABOUT = frozenset({"revision", "problem", "structure_change"})


def rows_by_state(connection: Connection) -> Counter[int]:
    """Return state of a list -> how many rows it has; those without any are left out."""
    return _rows_by(connection, "revision_id")


def rows_by_file(connection: Connection) -> Counter[int]:
    """Return file identifier -> rows in the job that came from the file; files without any are left out.

    Rows of older states count: they are kept. A record that came in twice counts for the first file.
    """
    counts, of_states = _rows_by(connection, "file_id"), rows_by_state(connection)
    for state in list_states(connection):
        if state.file_id is not None and state.id in of_states:
            counts[state.file_id] += of_states[state.id]
    return counts


def _rows_by(connection: Connection, name: str) -> Counter[int]:
    """Return how many rows name each file, or each state, in the tables that hold rows."""
    counts: Counter[int] = Counter()
    for table in schema.metadata.sorted_tables:
        if name in table.c and table.name not in _ABOUT:
            column = table.c[name]
            query = select(column, func.count()).where(column.is_not(None)).group_by(column)
            counts.update({row[0]: row[1] for row in connection.execute(query)})
    return counts


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptAnswer:
    """What one person said about files of one shape."""

    #: Fingerprint of the headings and the delimiter.
    shape: str
    #: What was said, as plain texts and tables.
    content: Mapping[str, Any]
    who: str
    #: With the time zone it was given in.
    at: dt.datetime


def save_answer(
    connection: Connection, shape: str, content: Mapping[str, Any], *, who: str, at: dt.datetime
) -> bool:
    """Add an answer, which then stands for its shape; False when the same one stands already.

    Raises
    ------
    ValueError
        If nobody is named, or the moment has no time zone.
    """
    if not who.strip() or at.utcoffset() is None:
        raise ValueError("an answer needs the name of who gave it and a moment with a time zone")
    before = standing_answer(connection, shape)
    if before is not None and before.who == who and dict(before.content) == dict(content):
        return False
    values = {"shape": shape, "content": dict(content), "who": who, **with_clock("at", at)}
    connection.execute(insert(schema.answer), [values])
    bump(connection)
    return True


def standing_answer(connection: Connection, shape: str) -> KeptAnswer | None:
    """Return the newest answer about files of a shape; None when nobody said anything."""
    table = schema.answer
    query = select(table).where(table.c.shape == shape).order_by(table.c.seq.desc()).limit(1)
    row = connection.execute(query).one_or_none()
    return None if row is None else record_of(KeptAnswer, row)


def standing_answers(connection: Connection) -> tuple[KeptAnswer, ...]:
    """Return the newest answer of every shape, the newest of all first."""
    newest = {answer.shape: answer for answer in list_answers(connection)}
    return tuple(reversed(newest.values()))


def list_answers(connection: Connection) -> tuple[KeptAnswer, ...]:
    """Return all answers in the order they were given, those that no longer stand included."""
    query = select(schema.answer).order_by(schema.answer.c.seq)
    return tuple(record_of(KeptAnswer, row) for row in connection.execute(query))
