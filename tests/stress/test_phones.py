"""Fifty phones, four thousand records, a server that dies five times: every record exactly once.

The phones send batches out of order, some twice, with clocks up to two hours wrong, and send again whatever
got no answer. The server is a process of its own, killed with SIGKILL while they send, and started anew.
"""

from __future__ import annotations

import datetime as dt
import http.client
import json
import random
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from served_process import ServedProcess

from linemap.domain.record.chain import first_break
from linemap.domain.record.event import Event
from linemap.domain.record.status import StructureStatus, fold
from linemap.domain.record.workflow import FRAMED_ON_GROUND
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job
from linemap.store.database import open_job
from linemap.store.events import add_events, record_in_order, since
from linemap.store.structures import load_structures

PHONES = 50
RECORDS = 4_000
BATCH = 20
KILLS = 5
STRUCTURES = 1000
STEPS = tuple(step.code for step in FRAMED_ON_GROUND.order())
#: The day all this happened, long enough ago that no wrong clock reaches the present.
DAY = dt.datetime(2026, 5, 13, 6, 0, tzinfo=dt.UTC)


def truth(rng: random.Random) -> list[dict[str, Any]]:
    """Records as they happened, minutes apart, by the one true clock."""
    return [
        {
            "id": str(uuid.UUID(int=rng.getrandbits(128), version=4)),
            "line": "North",
            "structure": str(rng.randrange(1, STRUCTURES + 1)),
            "pole": rng.choice(["", "", "A", "B"]),
            "step": rng.choice(STEPS),
            "result": rng.choices(["done", "rejected", "withdrawn"], [18, 1, 1])[0],
            "happened_at": DAY + dt.timedelta(minutes=2 * at),
            "crew": f"crew {rng.randrange(8)}",
        }
        for at in range(RECORDS)
    ]


class Phone:
    """One phone: its own clock, its own order, sending again until it has an answer for every record."""

    def __init__(self, number: int, records: list[dict[str, Any]], port: int) -> None:
        rng = random.Random(number)
        self.port = port
        #: Whole minutes, as the way a message takes is no error of a clock.
        self.skew = dt.timedelta(minutes=rng.randint(-120, 120))
        said = [self._said(record, number) for record in records]
        rng.shuffle(said)
        self.batches = [said[at : at + BATCH] for at in range(0, len(said), BATCH)]
        # some batches are sent twice although they were answered
        self.batches += rng.sample(self.batches, 2)
        self.answered: dict[str, str] = {}
        self.refused: list[Any] = []
        self.lost = 0

    def _said(self, record: dict[str, Any], number: int) -> dict[str, Any]:
        happened_at = (record["happened_at"] + self.skew).isoformat()
        return {**record, "happened_at": happened_at, "device": f"p{number}"}

    def send_all(self) -> None:
        for batch in self.batches:
            while not self._send(batch):
                self.lost += 1
                time.sleep(0.5)

    def _send(self, batch: list[dict[str, Any]]) -> bool:
        sent_at = (dt.datetime.now(dt.UTC) + self.skew).isoformat()
        body = json.dumps({"sent_at": sent_at, "events": batch})
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            connection.request("POST", "/api/events", body, {"content-type": "application/json"})
            answer = connection.getresponse()
            content = answer.read()
        except (OSError, http.client.HTTPException):
            return False
        finally:
            connection.close()
        assert answer.status == 200, content
        for result in json.loads(content)["results"]:
            self.answered[result["id"]] = result["outcome"]
            if result["outcome"] == "refused":
                self.refused.append(result)
        return True


class Server(ServedProcess):
    """The server of a job, as a process that can be killed and started anew at one address."""

    def __init__(self, job: str, log: Path) -> None:
        super().__init__(log)
        self.job = job

    def serve(self) -> None:
        words = ["--factory", "linemap.web.app:app_from_environment", "--log-level", "warning"]
        self.start("uvicorn", words, {"LINEMAP_JOB": self.job})


