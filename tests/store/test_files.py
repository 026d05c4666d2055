"""Files: byte for byte, with their problems."""

from __future__ import annotations

import datetime as dt
import hashlib

import pytest
from sqlalchemy import text

from linemap.errors import NotFound, Problem, Severity
from linemap.store import files
from linemap.store.database import Database

CONTENT = bytes(range(256)) * 300 + "Größe, \u2014\r\n".encode()
PROBLEMS = (
    Problem(
        file="list.csv", row=7, column="Northing", value="nan", reason="not a number", remedy="correct it"
    ),
    Problem(file="list.csv", reason="no header", severity=Severity.NOTED),
    Problem(file="list.csv", row=9, reason="a total", severity=Severity.LEFT_OUT),
)


def add(database: Database, now: dt.datetime, content: bytes = CONTENT) -> int:
    with database.writing() as connection:
        return files.add_file(
            connection,
            name="list.csv",
            content=content,
            sha256=hashlib.sha256(content).hexdigest(),
            kind="structures",
            loaded_by="Ada",
            now=now,
            mapping={"Northing (ft)": "northing", "Höhe": None},
            problems=PROBLEMS,
        )


@pytest.mark.parametrize("content", [CONTENT, b""], ids=["all bytes", "empty"])
def test_a_file_comes_back_byte_for_byte(database: Database, now: dt.datetime, content: bytes) -> None:
    made = add(database, now, content)
    with database.reading() as connection:
        assert files.file_content(connection, made) == content
        (record,) = files.list_files(connection)
    assert record == files.FileRecord(
        id=made,
        name="list.csv",
        sha256=hashlib.sha256(content).hexdigest(),
        size=len(content),
        kind="structures",
        loaded_at=now,
        loaded_by="Ada",
        mapping={"Northing (ft)": "northing", "Höhe": None},
    )


def test_problems_come_back_in_their_order(database: Database, now: dt.datetime) -> None:
    made = add(database, now)
    with database.reading() as connection:
        assert files.file_problems(connection, made) == PROBLEMS
        assert files.file_problems(connection, made + 1) == ()


def test_the_same_file_is_found_by_its_content(database: Database, now: dt.datetime) -> None:
    first, other, again = add(database, now), add(database, now, b"other"), add(database, now)
    with database.reading() as connection:
        digest = hashlib.sha256(CONTENT).hexdigest()
        assert [record.id for record in files.find_files(connection, digest)] == [first, again]
        assert [record.id for record in files.list_files(connection)] == [first, other, again]
        assert files.find_files(connection, "0" * 64) == ()


def test_an_unknown_file_is_told(database: Database) -> None:
    with pytest.raises(NotFound, match="no file"), database.reading() as connection:
        files.file_content(connection, 3)


def test_bytes_that_do_not_have_their_digest_are_refused(database: Database, now: dt.datetime) -> None:
    with pytest.raises(ValueError, match="read the file again"), database.writing() as connection:
        files.add_file(
            connection,
            name="list.csv",
            content=b"changed",
            sha256=hashlib.sha256(b"sent").hexdigest(),
            kind="structures",
            loaded_by="",
            now=now,
            mapping={},
        )
    with database.reading() as connection:
        assert connection.scalar(text("SELECT count(*) FROM file")) == 0
