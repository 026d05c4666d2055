"""The two versions of a job, as every request asks for them: never older than what is stored."""

from __future__ import annotations

import pytest

from linemap.store.database import Database, bump, bump_record, open_job
from linemap.store.versions import load_versions


def test_a_write_of_this_process_is_seen_at_once(database: Database) -> None:
    assert database.versions() == (0, 0)
    with database.writing() as connection:
        bump_record(connection)
    assert database.versions() == (1, 0)
    with database.writing() as connection:
        bump(connection)
    assert database.versions() == (2, 2)
    with database.reading() as connection:
        assert load_versions(connection) == database.versions()


def test_a_write_of_another_program_is_seen_at_once(database: Database, place: str) -> None:
    assert database.versions() == (0, 0)
    for grown in range(1, 4):
        with open_job(place) as other, other.writing() as connection:
            bump(connection)
        assert database.versions() == (grown, grown)


def test_a_write_that_is_taken_back_changes_nothing(database: Database) -> None:
    before = database.versions()
    with pytest.raises(ZeroDivisionError):
        _fail_after_a_change(database)
    assert database.versions() == before


def test_a_closed_job_can_be_asked_again(database: Database) -> None:
    assert database.versions() == (0, 0)
    database.close()
    assert database.versions() == (0, 0)


def _fail_after_a_change(database: Database) -> None:
    with database.writing() as connection:
        bump(connection)
        raise ZeroDivisionError
