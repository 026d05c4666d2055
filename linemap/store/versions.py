"""The two versions of a job, asked for by every request: read again only when something was written."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import Connection, select

from linemap.store import schema

_VERSIONS = select(schema.job.c.data_version, schema.job.c.base_version)


def load_versions(connection: Connection) -> tuple[int, int]:
    """Return data version and base version; two equal base versions mean that only the record grew."""
    data_version, base_version = connection.execute(_VERSIONS).one()
    return int(data_version), int(base_version)


def load_data_version(connection: Connection) -> int:
    """Return the data version alone; two equal ones mean that nothing was changed in between."""
    return load_versions(connection)[0]


class Versions:
    """Data version and base version of the job in a SQLite file. May be shared between threads.

    A connection of its own, which never writes, asks SQLite whether anyone wrote since (PRAGMA
    data_version): that takes microseconds, a query through the pool most of a millisecond.
    """

    def __init__(self, path: Path, read: Callable[[], tuple[int, int]]) -> None:
        self._path = path
        self._read = read
        self._lock = threading.Lock()
        self._raw: sqlite3.Connection | None = None
        self._seen: tuple[int, tuple[int, int]] | None = None

    def newest(self) -> tuple[int, int]:
        """Return data version and base version as they stand in the file."""
        with self._lock:
            change = self._change()
            if change is None:
                return self._read()
            if self._seen is None or self._seen[0] != change:
                # a write in between is seen twice, never missed: the change was asked for first
                self._seen = change, self._read()
            return self._seen[1]

    def close(self) -> None:
        """Close the connection; the next question opens it again."""
        with self._lock:
            if self._raw is not None:
                self._raw.close()
            self._raw = self._seen = None

    def _change(self) -> int | None:
        """Return a number that changes whenever somebody writes; None when SQLite cannot say."""
        try:
            if self._raw is None:
                address = f"{self._path.as_uri()}?mode=ro"
                self._raw = sqlite3.connect(address, uri=True, check_same_thread=False, isolation_level=None)
            (change,) = self._raw.execute("PRAGMA data_version").fetchone()
        except sqlite3.Error:
            return None
        return int(change)
