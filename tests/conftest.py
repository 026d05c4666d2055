"""What tests of several floors share: a job of their own, on each of the two databases."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from psycopg import sql

from linemap.store.database import Database, open_job


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def target(request: pytest.FixtureRequest) -> str:
    """A place where no job is yet: a path, or the URL of an empty database."""
    name = "empty_file_place" if request.param == "sqlite" else "empty_postgresql"
    return str(request.getfixturevalue(name))


@pytest.fixture
def database(target: str) -> Iterator[Database]:
    """A new job, open."""
    with open_job(target, create=True, name="North") as opened:
        yield opened


@pytest.fixture
def empty_file_place(tmp_path: Path) -> Path:
    """A path where no job is yet."""
    return tmp_path / "north.linemap"


@pytest.fixture
def empty_postgresql() -> Iterator[str]:
    """URL of a database made for one test, on the throw-away server that tests/run starts."""
    server = os.environ.get("LINEMAP_TEST_POSTGRES")
    if not server:
        pytest.fail('no PostgreSQL: use "bash tests/run", or leave these tests out with -m "not postgres"')
    name = f"test_{uuid.uuid4().hex}"
    before, _, after = server.partition("/postgres?")
    with psycopg.connect(server, autocommit=True) as admin:
        admin.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        yield f"{before}/{name}?{after}"
        admin.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))
