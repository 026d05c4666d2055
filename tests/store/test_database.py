"""Opening, creating, writing in turn, and surviving a killed program."""

from __future__ import annotations

import datetime as dt
import os
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError, StatementError

from linemap.domain.design.structure import Structures
from linemap.errors import Conflict, JobUnreadable, LinemapError, NotFound
from linemap.store import files, job, lines, structures, versions
from linemap.store.database import Database, bump, open_job
from linemap.store.engine import Place

LOADER = """
import sys
from datetime import UTC, datetime
from linemap.domain.design.structure import Structures
from linemap.store import files, structures
from linemap.store.database import open_job

now = datetime(2026, 5, 16, tzinfo=UTC)
content = b"half a list"
listed = Structures.from_columns(
    number=[f"1/{n}" for n in range(5000)], easting=[float(n) for n in range(5000)], northing=[0.0] * 5000
)
with open_job(sys.argv[1]) as database, database.writing() as connection:
    digest = __import__("hashlib").sha256(content).hexdigest()
    files.add_file(connection, name="b.csv", content=content, sha256=digest, kind="structures",
                   loaded_by="", now=now, mapping={})
    while True:
        structures.save_structures(connection, int(sys.argv[2]), listed, now=now)
        print("saved", flush=True)
"""

RECORDER = """
import sys
from datetime import UTC, datetime
from linemap.domain.record.event import Event
from linemap.store import events
from linemap.store.database import open_job

now = datetime(2026, 5, 16, tzinfo=UTC)
with open_job(sys.argv[1]) as database:
    for n in range(40):
        with database.writing() as connection:
            events.add_events(connection, [Event(
                id=f"{sys.argv[2]}-{n}", line="North", structure="1/1", step="dug",
                happened_at=now, received_at=now)])
"""


def version(database: Database) -> int:
    with database.reading() as connection:
        return versions.load_data_version(connection)


def add_a_line_then_fail(connection: Connection) -> None:
    made = lines.add_line(connection, name="South", crs="EPSG:6515")
    mixed = Structures.from_columns(
        line=["South", "North"], number=["1", "2"], easting=[0, 1], northing=[0, 1]
    )
    structures.save_structures(connection, made, mixed, now=dt.datetime.now(dt.UTC))


def test_a_new_job_opens_again_with_its_name(target: str) -> None:
    open_job(target, create=True, name="Brindle").close()
    with open_job(target) as database, database.reading() as connection:
        record = job.load_job(connection)
    assert (record.name, record.data_version, dict(record.settings)) == ("Brindle", 0, {})


def test_a_job_without_a_name_takes_the_one_of_its_file(empty_sqlite: Path) -> None:
    with open_job(empty_sqlite, create=True) as database, database.reading() as connection:
        assert job.load_job(connection).name == "north"


def test_creating_over_a_job_is_refused_and_leaves_it(target: str) -> None:
    open_job(target, create=True, name="first").close()
    with pytest.raises(Conflict, match="already"):
        open_job(target, create=True, name="second")
    with open_job(target) as database, database.reading() as connection:
        assert job.load_job(connection).name == "first"


