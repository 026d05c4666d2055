"""A copy of a job to keep, a job made of one, and what phones and job then find of each other."""

from __future__ import annotations

import datetime as dt
import hashlib
import sqlite3
import threading
import uuid
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from linemap.domain.record.event import Event
from linemap.errors import Conflict, InputRefused, LinemapError
from linemap.service.record.keeping import (
    back_up,
    bring_back,
    compare,
    keeping_words,
    record_mark,
    witnessed,
)
from linemap.service.record.log import newest_of_job
from linemap.store.backup import Witness
from linemap.store.database import Database, open_job
from linemap.store.events import add_events, since
from linemap.store.job import load_job
from linemap.store.photos import PhotoRow, begin_photo

NOW = dt.datetime(2026, 5, 15, 18, tzinfo=dt.UTC)


def event(**changed: Any) -> Event:
    given = {"id": str(uuid.uuid4()), "line": "L", "structure": "13/6", "step": "dug"}
    return Event(**{**given, "happened_at": NOW, "received_at": NOW, "device": "truck", **changed})


def record(database: Database, *events: Event) -> list[str]:
    with database.writing() as connection:
        add_events(connection, events)
    return [each.id for each in events]


def copy_name(database: Database) -> str:
    return "copy.dump" if database.place.is_postgresql else "copy.linemap"


def seen(database: Database, device: str = "truck") -> Witness:
    with database.reading() as connection:
        newest = newest_of_job(connection)
    return Witness(device=device, person="", newest=newest, seen_at=NOW, reported_at=NOW)


