"""The job's own record and settings."""

from __future__ import annotations

import datetime as dt

import pytest

from linemap.store import job
from linemap.store.database import Database, open_job


def load(database: Database) -> job.JobRecord:
    with database.reading() as connection:
        return job.load_job(connection)


def test_a_new_job_has_no_data_date(database: Database) -> None:
    record = load(database)
    assert record.data_date is None


def test_a_job_keeps_the_moment_it_was_made(target: str, now: dt.datetime) -> None:
    with open_job(target, create=True, now=now) as database:
        assert load(database).created_at == now


def test_settings_are_changed_one_by_one_and_taken_out(database: Database) -> None:
    with database.writing() as connection:
        job.change_settings(connection, {"data_date": "2026-05-15", "y": {"across": 0.5}, "x": [1, "ü"]})
    with database.writing() as connection:
        job.change_settings(connection, {"x": None})
    record = load(database)
    assert record.settings == {"data_date": "2026-05-15", "y": {"across": 0.5}}
    assert record.data_date == dt.date(2026, 5, 15)
    with database.writing() as connection:
        job.change_settings(connection, {"data_date": ""})
    assert load(database).data_date is None


def test_a_data_date_that_is_none_is_refused(database: Database) -> None:
    with pytest.raises(ValueError, match="isoformat"), database.writing() as connection:
        job.change_settings(connection, {"data_date": "15 May"})
    assert load(database).settings == {}