@contextmanager
def serving(job: str, log: Path) -> Iterator[Server]:
    server = Server(job, log)
    try:
        server.serve()
        yield server
    finally:
        server.kill()


@pytest.fixture
def job(target: str, tmp_path: Path) -> str:
    """A job with one straight line and its structures."""
    centreline, structures = tmp_path / "centreline.csv", tmp_path / "structures.csv"
    centreline.write_text("PI,Northing (ft),Easting (ft)\nPOB,900000,2250000\nPOE,900000,2450000\n")
    rows = (f"{number},900000,{2250000 + 190 * number},H-TAN,12.5" for number in range(1, STRUCTURES + 1))
    heading = "Structure,Northing (ft),Easting (ft),Type,Pole Spacing (ft)"
    structures.write_text("\n".join([heading, *rows, ""]))
    rules = {"crs": "EPSG:6515", "line": "North", "combined_factor": "1.0"}
    create_job(target, rules, now=DAY)
    with open_job(target) as database:
        load_files(database, LoadRequest(paths=(centreline, structures)), now=DAY)
        with database.reading() as connection:
            assert len(load_structures(connection)) == STRUCTURES
    return target


def send_and_kill(phones: list[Phone], server: Server) -> None:
    """Let all phones send at once and kill the server five times on the way."""
    failures: list[BaseException] = []

    def run(phone: Phone) -> None:
        try:
            phone.send_all()
        except BaseException as failure:
            failures.append(failure)

    threads = [threading.Thread(target=run, args=(phone,)) for phone in phones]
    for thread in threads:
        thread.start()
    total = sum(len(phone.batches) for phone in phones) * BATCH
    for kill in range(1, KILLS + 1):
        while sum(len(phone.answered) for phone in phones) < min(kill * total // (KILLS + 2), RECORDS - 1):
            assert not failures, failures
            time.sleep(0.02)
        server.kill()
        server.serve()
    for thread in threads:
        thread.join()
    assert failures == []


def folded(events: list[Event]) -> dict[tuple[str, str], StructureStatus]:
    letters = {("North", str(number)): "AB" for number in range(1, STRUCTURES + 1)}
    return fold(events, FRAMED_ON_GROUND, pole_letters=letters)


def steps(status: StructureStatus) -> dict[str, tuple[str, str]]:
    """What is done, by which record and for which poles."""
    return {code: (state.event_id, state.poles) for code, state in {**status.begun, **status.done}.items()}


@pytest.mark.process
def test_every_record_of_fifty_phones_is_kept_exactly_once(job: str, tmp_path: Path) -> None:
    rng = random.Random(13)
    records = truth(rng)
    with serving(job, tmp_path / "server.log") as server:
        shared = [rng.randrange(PHONES) for _ in records]
        phones = [
            Phone(
                number,
                [record for record, at in zip(records, shared, strict=True) if at == number],
                server.port,
            )
            for number in range(PHONES)
        ]
        send_and_kill(phones, server)
    assert [refused for phone in phones for refused in phone.refused] == []
    assert sum(phone.lost for phone in phones) > 0
    answered = {identifier for phone in phones for identifier in phone.answered}
    assert answered == {record["id"] for record in records}
    with open_job(job) as database, database.reading() as connection:
        kept = [each.event for each in since(connection, 0)]
        assert first_break(record_in_order(connection)) is None
    assert len(kept) == RECORDS
    assert {event.id for event in kept} == answered
    now = dt.datetime.now(dt.UTC)
    true = folded([Event(**record, received_at=now) for record in records])
    found = folded(list(kept))
    assert {key: steps(status) for key, status in found.items()} == {
        key: steps(status) for key, status in true.items()
    }
    assert {key: status.stage for key, status in found.items()} == {
        key: status.stage for key, status in true.items()
    }
    with open_job(job) as database, database.writing() as connection:
        assert add_events(connection, kept) == (0, RECORDS)
