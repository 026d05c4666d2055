"""The job database: one file (SQLite) or one PostgreSQL database, opened, upgraded and handed out.

Readers see one moment; writers take turns. Nothing else opens the database.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Self

from sqlalchemy import Connection, Engine, insert, text, update
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, ProgrammingError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from linemap.errors import Conflict, JobUnreadable, LinemapError, NotFound
from linemap.store import schema
from linemap.store.columns import written_tables
from linemap.store.engine import Place, engines
from linemap.store.migrate import create_tables, head, is_known, stored_revision, upgrade
from linemap.store.seals import seal_written
from linemap.store.versions import Versions, load_versions

#: Key of the advisory lock that makes writers of one PostgreSQL database take turns: "linemap" in ASCII.
_WRITER_LOCK = int.from_bytes(b"linemap", "big")
#: What a transaction has changed so far: "base", "record", or nothing.
_CHANGED = "linemap_changed"
#: How a job counts what was changed.
_GROWN = {
    "base": update(schema.job).values(
        data_version=schema.job.c.data_version + 1, base_version=schema.job.c.data_version + 1
    ),
    "record": update(schema.job).values(data_version=schema.job.c.data_version + 1),
}
#: What SQLite and PostgreSQL say when the whole database cannot be reached or read.
_BROKEN = (
    "not a database",
    "malformed",
    "disk i/o",
    "unable to open",
    "readonly",
    "database or disk is full",
    "connection",
    "connect to server",
)


class Database:
    """An open job. May be shared between threads; close it, or use it in a `with` statement."""

    def __init__(self, place: Place, *, reader: Engine, writer: Engine) -> None:
        self.place = place
        self._reader = reader
        self._writer = writer
        self._versions = None if place.path is None else Versions(place.path, self._read_versions)
        #: Schema of the job before it was brought up to date just now; "" = it was up to date.
        self.upgraded_from = ""

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees the job at one moment and can change nothing."""
        with self._failing_plainly(), self._reader.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection in one transaction, alone among writers; committed at the end or not at all.

        The data version grows by one when anything in the transaction called `bump` or `bump_record`; the
        base version follows it when anything called `bump`. What was written into tables that decide
        something is sealed with it (`linemap.store.seals`).

        Raises
        ------
        Conflict
            If another program kept writing for longer than the time-out.
        """
        with self._failing_plainly(), self._writer.begin() as connection:
            if self.place.is_postgresql:
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _WRITER_LOCK})
            connection.info.pop(_CHANGED, None)
            written_tables(connection).clear()
            yield connection
            seal_written(connection, now=dt.datetime.now(dt.UTC))
            changed = connection.info.pop(_CHANGED, "")
            if changed:
                connection.execute(_GROWN[changed])

    def versions(self) -> tuple[int, int]:
        """Return data version and base version as they stand now; every request may ask."""
        return self._read_versions() if self._versions is None else self._versions.newest()

    @property
    def tells_at_once(self) -> bool:
        """True where asking for the versions takes microseconds: of a file, not over a network."""
        return self._versions is not None

    def _read_versions(self) -> tuple[int, int]:
        with self.reading() as connection:
            return load_versions(connection)

    def close(self) -> None:
        """Close all connections."""
        if self._versions is not None:
            self._versions.close()
        self._reader.dispose()
        self._writer.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    @contextmanager
    def _failing_plainly(self) -> Iterator[None]:
        """Turn the database's own errors about the job as a whole into linemap's."""
        try:
            yield
        except PoolTimeout as error:
            raise Conflict(f"{self.place} is too busy; try again in a moment") from error
        except DBAPIError as error:
            known = _plain(self.place, error)
            if known is None:
                raise
            raise known from error


def bump(connection: Connection) -> None:
    """Note that this write transaction changed the job, so that its data version grows by one at commit."""
    connection.info[_CHANGED] = "base"


def bump_record(connection: Connection) -> None:
    """Note that this write transaction added to the record of the field: events, claims, briefings, photos.

    What is computed from everything else stays as it was, and whoever keeps it may go on using it.
    """
    connection.info.setdefault(_CHANGED, "record")


def open_job(
    target: str | Path, *, create: bool = False, name: str = "", now: dt.datetime | None = None
) -> Database:
    """Open a job, bringing an older schema up to date; or create it.

    Parameters
    ----------
    target : str or Path
        A path, or a postgresql:// URL.
    create : bool
        Make a new job there; one that exists is refused.
    name : str
        Name of the new job; "" = the name of the file or database.
    now : datetime.datetime, optional
        When the new job is made; None = the clock.

    Raises
    ------
    NotFound
        If there is nothing at `target` and `create` is not set.
    Conflict
        If `create` is set and something is there.
    JobUnreadable
        If what is there is no linemap job, was written by a newer linemap, or cannot be read.
    """
    place = Place.from_text(target)
    reader, writer = engines(place)
    database = Database(place, reader=reader, writer=writer)
    try:
        if create:
            _create(database, name=name or place.stem, now=now or dt.datetime.now(dt.UTC))
        else:
            _check(database)
    except BaseException:
        database.close()
        raise
    return database


def _create(database: Database, *, name: str, now: dt.datetime) -> None:
    place = database.place
    place.reserve()
    try:
        with database.writing() as connection:
            if place.is_postgresql:
                _claim_schema(place, connection)
            create_tables(connection)
            connection.execute(
                insert(schema.job).values(
                    id=1,
                    name=name,
                    identity=str(uuid.uuid4()),
                    incarnation=str(uuid.uuid4()),
                    created_at=now,
                    data_version=0,
                    base_version=0,
                    settings={},
                )
            )
    except BaseException:
        database.close()
        place.give_back()
        raise


def _claim_schema(place: Place, connection: Connection) -> None:
    taken = connection.scalar(text("SELECT count(*) FROM pg_namespace WHERE nspname = 'linemap'"))
    if taken:
        raise Conflict(f"{place} already holds a job; name another database, or open this one")
    connection.execute(text("CREATE SCHEMA linemap"))


def _check(database: Database) -> None:
    place = database.place
    place.require()
    with database.reading() as connection:
        found = stored_revision(connection)
    if found is None:
        raise JobUnreadable(f"{place} is no linemap job; name the job's own file or database")
    newest = head()
    if not is_known(found):
        if found < newest:
            raise JobUnreadable(
                f"{place} is older than linemap 0.1.0, the oldest that can be brought up to date"
            )
        raise JobUnreadable(
            f"{place} has the schema {found}, newer than this linemap's {newest}; install the newer linemap"
        )
    if found != newest:
        with database.writing() as connection:
            upgrade(place, connection)
        database.upgraded_from = found


def _plain(place: Place, error: DBAPIError) -> LinemapError | None:
    """Say in linemap's words what is wrong with the job as a whole; None for any other error."""
    words = str(error.orig).strip()
    folded = words.casefold()
    if "permission denied" in folded:
        return JobUnreadable(f"{place} does not let this user in: {words.splitlines()[0]}")
    if isinstance(error, IntegrityError | DataError | ProgrammingError):
        return None
    if "locked" in folded or "lock timeout" in folded:
        return Conflict(f"{place} is being written by another program; try again in a moment")
    if "database" in folded and "does not exist" in folded:
        return NotFound(f"{place} does not exist; create the database first, then the job in it")
    if any(sign in folded for sign in _BROKEN):
        return JobUnreadable(f"{place} cannot be used as a job: {words.splitlines()[0]}")
    return None