def test_a_copy_is_noted_and_comes_back_as_another_life(
    database: Database, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    kept = record(database, event(), event())
    to = tmp_path / copy_name(database)
    with database.reading() as connection:
        assert record_mark(connection)[1] is None
    assert keeping_words(database)[0].startswith("No backup of this job is on record")
    made, _ = back_up(database, to, now=NOW)
    assert (made.sha256, made.size) == (hashlib.sha256(to.read_bytes()).hexdigest(), to.stat().st_size)
    assert [path.name for path in to.parent.iterdir() if path.name.startswith("copy")] == [to.name]
    lost = record(database, event())
    with database.reading() as connection:
        mark, backup = record_mark(connection)
        first_life = load_job(connection)
    assert backup is not None
    assert (backup.seq, mark.seq) == (2, 3)
    assert keeping_words(database) == [
        f"The record up to event 2 is in a backup made 2026-05-15 18:00 ({to.name}); 1 event came since."
    ]
    postgresql = database.place.is_postgresql
    again = request.getfixturevalue("empty_postgresql") if postgresql else str(tmp_path / "again.linemap")
    before = to.read_bytes()
    assert bring_back(to, again) == (2, made.event_hash)
    assert to.read_bytes() == before
    with open_job(again) as restored:
        with restored.reading() as connection:
            life = load_job(connection)
            assert (life.identity, life.name) == (first_life.identity, first_life.name)
            assert life.incarnation != first_life.incarnation
            # this life has no copy of its own, though its record says nothing else
            assert record_mark(connection)[1] is None
        found = compare(restored, records=[*kept, *lost], photos=[], seen=seen(database))
        assert (found.missing, "events" in found.lost, found.incarnation) == (lost, True, life.incarnation)
    with pytest.raises(LinemapError):
        bring_back(to, again)  # a job is there


def test_two_jobs_of_one_copy_are_two_lives(new_sqlite: Path, tmp_path: Path) -> None:
    with open_job(new_sqlite) as database:
        back_up(database, tmp_path / "copy", now=NOW)
    for name in ("one", "two"):
        bring_back(tmp_path / "copy", str(tmp_path / name))
    lives = set()
    for path in (new_sqlite, *(tmp_path / name for name in ("copy", "one", "two"))):
        with open_job(path) as opened, opened.reading() as connection:
            lives.add(load_job(connection).incarnation)
    assert len(lives) == 4


def test_a_copy_made_while_others_record_holds_whole_batches(database: Database, tmp_path: Path) -> None:
    """Each batch is of ten events in one transaction; a copy that is torn would hold a part of one."""
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            record(database, *(event() for _ in range(10)))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        made = [back_up(database, tmp_path / f"{number}.copy", now=NOW)[0] for number in range(3)]
    finally:
        stop.set()
        writer.join()
    assert all(each.event_seq % 10 == 0 for each in made)
    assert made[0].event_seq <= made[1].event_seq <= made[2].event_seq
    with database.reading() as connection:
        links = {each.seq: each.chain_hash for each in since(connection, 0)} | {0: ""}
    assert [links[each.event_seq] for each in made] == [each.event_hash for each in made]


def test_a_copy_that_cannot_be_is_refused_and_nothing_is_left(database: Database, tmp_path: Path) -> None:
    (tmp_path / "there").write_text("kept", encoding="utf-8")
    with pytest.raises(Conflict, match="is there already; name a new file"):
        back_up(database, tmp_path / "there", now=NOW)
    assert (tmp_path / "there").read_text(encoding="utf-8") == "kept"
    with pytest.raises(LinemapError):
        back_up(database, tmp_path / "no folder" / "copy", now=NOW)
    with database.reading() as connection:
        assert record_mark(connection)[1] is None
    assert not list(tmp_path.glob("*.part"))


def test_what_is_no_copy_makes_no_job(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("no copy", encoding="utf-8")
    target = str(tmp_path / "again.linemap")
    for copy, words in ((tmp_path / "none", "cannot be read"), (tmp_path / "notes.txt", "cannot be copied")):
        with pytest.raises(LinemapError, match=words):
            bring_back(copy, target)
    (tmp_path / "dump").write_bytes(b"PGDMP\x01")
    with pytest.raises(InputRefused, match="is a dump of PostgreSQL"):
        bring_back(tmp_path / "dump", target)
    with sqlite3.connect(tmp_path / "other.db") as other:
        other.execute("CREATE TABLE notes (word TEXT)")
    with pytest.raises(LinemapError, match="no linemap job"):
        bring_back(tmp_path / "other.db", target)
    assert not Path(target).exists()


def test_photos_claims_and_events_are_looked_up_by_their_identifiers(database: Database) -> None:
    (there,) = record(database, event())
    photo, other = str(uuid.uuid4()), str(uuid.uuid4())
    with database.writing() as connection:
        row = PhotoRow(
            id=photo, event_id=there, total=9, received=4, media_type="image/png", sha256="", begun_at=NOW
        )
        begin_photo(connection, row)
    found = compare(database, records=[other, there], photos=[photo], seen=None)
    assert found.missing == [other, photo]
    with database.writing() as connection:
        connection.execute(text("UPDATE photo SET sha256 = 'whole', received = 9"))
    assert compare(database, records=[there], photos=[photo], seen=None).missing == []
    told = compare(database, records=[], photos=[], seen=None, new_device="truck").from_device
    assert told is not None
    assert (told.count, told.newest[:10]) == (1, "2026-05-15")
    assert compare(database, records=[], photos=[], seen=None, new_device="other").from_device is None


def test_phones_witness_a_record_that_was_cut(database: Database) -> None:
    record(database, event())
    earlier = seen(database)
    assert compare(database, records=[], photos=[], seen=earlier).lost == ()
    record(database, event())
    later = seen(database)
    compare(database, records=[], photos=[], seen=later)
    # what it saw before that stands is not worth keeping
    assert [(each.seen, each.lost) for each in witnessed(database)] == [(later, ())]
    foreign = Witness(
        **{**vars_of(later), "newest": f"events 2 {'f' * 64}", "device": "other phone", "person": "Ada"}
    )
    assert compare(database, records=[], photos=[], seen=foreign).lost == ("events",)
    compare(database, records=[], photos=[], seen=seen(database, "other phone"))
    # what does not stand is kept beside what it saw later
    cut = [each for each in witnessed(database) if each.lost]
    assert [each.seen for each in cut] == [foreign]
    assert len(witnessed(database)) == 3
    (words,) = [words for words in keeping_words(database) if "other phone (Ada)" in words]
    assert "NOT HERE ARE ITS events" in words


def vars_of(witness: Witness) -> dict[str, Any]:
    return {name: getattr(witness, name) for name in Witness.__slots__}