def test_creating_over_any_file_is_refused_and_leaves_it(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_bytes(b"mine")
    with pytest.raises(Conflict, match=r"notes\.txt"):
        open_job(path, create=True)
    assert path.read_bytes() == b"mine"


def test_a_job_that_cannot_be_made_leaves_no_file(tmp_path: Path) -> None:
    path = tmp_path / "north.linemap"
    with pytest.raises(StatementError, match="no time zone"):
        open_job(path, create=True, now=dt.datetime(2026, 5, 15))  # noqa: DTZ001
    assert list(tmp_path.iterdir()) == []


def test_nothing_there(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="linemap new"):
        open_job(tmp_path / "none.linemap")
    assert list(tmp_path.iterdir()) == []


def test_no_folder_to_make_it_in(tmp_path: Path) -> None:
    with pytest.raises(JobUnreadable, match="cannot be created"):
        open_job(tmp_path / "none" / "north.linemap", create=True)


def test_a_folder_is_no_job(tmp_path: Path) -> None:
    with pytest.raises(JobUnreadable, match="folder"):
        open_job(tmp_path)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"structure,easting,northing\n1/1,0,0\n",
        b"SQLite format 3\0",
        b"SQLite format 3\0" + b"\xff" * 5000,
        os.urandom(4096),
    ],
    ids=["empty", "csv", "header only", "broken header", "noise"],
)
def test_garbage_is_no_job_and_stays_as_it_is(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "garbage.linemap"
    path.write_bytes(content)
    with pytest.raises(JobUnreadable, match=r"garbage\.linemap"):
        open_job(path)
    assert path.read_bytes() == content


def test_another_program_s_database_is_no_job_and_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE job (id INTEGER)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(JobUnreadable, match="no linemap job"):
        open_job(path)
    assert path.read_bytes() == before


@pytest.mark.postgres
def test_an_empty_postgresql_database_is_no_job(empty_postgresql: str) -> None:
    with pytest.raises(JobUnreadable, match="no linemap job"):
        open_job(empty_postgresql)


@pytest.mark.postgres
def test_a_postgresql_database_that_does_not_exist(empty_postgresql: str) -> None:
    with pytest.raises(NotFound, match="create the database first"):
        open_job(empty_postgresql.replace("/test_", "/none_"))


def test_a_server_that_does_not_answer(tmp_path: Path) -> None:
    with pytest.raises(JobUnreadable, match="cannot be used as a job"):
        open_job(f"postgresql://ada:secret@/north?host={tmp_path}")


@pytest.mark.parametrize("wrong", ["mysql://db/north", "sqlite:///north.linemap", "https://north"])
def test_another_kind_of_url(wrong: str) -> None:
    with pytest.raises(JobUnreadable, match="a path or a postgresql"):
        open_job(wrong)


def test_a_url_with_a_broken_port() -> None:
    with pytest.raises(JobUnreadable, match="cannot be read"):
        open_job("postgresql://db:port/north")


def test_a_password_is_never_shown(tmp_path: Path) -> None:
    url = f"postgresql://ada:secret@/north?host={tmp_path}"
    assert "secret" not in str(Place.from_text(url))
    with pytest.raises(LinemapError) as caught:
        open_job(url)
    assert "secret" not in str(caught.value)


def test_a_path_may_hold_any_sign(tmp_path: Path) -> None:
    path = tmp_path / "north 50% #1 ?é.linemap"
    open_job(path, create=True).close()
    open_job(path).close()
    assert path.exists()


def test_reading_cannot_change_anything(database: Database) -> None:
    with pytest.raises((DBAPIError, JobUnreadable), match=r"read-?only"), database.reading() as connection:
        connection.execute(text("UPDATE job SET data_version = 9"))
    assert version(database) == 0


def test_the_data_version_grows_once_for_each_transaction_that_changed_something(database: Database) -> None:
    with database.writing() as connection:
        job.change_settings(connection, {"data_date": "2026-05-15"})
        job.change_settings(connection, {"data_date": "2026-05-16"})
        bump(connection)
    assert version(database) == 1
    with database.writing() as connection:
        job.load_job(connection)
    assert version(database) == 1


def test_a_failed_transaction_leaves_nothing_behind(
    database: Database, content: Callable[[], dict[str, list[Any]]]
) -> None:
    before = content()
    with pytest.raises(ValueError, match="several lines"), database.writing() as connection:
        add_a_line_then_fail(connection)
    assert content() == before
    with database.writing() as connection:
        pass
    assert version(database) == 0


def test_a_reader_sees_one_moment(database: Database) -> None:
    with database.reading() as connection:
        assert lines.list_lines(connection) == ()
        with database.writing() as writer:
            lines.add_line(writer, name="South", crs="EPSG:6515")
        assert lines.list_lines(connection) == ()
    with database.reading() as connection:
        assert [line.name for line in lines.list_lines(connection)] == ["South"]


@pytest.mark.process
def test_a_killed_load_leaves_the_job_as_it_was(
    place: str, database: Database, line_id: int, content: Callable[[], dict[str, list[Any]]]
) -> None:
    before = content()
    loader = subprocess.Popen(
        [sys.executable, "-c", LOADER, place, str(line_id)], stdout=subprocess.PIPE, text=True
    )
    assert loader.stdout is not None
    with loader:
        assert [loader.stdout.readline() for _ in range(2)] == ["saved\n", "saved\n"]
        loader.send_signal(signal.SIGKILL)
    assert loader.returncode == -signal.SIGKILL
    assert content() == before
    with database.writing() as connection:
        lines.add_line(connection, name="South", crs="EPSG:6515")
    assert version(database) == before["job"][0][5] + 1


@pytest.mark.process
def test_two_programs_write_in_turn(place: str, database: Database) -> None:
    programs = [subprocess.Popen([sys.executable, "-c", RECORDER, place, name]) for name in ("a", "b")]
    assert [program.wait(timeout=60) for program in programs] == [0, 0]
    with database.reading() as connection:
        found = connection.execute(text("SELECT seq, id FROM event ORDER BY seq")).all()
    assert {row.id for row in found} == {f"{name}-{n}" for name in "ab" for n in range(40)}
    for name in "ab":
        assert [row.id for row in found if row.id[0] == name] == [f"{name}-{n}" for n in range(40)]
    assert version(database) == 80


def test_a_second_writer_waits_for_the_first(place: str, database: Database) -> None:
    order: list[str] = []

    def second() -> None:
        with open_job(place) as other, other.writing():
            order.append("second writes")

    waiting = threading.Thread(target=second)
    with database.writing():
        waiting.start()
        waiting.join(timeout=0.5)
        order.append("first ends")
    waiting.join(timeout=30)
    assert order == ["first ends", "second writes"]


def test_threads_share_one_open_job(database: Database) -> None:
    failed: list[BaseException] = []

    def work(name: str) -> None:
        try:
            for n in range(10):
                with database.writing() as connection:
                    lines.add_line(connection, name=f"{name}{n}", crs="EPSG:6515")
                with database.reading() as connection:
                    assert f"{name}{n}" in {line.name for line in lines.list_lines(connection)}
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(name,)) for name in "abcdef"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert version(database) == 60


def test_a_file_that_goes_bad_under_an_open_job_is_told(empty_sqlite: Path) -> None:
    open_job(empty_sqlite, create=True).close()
    with open_job(empty_sqlite) as database:
        empty_sqlite.write_bytes(b"gone bad" * 1000)
        with pytest.raises(JobUnreadable, match="cannot be used"), database.reading() as connection:
            files.list_files(connection)
