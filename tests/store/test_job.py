"""The job's own record and settings."""

from __future__ import annotations

import datetime as dt

import pytest

from linemap.domain.kind.when import Asked, When
from linemap.errors import InputRefused
from linemap.store import job
from linemap.store.database import Database, open_job
from linemap.store.lines import add_line


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


def asked(as_of: dt.date | None = None, known_by: dt.date | None = None) -> Asked:
    return Asked(when=When(as_of=as_of, known_by=known_by), begun=dt.date(2026, 5, 1))


def test_what_was_declared_on_a_day_stays_what_was_declared(target: str) -> None:
    """A setting that changes, one that comes, one that goes; of lines too."""
    first, second, third = (dt.datetime(2026, 5, day, 8, tzinfo=dt.UTC) for day in (2, 10, 20))
    database = open_job(target, create=True, now=first - dt.timedelta(days=1))
    with database.writing() as connection:
        add_line(connection, name="North", crs="EPSG:6515", combined_factor=0.9)
        job.add_declaration(connection, {"workflow": "framed on ground", "source": "A"}, at=first, who="Ada")
        job.add_declaration(connection, {"workflow": "framed aloft", "x": 1}, at=second)
        lines = {"combined_factor": 0.8}
        job.add_declaration(
            connection, {"source": None, "x": 2}, at=third, true_from=first.date(), lines=lines
        )

    def told(**days: dt.date) -> tuple[object, object]:
        with database.reading() as connection:
            settings, of_lines = job.declared_when(connection, asked(**days))
        return settings, of_lines["North"]["combined_factor"]

    one, two = {"workflow": "framed on ground", "source": "A"}, {"workflow": "framed aloft", "x": 2}
    assert told(known_by=first.date()) == (one, 0.9)
    assert told(known_by=second.date()) == ({"workflow": "framed aloft", "source": "A", "x": 1}, 0.9)
    assert told(known_by=third.date()) == (two, 0.8)
    assert told(as_of=first.date()) == ({"workflow": "framed on ground", "x": 2}, 0.8)
    assert told(as_of=second.date()) == (two, 0.8)
    with database.reading() as connection:
        assert [each.who for each in job.list_declarations(connection)] == ["", "Ada", "", ""]
        assert job.load_job(connection).settings == two
    database.close()


def test_what_is_true_only_later_is_refused(database: Database, now: dt.datetime) -> None:
    tomorrow = now.date() + dt.timedelta(days=1)
    with pytest.raises(InputRefused, match="lies ahead"), database.writing() as connection:
        job.add_declaration(connection, {"source": "A"}, at=now, true_from=tomorrow)
