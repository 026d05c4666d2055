"""What people said about columns: the newest stands, history stays, nothing is changed."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from sqlalchemy.exc import DBAPIError

from linemap.store import answers, versions
from linemap.store.answers import KeptAnswer
from linemap.store.database import Database

MORNING = dt.datetime(2026, 5, 15, 7, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
SAID: dict[str, Any] = {"kind": "shots", "fields": {"easting": "X", "northing": 3}, "date_order": "mdy"}


def save(
    database: Database, shape: str, content: dict[str, Any], who: str = "R. Calder", hour: int = 0
) -> bool:
    with database.writing() as connection:
        at = MORNING + dt.timedelta(hours=hour)
        return answers.save_answer(connection, shape, content, who=who, at=at)


def standing(database: Database, shape: str) -> KeptAnswer | None:
    with database.reading() as connection:
        return answers.standing_answer(connection, shape)


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
        assert [answer.shape for answer in answers.list_answers(connection)] == ["aa", "bb", "aa"]
        assert [answer.who for answer in answers.standing_answers(connection)] == ["R. Calder", "A. Other"]


def test_the_same_answer_again_changes_nothing(database: Database) -> None:
    save(database, "aa", SAID)
    with database.reading() as connection:
        before = versions.load_data_version(connection)
    assert not save(database, "aa", dict(SAID), hour=5)
    with database.reading() as connection:
        assert versions.load_data_version(connection) == before
        assert len(answers.list_answers(connection)) == 1


@pytest.mark.parametrize("who", ["", "  "])
def test_an_answer_needs_a_name(database: Database, who: str) -> None:
    with pytest.raises(ValueError, match="name of who gave it"):
        save(database, "aa", SAID, who=who)


def test_an_answer_needs_a_time_zone(database: Database) -> None:
    with pytest.raises(ValueError, match="time zone"), database.writing() as connection:
        answers.save_answer(connection, "aa", SAID, who="R. Calder", at=MORNING.replace(tzinfo=None))


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
