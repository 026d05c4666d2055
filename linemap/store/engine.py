"""Where a job lives, and the two engines that reach it: one that only reads, one that writes in turn."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, TableClause, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import ConnectionPoolEntry
from sqlalchemy.sql.dml import UpdateBase

from linemap.errors import Conflict, JobUnreadable, NotFound
from linemap.store.columns import written_tables

#: Seconds a writer waits for its turn.
_PATIENCE_S = 60
#: Memory a writer may keep pages of a file in, kilobytes. A large list changes pages all over an index; with
#: the 2 MB SQLite takes by itself they are written out and read back again and again.
_CACHE_KB = 65_536


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A file path, or a PostgreSQL database."""

    #: File of a SQLite job; None for PostgreSQL.
    path: Path | None
    url: URL

    @classmethod
    def from_text(cls, target: str | Path) -> Place:
        """Read a path or a postgresql:// URL.

        Raises
        ------
        JobUnreadable
            If it is a URL of another kind, or no URL at all after "postgresql://".

        >>> Place.from_text("postgresql://ada:secret@db/north").url.drivername
        'postgresql+psycopg'
        >>> str(Place.from_text("postgresql://ada:secret@db/north"))
        'postgresql://ada:***@db/north'
        """
        text = str(target)
        scheme, separator, _rest = text.partition("://")
        if isinstance(target, Path) or not separator:
            path = Path(text).expanduser().absolute()
            return cls(path=path, url=URL.create("sqlite", database=str(path)))
        if scheme not in {"postgresql", "postgres"}:
            raise JobUnreadable(f"a job is a path or a postgresql:// URL, not {scheme}://")
        try:
            return cls(path=None, url=make_url(text).set(drivername="postgresql+psycopg"))
        except (ArgumentError, ValueError) as error:
            raise JobUnreadable(
                "the postgresql:// URL of the job cannot be read; write postgresql://user@host/database"
            ) from error

    @property
    def is_postgresql(self) -> bool:
        """Whether the job lives in PostgreSQL."""
        return self.path is None

    @property
    def stem(self) -> str:
        """The name of the file without its suffix, or of the database."""
        return self.path.stem if self.path else self.url.database or "linemap"

    def __str__(self) -> str:
        """Print the path or the URL, without its password."""
        return str(self.path) if self.path else str(self.url.set(drivername="postgresql"))

    def require(self) -> None:
        """Check that something is there that could be a job (files only; a server says so itself)."""
        if self.path is None:
            return
        if self.path.is_dir():
            raise JobUnreadable(f"{self} is a folder; name the job's file in it")
        if not self.path.exists():
            raise NotFound(f"there is no job {self}; create it with: linemap new {self.path.name}")
        if self.path.stat().st_size == 0:
            raise JobUnreadable(f"{self} is empty and no linemap job; remove it and create the job again")

    def reserve(self) -> None:
        """Make the empty file of a new job, so that no one else makes the same one."""
        if self.path is None:
            return
        try:
            os.close(os.open(self.path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o666))
        except FileExistsError as error:
            raise Conflict(f"{self} already exists; name another file, or open this one") from error
        except OSError as error:
            raise JobUnreadable(f"{self} cannot be created: {error.strerror}") from error

    def give_back(self) -> None:
        """Remove the file of a job whose making failed."""
        if self.path is not None:
            for suffix in ("", "-wal", "-shm"):
                Path(f"{self.path}{suffix}").unlink(missing_ok=True)


def engines(place: Place) -> tuple[Engine, Engine]:
    """Return a reading and a writing engine; nothing is opened yet.

    Raises
    ------
    JobUnreadable
        If the PostgreSQL driver is not installed.
    """
    make = _postgresql_engine if place.is_postgresql else _sqlite_engine
    try:
        reader, writer = make(place.url, writes=False), make(place.url, writes=True)
    except ModuleNotFoundError as error:
        raise JobUnreadable(
            f"{place} needs the PostgreSQL driver; install it with: pip install 'linemap[postgres]'"
        ) from error
    event.listen(writer, "before_execute", _note_written)
    return reader, writer


def _note_written(connection: Connection, statement: object, *_parameters: object) -> None:
    """Keep which tables a transaction changes, so that what it wrote can be sealed at its end."""
    if isinstance(statement, UpdateBase) and isinstance(statement.table, TableClause):
        written_tables(connection).add(statement.table.name)


def _sqlite_engine(url: URL, *, writes: bool) -> Engine:
    pool = {"pool_size": 1, "max_overflow": 0} if writes else {"pool_size": 8, "max_overflow": 32}
    engine = create_engine(
        url,
        pool_timeout=_PATIENCE_S,
        connect_args={"timeout": _PATIENCE_S, "isolation_level": None},
        json_serializer=_to_json,
        json_deserializer=_from_json,
        **pool,
    )
    begin = "BEGIN IMMEDIATE" if writes else "BEGIN"

    @event.listens_for(engine, "connect")
    def prepare(raw: Any, _entry: ConnectionPoolEntry) -> None:
        raw.execute("PRAGMA foreign_keys = ON")
        # without it INSERT OR REPLACE deletes rows past the triggers that refuse deleting
        raw.execute("PRAGMA recursive_triggers = ON")
        raw.execute("PRAGMA synchronous = FULL")
        raw.execute("PRAGMA journal_mode = WAL" if writes else "PRAGMA query_only = ON")
        if writes:
            raw.execute(f"PRAGMA cache_size = -{_CACHE_KB}")

    @event.listens_for(engine, "begin")
    def begin_transaction(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def _to_json(value: Any) -> str:
    """Write JSON; nearly every list of photos is empty, and there is one for each event."""
    return "[]" if isinstance(value, list | tuple) and not value else json.dumps(value)


def _from_json(text: str) -> Any:
    """Read what `_to_json` wrote."""
    return [] if text == "[]" else json.loads(text)


def _postgresql_engine(url: URL, *, writes: bool) -> Engine:
    options: dict[str, Any] = (
        {} if writes else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
    )
    engine = create_engine(url, pool_pre_ping=True, pool_timeout=_PATIENCE_S, execution_options=options)

    # first of all listeners: the dialect asks for the current schema when it first connects
    @event.listens_for(engine, "connect", insert=True)
    def prepare(raw: Any, _entry: ConnectionPoolEntry) -> None:
        raw.autocommit = True
        raw.execute("SET search_path TO linemap")
        raw.execute(f"SET lock_timeout TO '{_PATIENCE_S}s'")
        raw.autocommit = False

    return engine
