"""Requests at the same time: stored together, each told of its own, a failure staying with its own."""

from __future__ import annotations

import datetime as dt
import threading
import uuid
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from linemap.domain.record.chain import first_break
from linemap.domain.record.event import Event
from linemap.service.record.known import Known, what_is_known
from linemap.service.record.record import Refused
from linemap.service.record.turns import Turns
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job
from linemap.store.events import record_in_order, since
from linemap.store.versions import load_data_version

NOW = dt.datetime(2026, 5, 15, 18, tzinfo=dt.UTC)


def event(structure: str = "13/6") -> Event:
    return Event(
        id=str(uuid.uuid4()),
        line="",
        structure=structure,
        step="inspected",
        happened_at=NOW,
        received_at=NOW,
    )


@pytest.fixture
def job(demo_job: Path, tmp_path: Path) -> Path:
    (tmp_path / "own.linemap").write_bytes(demo_job.read_bytes())
    return tmp_path / "own.linemap"


def count(database: Database) -> int:
    with database.reading() as connection:
        assert first_break(record_in_order(connection)) is None
        return len(since(connection, 0))


def test_each_request_is_told_of_its_own(job: Path, demo_view: JobView) -> None:
    known = what_is_known(demo_view)
    with open_job(job) as database:
        turns, before = Turns(database), count(database)
        batches = [[event(), event("99/9"), Refused(id=str(at), why="no")] for at in range(24)]
        told: dict[int, list[tuple[str, str]]] = {}

        def send(at: int) -> None:
            outcomes = turns.record(lambda: (known, batches[at])).result().outcomes
            told[at] = [(each.id, each.outcome) for each in outcomes]

        threads = [threading.Thread(target=send, args=(at,)) for at in range(24)]
        with database.writing():  # nobody can write until all wait
            for thread in threads:
                thread.start()
        for thread in threads:
            thread.join()
        assert told == {
            at: [(batch[0].id, "stored"), (batch[1].id, "refused"), (str(at), "refused")]
            for at, batch in enumerate(batches)
        }
        assert count(database) == before + 24
        with database.reading() as connection:
            version = load_data_version(connection)
        # those that waited for the first went in together
        assert version - demo_view.data_version < 24


def test_the_same_record_from_two_requests_is_stored_once(job: Path, demo_view: JobView) -> None:
    known, one = what_is_known(demo_view), event()
    with open_job(job) as database:
        turns, before = Turns(database), count(database)
        outcomes: list[str] = []

        def send() -> str:
            return turns.record(lambda: (known, [one])).result().outcomes[0].outcome

        threads = [threading.Thread(target=lambda: outcomes.append(send())) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert sorted(outcomes) == ["duplicate"] * 7 + ["stored"]
        assert count(database) == before + 1


def test_a_job_that_cannot_be_written_says_so_to_everyone(job: Path, demo_view: JobView) -> None:
    with open_job(job) as database:
        turns = Turns(database)
        with database.writing() as connection:
            connection.execute(text("DROP TABLE event"))
        waiting = [turns.record(lambda: (what_is_known(demo_view), [event()])) for _ in range(3)]
        for each in waiting:
            with pytest.raises(DBAPIError, match="no such table"):
                each.result()


def test_a_request_that_cannot_be_read_does_not_hold_up_the_others(job: Path, demo_view: JobView) -> None:
    def unreadable() -> tuple[Known, list[Event | Refused]]:
        raise ValueError("not readable")

    known = what_is_known(demo_view)
    with open_job(job) as database:
        turns, before = Turns(database), count(database)
        with database.writing():
            answers = [turns.record(lambda: (known, [event()])), turns.record(unreadable)]
            answers.append(turns.record(lambda: (known, [event()])))
        assert [each.exception() is None for each in answers] == [True, False, True]
        turns.close()
        assert count(database) == before + 2
        turns.record(lambda: (known, [event()])).result()  # a server may start again
        assert count(database) == before + 3
