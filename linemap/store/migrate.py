"""The schema of a job over the years: which state it is in, and how it is brought up to date."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, text

__all__ = ["HEAD", "known_revisions", "stored_revision", "upgrade"]

#: The newest migration this linemap knows.
HEAD = "0041"


def known_revisions() -> frozenset[str]:
    """Return the identifiers of all migrations this linemap has, from its own files."""
    return frozenset(script.revision for script in _scripts().walk_revisions())


def stored_revision(connection: Connection) -> str | None:
    """Return the schema a database is in; None when it is no linemap job."""
    tables = set(inspect(connection).get_table_names())
    if not {"alembic_version", "job", "event"} <= tables:
        return None
    found = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return None if found is None else str(found)


def upgrade(connection: Connection) -> None:
    """Bring the schema up to date inside the connection's transaction: all of it or nothing."""
    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


@cache
def _scripts() -> ScriptDirectory:
    return ScriptDirectory.from_config(_config())


def _config() -> Config:
    config = Config()
    # "%" starts an interpolation in Alembic's options
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    return config
