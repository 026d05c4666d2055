"""What tests of several floors share: a job of their own on each database, and the invented line's files."""

from __future__ import annotations

import csv
import datetime as dt
import os
import subprocess
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from hypothesis import settings
from psycopg import sql

from linemap.service.demo import build_demo
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job

ROOT = Path(__file__).resolve().parents[1]


# the same examples on every run of CI; a slow machine is no failure
settings.register_profile("linemap", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("linemap")


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def target(request: pytest.FixtureRequest) -> str:
    """A place where no job is yet: a path, or the URL of an empty database."""
    return str(request.getfixturevalue(f"empty_{request.param}"))


@pytest.fixture
def database(target: str) -> Iterator[Database]:
    """A new job, open."""
    with open_job(target, create=True, name="North") as opened:
        yield opened


@pytest.fixture
def empty_sqlite(tmp_path: Path) -> Path:
    return tmp_path / "north.linemap"


@pytest.fixture(scope="session")
def postgresql_url() -> Iterator[str]:
    """URL of a database of this run alone, on the throw-away server that tests/run starts."""
    server = os.environ.get("LINEMAP_TEST_POSTGRES")
    if not server:
        pytest.fail('no PostgreSQL: use "bash tests/run", or leave these tests out with -m "not postgres"')
    name = f"test_{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as admin:
        admin.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        yield server.replace("/postgres?", f"/{name}?")
        admin.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@pytest.fixture
def empty_postgresql(postgresql_url: str) -> Iterator[str]:
    yield postgresql_url
    with psycopg.connect(postgresql_url, autocommit=True) as connection:
        connection.execute("DROP SCHEMA IF EXISTS linemap CASCADE")


@pytest.fixture(scope="session")
def generator() -> Path:
    return ROOT / "demo" / "generator"


@pytest.fixture(scope="session")
def demo_files(generator: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented line's files, written once a run."""
    folder = tmp_path_factory.mktemp("demo")
    subprocess.run([sys.executable, str(generator), str(folder)], check=True, capture_output=True)
    return folder


@pytest.fixture(scope="session")
def key() -> dict[str, list[dict[str, str]]]:
    """Every table of the answer key, by name."""
    paths = sorted((ROOT / "data" / "demo_key").glob("*.csv"))
    return {
        path.stem: list(csv.DictReader(path.read_text("utf-8").splitlines(keepends=True))) for path in paths
    }


NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))


@pytest.fixture(scope="session")
def demo_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Path of the demo job; not to be changed."""
    return build_demo(tmp_path_factory.mktemp("demo_job"), now=NOW).job


@pytest.fixture(scope="session")
def demo_database(demo_job: Path) -> Iterator[Database]:
    with open_job(demo_job) as database:
        yield database


@pytest.fixture(scope="session")
def demo_view(demo_database: Database) -> JobView:
    """The demo job as of its data date, computed."""
    return build_view(demo_database, today=NOW.date())
