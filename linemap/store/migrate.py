"""The schema of a job over the years: how a new one is made, and an older one brought up to date.

The newest migration is read off the names of their files; Alembic is loaded only for a job that is behind.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from itertools import count
from pathlib import Path

from sqlalchemy import Connection, inspect, text

from linemap.store.engine import Place
from linemap.store.schema import metadata
from linemap.store.seals import seal_everything

#: First schema in which what decides is sealed; of a job before it, everything is as it is found.
_SEALED_SINCE = "0051"
#: Folder of the migrations, each named after its revision.
VERSIONS = Path(__file__).parent / "migrations" / "versions"


def head() -> str:
    """Return the newest migration this linemap knows."""
    return max(_revisions())


def is_known(revision: str) -> bool:
    """Tell whether a job of this schema can be opened, upgraded if it is behind."""
    return revision in _revisions()


def create_tables(connection: Connection) -> None:
    """Make the tables of a new job as they are today, with the triggers of those that only grow."""
    metadata.create_all(connection, checkfirst=False)
    connection.execute(
        text(
            "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL, "
            "CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num))"
        )
    )
    connection.execute(text("INSERT INTO alembic_version VALUES (:head)"), {"head": head()})


def stored_revision(connection: Connection) -> str | None:
    """Return the schema a database is in; None when it is no linemap job."""
    tables = set(inspect(connection).get_table_names())
    if not {"alembic_version", "job", "event"} <= tables:
        return None
    found = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return None if found is None else str(found)


def upgrade(place: Place, connection: Connection) -> None:
    """Bring the schema up to date inside the connection's transaction, all of it or nothing; keep a copy.

    The copy lies beside the job: of "north.linemap" with schema 0041 it is "north.schema-0041.linemap", of a
    PostgreSQL job the schema "linemap_0041" of its database, with a number when there is one already. A job
    that another process brought up to date meanwhile is left as it is. An upgrade that fails leaves no copy.
    """
    found = stored_revision(connection)
    if found is None or found == head():
        return
    kept = _keep_copy(place, found, connection)
    try:
        _migrate(connection)
        if found < _SEALED_SINCE:
            why = f"as it was when the schema {found} was brought up to date"
            seal_everything(connection, now=dt.datetime.now(dt.UTC), why=why)
    except BaseException:
        if kept is not None:
            kept.unlink(missing_ok=True)
        raise


def _revisions() -> frozenset[str]:
    return frozenset(path.name.partition("_")[0] for path in VERSIONS.glob("[0-9]*.py"))


def _migrate(connection: Connection) -> None:
    # a fifth of a second to load, for something that happens once in a job's life
    from alembic import command
    from alembic.config import Config

    config = Config()
    # "%" starts an interpolation in Alembic's options
    config.set_main_option("script_location", str(VERSIONS.parent).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _keep_copy(place: Place, found: str, connection: Connection) -> Path | None:
    """Copy a job as it stands before the transaction of `connection`; return the file, None on PostgreSQL."""
    path = place.path
    if path is None:
        _keep_schema(connection, f"linemap_{found}")
        return None
    names = (path.with_stem(f"{path.stem}.schema-{found}{more}") for more in _numbers("-"))
    kept = next(name for name in names if not name.exists())
    with closing(sqlite3.connect(path)) as job, closing(sqlite3.connect(kept)) as copy:
        job.backup(copy)
    return kept


def _keep_schema(connection: Connection, name: str) -> None:
    inspector = inspect(connection)
    taken = set(inspector.get_schema_names())
    kept = next(each for each in (f"{name}{more}" for more in _numbers("_")) if each not in taken)
    connection.execute(text(f"CREATE SCHEMA {kept}"))
    for table in inspector.get_table_names():
        connection.execute(text(f'CREATE TABLE {kept}."{table}" AS TABLE "{table}"'))


def _numbers(between: str) -> Iterator[str]:
    yield ""
    yield from (f"{between}{number}" for number in count(2))
