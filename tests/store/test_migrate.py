"""The schema: migrations and tables agree, older jobs are brought up to date, newer ones refused."""

from __future__ import annotations

import datetime as dt

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import DBAPIError

from linemap.domain.record.chain import FIRST_LINK, event_values, first_break, link
from linemap.domain.record.event import Event
from linemap.errors import JobUnreadable
from linemap.store import events, migrate, schema, versions
from linemap.store.database import Database, open_job
from linemap.store.engine import Place, engines

NOW = dt.datetime(2026, 5, 15, tzinfo=dt.UTC)


def event(identifier: str) -> Event:
    return Event(id=identifier, line="N", structure="1/1", step="dug", happened_at=NOW, received_at=NOW)


_OLD_EVENT = """
    INSERT INTO event (id, line, structure, pole, step, result, happened_at, happened_offset_s, received_at,
                       crew, actor, device, note, file, row)
    VALUES (:id, 'N', '1/1', '', 'dug', 'done', :at, 0, :at, '', '', '', '', '', 0)
"""


def make_older_job(target: str) -> None:
    """Make a job as the first schema had it, without triggers on events."""
    place = Place.from_text(target)
    reader, writer = engines(place)
    with writer.begin() as connection:
        if place.is_postgresql:
            connection.execute(text("CREATE SCHEMA linemap"))
        config = Config()
        config.set_main_option("script_location", "linemap.store:migrations")
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.execute(
            text(
                "INSERT INTO job (id, name, created_at, data_version, settings) "
                "VALUES (1, 'old', :at, 7, '{}')"
            ),
            {"at": "2026-05-15 00:00:00"},
        )
        for identifier in ("first", "second"):
            connection.execute(text(_OLD_EVENT), {"id": identifier, "at": "2026-05-15 00:00:00"})
    reader.dispose()
    writer.dispose()


def stored(database: Database) -> str | None:
    with database.reading() as connection:
        return migrate.stored_revision(connection)


def test_the_newest_migration_is_the_head() -> None:
    assert max(migrate.known_revisions()) == migrate.HEAD
    assert migrate.known_revisions() == {
        "0001",
        "0002",
        "0003",
        "0004",
        "0005",
        "0010",
        "0012",
        "0020",
        "0030",
        "0040",
        "0041",
    }


def test_migrations_from_empty_make_exactly_the_tables(database: Database) -> None:
    assert stored(database) == migrate.HEAD

    def differences(connection: Connection) -> list[object]:
        return list(compare_metadata(MigrationContext.configure(connection), schema.metadata))

    with database.reading() as connection:
        assert differences(connection) == []
        tables = set(inspect(connection).get_table_names())
    assert tables == {*schema.metadata.tables, "alembic_version"}


def test_migrations_make_the_same_checks_as_the_tables(database: Database) -> None:
    with database.reading() as connection:
        found = {
            (name, str(check["name"]))
            for name in schema.metadata.tables
            for check in inspect(connection).get_check_constraints(name)
        }
    assert found == {
        ("job", "ck_job_one"),
        ("event", "ck_event_seq"),
        ("decision", "ck_decision_seq"),
        ("answer", "ck_answer_seq"),
        ("claim", "ck_claim_seq"),
        ("briefing", "ck_briefing_seq"),
        ("hold_release", "ck_hold_release_seq"),
        ("punch_entry", "ck_punch_entry_seq"),
        ("fact", "ck_fact_seq"),
    }


def test_opening_an_older_job_brings_it_up_to_date_and_keeps_what_is_in_it(target: str) -> None:
    make_older_job(target)
    with open_job(target) as database:
        assert stored(database) == migrate.HEAD
        with database.reading() as connection:
            assert events.load_events(connection) == (event("first"), event("second"))
            assert versions.load_versions(connection) == (7, 7)
            # what was there is chained as if it had come in today
            assert first_break(events.record_in_order(connection)) is None
            newest = events.chain_head(connection)
            assert newest == link(
                link(FIRST_LINK, event_values(event("first"))), event_values(event("second"))
            )
        with pytest.raises(DBAPIError, match="only ever added"), database.writing() as connection:
            connection.execute(text("DELETE FROM event"))


def test_an_upgrade_that_fails_leaves_the_older_job(target: str) -> None:
    make_older_job(target)
    _, writer = engines(Place.from_text(target))
    with writer.begin() as connection:
        # what the second migration makes is there already: its last step cannot succeed
        if connection.dialect.name == "postgresql":
            connection.execute(
                text("CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN END $$")
            )
        else:
            connection.execute(text("CREATE TRIGGER event_insert BEFORE INSERT ON event BEGIN SELECT 1; END"))
    with pytest.raises(DBAPIError, match="already exists"):
        open_job(target)
    with writer.begin() as connection:
        assert migrate.stored_revision(connection) == "0001"
        connection.execute(text("UPDATE event SET note = 'still without triggers'"))
    writer.dispose()


def test_a_newer_job_is_refused_and_left_alone(target: str) -> None:
    with open_job(target, create=True) as database, database.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(JobUnreadable, match=f"9999, newer than this linemap's {migrate.HEAD}"):
        open_job(target)
