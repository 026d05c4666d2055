"""The chain of the record on both databases: kept by every writer, broken by one changed byte."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
from sqlalchemy import Connection, text

from linemap.domain.record.chain import FIRST_LINK, Break, event_values, first_break, link
from linemap.domain.record.event import Event
from linemap.errors import Conflict
from linemap.store import events, job, versions
from linemap.store.database import Database, open_job

NOW = dt.datetime(2026, 5, 15, 7, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))


def event(identifier: str, note: str = "arm in") -> Event:
    return Event(
        id=identifier,
        line="North",
        structure="9/2",
        step="framed",
        happened_at=NOW,
        received_at=NOW,
        note=note,
        longitude=-108.1 - 1e-13,
        latitude=0.1 + 0.2,
        accuracy_m=4.5,
        photos=("p1", "p2"),
        skew_s=-0.1,
    )


def found(database: Database) -> Break | None:
    with database.reading() as connection:
        return first_break(events.record_in_order(connection))


def fill(database: Database, count: int = 5) -> None:
    with database.writing() as connection:
        events.add_events(connection, [event(f"e{at}") for at in range(1, count + 1)])


def test_single_and_batch_appends_make_one_chain(database: Database) -> None:
    fill(database, 3)
    with database.writing() as connection:
        events.add_events(connection, [event("e4")])
        events.add_events(connection, [event("e5")])
    expected = FIRST_LINK
    with database.reading() as connection:
        for received in events.since(connection, 0):
            expected = link(expected, event_values(received.event))
            assert received.chain_hash == expected
        assert events.chain_head(connection) == expected
    assert found(database) is None


def append_each(connection: Connection, batch: list[Event]) -> None:
    for each in batch:
        events.add_events(connection, [each])


def test_a_transaction_that_fails_leaves_the_chain_whole(database: Database) -> None:
    fill(database, 2)
    with pytest.raises(Conflict, match="e1 is already"), database.writing() as connection:
        append_each(connection, [event("e3"), event("e1", note="another")])
    with database.writing() as connection:
        events.add_events(connection, [event("e4")])
    assert found(database) is None


def test_writers_at_once_make_one_chain(target: str) -> None:
    open_job(target, create=True).close()
    failures: list[BaseException] = []

    def write(writer: int) -> None:
        try:
            with open_job(target) as own:
                for at in range(10):
                    with own.writing() as connection:
                        events.add_events(connection, [event(f"{writer}-{at}-{part}") for part in range(3)])
        except BaseException as failure:
            failures.append(failure)

    writers = [threading.Thread(target=write, args=(writer,)) for writer in range(4)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert failures == []
    with open_job(target) as database:
        assert found(database) is None
        with database.reading() as connection:
            assert len(events.since(connection, 0)) == 120


def allow_changes(database: Database) -> None:
    """Take away the guard of the table, as whoever owns the database can."""
    with database.writing() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("ALTER TABLE event DISABLE TRIGGER event_refuse_change"))
        else:
            connection.execute(text("DROP TRIGGER event_update"))
            connection.execute(text("DROP TRIGGER event_delete"))


@pytest.mark.parametrize(
    ("change", "row", "seq"),
    [
        ("UPDATE event SET note = 'arm im' WHERE id = 'e3'", 3, 3),
        ("UPDATE event SET pole = 'A' WHERE id = 'e1'", 1, 1),
        ("UPDATE event SET longitude = -108.10000000000002 WHERE id = 'e4'", 4, 4),
        ("UPDATE event SET photos = '[\"p1\", \"p3\"]' WHERE id = 'e2'", 2, 2),
        ("UPDATE event SET received_at = '2026-05-15 13:30:00.000001' WHERE id = 'e2'", 2, 2),
        ("UPDATE event SET happened_offset_s = happened_offset_s + 1 WHERE id = 'e5'", 5, 5),
        ("UPDATE event SET step = ' ' WHERE id = 'e2'", 2, 2),
        ("UPDATE event SET chain_hash = replace(chain_hash, 'a', 'b') WHERE id = 'e3'", 3, 3),
        ("DELETE FROM event WHERE id = 'e2'", 2, 3),
    ],
)
def test_one_changed_byte_names_the_event(database: Database, change: str, row: int, seq: int) -> None:
    fill(database)
    assert found(database) is None
    allow_changes(database)
    with database.writing() as connection:
        connection.execute(text(change))
    assert found(database) == Break(row, seq, f"e{seq}")


def test_the_record_alone_leaves_the_base_version(database: Database) -> None:
    with database.writing() as connection:
        job.change_settings(connection, {"data_date": "2026-05-15"})
    with database.reading() as connection:
        assert versions.load_versions(connection) == (1, 1)
    fill(database, 1)
    with database.reading() as connection:
        assert versions.load_versions(connection) == (2, 1)
    with database.writing() as connection:
        events.add_events(connection, [event("e9")])
        job.change_settings(connection, {"data_date": None})
    with database.reading() as connection:
        assert versions.load_versions(connection) == (3, 3)
