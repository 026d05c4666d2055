"""Copies of a job that are kept elsewhere, and the newest links of it that phones saw."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from sqlalchemy import Connection, delete, func, insert, select, text

from linemap.domain.record.chain import FIRST_LINK
from linemap.errors import JobUnreadable
from linemap.store import schema
from linemap.store.columns import record_of, with_clock
from linemap.store.database import bump_record
from linemap.store.engine import Place

_EVENT, _BACKUP, _WITNESS = schema.event.c, schema.backup.c, schema.witness.c
_HEAD = select(_EVENT.seq, _EVENT.chain_hash).order_by(_EVENT.seq.desc()).limit(1)
#: Identifiers looked up in one query.
_CHUNK = 1000


class RecordHead(NamedTuple):
    """The newest event of a record: its number in the order of receipt, and its link. 0 and "" = no event."""

    seq: int
    link: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """A copy of the job that was made to be kept."""

    #: With the time zone it was made in.
    at: dt.datetime
    #: The life of the job it is of.
    incarnation: str
    #: Newest event in it, and its link.
    event_seq: int
    event_hash: str
    #: Data version of the job that it holds.
    version: int
    #: Name of its file, and what is in it.
    name: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """The newest links of the job that a phone says it saw."""

    device: str
    #: As `service.record.log.newest_of_job` gave them.
    newest: str
    #: Who was signed in when it said so; "" = nobody.
    person: str
    #: By the phone's clock, and by the job's.
    seen_at: dt.datetime
    reported_at: dt.datetime


def record_head(connection: Connection) -> RecordHead:
    """Return the newest event of the record."""
    row = connection.execute(_HEAD).one_or_none()
    return RecordHead(0, FIRST_LINK) if row is None else RecordHead(row.seq, row.chain_hash)


def missing_among(connection: Connection, records: Sequence[str], photos: Sequence[str]) -> list[str]:
    """Return those identifiers that are no event, claim or briefing, or no whole photo, of the job."""
    photo = schema.photo.c
    there: set[str] = set()
    for ids, queries in (
        (records, [select(table.c.id) for table in (schema.event, schema.claim, schema.briefing)]),
        (photos, [select(photo.id).where(photo.sha256 != "")]),
    ):
        for first in range(0, len(ids), _CHUNK):
            some = ids[first : first + _CHUNK]
            for query in queries:
                there |= set(connection.scalars(query.where(query.selected_columns.id.in_(some))))
    return [each for each in (*records, *photos) if each not in there]


def add_backup(connection: Connection, made: Backup) -> None:
    """Note that a copy was made."""
    values = {name: getattr(made, name) for name in Backup.__slots__ if name != "at"}
    connection.execute(insert(schema.backup), [{**values, **with_clock("at", made.at)}])
    bump_record(connection)


def newest_backup(connection: Connection, incarnation: str) -> Backup | None:
    """Return the newest copy that is on record of this life of the job; None = none is."""
    query = select(schema.backup).where(_BACKUP.incarnation == incarnation)
    row = connection.execute(query.order_by(_BACKUP.seq.desc()).limit(1)).one_or_none()
    return None if row is None else record_of(Backup, row)


def add_witness(connection: Connection, seen: Witness, *, instead_of: Iterable[str]) -> None:
    """Keep what a phone saw last, in the place of what it saw before (`instead_of`, its newest links)."""
    own = (_WITNESS.device == seen.device, _WITNESS.newest.in_([*instead_of, seen.newest]))
    connection.execute(delete(schema.witness).where(*own))
    connection.execute(insert(schema.witness), [{name: getattr(seen, name) for name in Witness.__slots__}])


def load_witnesses(connection: Connection, *, device: str = "") -> tuple[Witness, ...]:
    """Return what phones, or one of them, saw of the record, in the order they said so."""
    query = select(schema.witness).order_by(_WITNESS.reported_at, _WITNESS.device, _WITNESS.newest)
    rows = connection.execute(query.where(_WITNESS.device == device) if device else query)
    return tuple(Witness(**row._mapping) for row in rows)


def recorded_by(connection: Connection, device: str) -> tuple[int, dt.datetime | None]:
    """Return how many events came from a device, and when the newest was received."""
    query = select(func.count(), func.max(_EVENT.received_at)).where(_EVENT.device == device)
    count, newest = connection.execute(query).one()
    return int(count), newest


def copy_file(source: Path, copy: Path) -> None:
    """Copy a SQLite database as it stands at one moment, while others go on writing it.

    Raises
    ------
    JobUnreadable
        If the copy cannot be written, or does not hold together.
    """
    try:
        with closing(sqlite3.connect(source)) as one, closing(sqlite3.connect(copy)) as other:
            one.backup(other)
            found = other.execute("PRAGMA quick_check").fetchone()[0]
    except sqlite3.Error as error:
        raise JobUnreadable(f"{source} cannot be copied to {copy}: {error}") from error
    if found != "ok":
        raise JobUnreadable(f"the copy of {source} does not hold together: {found}")


def make_one_file(path: Path) -> None:
    """Make one file of a SQLite database that nobody has open; it may lie where it is only read."""
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


def dump_schema(place: Place, connection: Connection, copy: Path) -> None:
    """Write the job of a PostgreSQL database, as `connection` sees it, with the server's own program."""
    snapshot = connection.scalar(text("SELECT pg_export_snapshot()"))
    options = ["--format=custom", "--schema=linemap", f"--snapshot={snapshot}", f"--file={copy}"]
    _run("pg_dump", place, options)


def load_dump(place: Place, copy: Path) -> None:
    """Bring a job written by `dump_schema` into a PostgreSQL database that holds none."""
    _run("pg_restore", place, ["--no-owner", "--exit-on-error", "--single-transaction", str(copy)])


def _run(program: str, place: Place, options: Iterable[str]) -> None:
    """Run a program of PostgreSQL on a job's database; its password is handed over unseen."""
    found = shutil.which(program)
    if found is None:
        raise JobUnreadable(
            f"{program} is not on this machine; install PostgreSQL's client programs, of the server's version"
        )
    url = place.url.set(drivername="postgresql", password=None)
    password: Mapping[str, str] = {"PGPASSWORD": str(place.url.password)} if place.url.password else {}
    words = [found, f"--dbname={url.render_as_string()}", *options]
    done = subprocess.run(words, env={**os.environ, **password}, capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode:
        raise JobUnreadable(f"{program} failed: {done.stderr.strip().splitlines()[-1:]}")
