import datetime as dt
import hashlib
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from linemap.errors import NotFound, Problem, Severity
from linemap.store import files, versions
from linemap.store.database import Database
from linemap.store.files import KeptAnswer

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


MORNING = dt.datetime(2026, 5, 15, 7, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
SAID: dict[str, Any] = {"kind": "shots", "fields": {"easting": "X", "northing": 3}, "date_order": "mdy"}


def save(
    database: Database, shape: str, content: dict[str, Any], who: str = "R. Calder", hour: int = 0
) -> bool:
    with database.writing() as connection:
        at = MORNING + dt.timedelta(hours=hour)
        return files.save_answer(connection, shape, content, who=who, at=at)


def standing(database: Database, shape: str) -> KeptAnswer | None:
    with database.reading() as connection:
        return files.standing_answer(connection, shape)


def test_an_answer_comes_back_with_who_and_when(database: Database) -> None:
    assert save(database, "aa", SAID)
    kept = standing(database, "aa")
    assert kept == KeptAnswer(shape="aa", content=SAID, who="R. Calder", at=MORNING)
    assert kept.at.isoformat() == "2026-05-15T07:30:00-06:00"
    assert standing(database, "bb") is None


def test_the_newest_stands_and_history_stays(database: Database) -> None:
    other = {**SAID, "date_order": "dmy"}
    save(database, "aa", SAID)
    save(database, "bb", SAID)
    save(database, "aa", other, who="A. Other", hour=1)
    kept = standing(database, "aa")
    assert kept is not None
    assert (kept.content, kept.who) == (other, "A. Other")
    with database.reading() as connection:
        assert [answer.shape for answer in files.list_answers(connection)] == ["aa", "bb", "aa"]
        assert [answer.who for answer in files.standing_answers(connection)] == ["R. Calder", "A. Other"]


def test_the_same_answer_again_changes_nothing(database: Database) -> None:
    save(database, "aa", SAID)
    with database.reading() as connection:
        before = versions.load_data_version(connection)
    assert not save(database, "aa", dict(SAID), hour=5)
    with database.reading() as connection:
        assert versions.load_data_version(connection) == before
        assert len(files.list_answers(connection)) == 1


@pytest.mark.parametrize("who", ["", "  "])
def test_an_answer_needs_a_name(database: Database, who: str) -> None:
    with pytest.raises(ValueError, match="name of who gave it"):
        save(database, "aa", SAID, who=who)


def test_an_answer_needs_a_time_zone(database: Database) -> None:
    with pytest.raises(ValueError, match="time zone"), database.writing() as connection:
        files.save_answer(connection, "aa", SAID, who="R. Calder", at=MORNING.replace(tzinfo=None))


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE answer SET who = 'forged'",
        "DELETE FROM answer",
        "INSERT INTO answer (seq, shape, content, who, at, at_offset_s) "
        "VALUES (1, 'aa', '{}', 'forged', '2026-01-01', 0)",
    ],
)
def test_the_database_refuses_to_change_an_answer(database: Database, statement: str) -> None:
    save(database, "aa", SAID)
    with pytest.raises(DBAPIError), database.writing() as connection:
        connection.exec_driver_sql(statement)
    kept = standing(database, "aa")
    assert kept is not None
    assert kept.who == "R. Calder"
