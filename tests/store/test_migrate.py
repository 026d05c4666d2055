"""The schema: new and upgraded jobs have the same tables, older jobs are kept, others refused."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import DBAPIError

from linemap.domain.record.chain import first_break
from linemap.errors import JobUnreadable
from linemap.store import events, migrate, schema
from linemap.store.database import Database, open_job
from linemap.store.engine import Place, engines

#: A next migration, as one would be written.
_NEXT = """
import sqlalchemy as sa
from alembic import op

revision = "9000"
down_revision = "{head}"

def upgrade():
    op.add_column("hold", sa.Column("permit", sa.Text(), nullable=False, server_default=""))
    op.execute("{more}")
"""


def stored(database: Database) -> str | None:
    with database.reading() as connection:
        return migrate.stored_revision(connection)


def differences(connection: Connection) -> list[object]:
    return list(compare_metadata(MigrationContext.configure(connection), schema.metadata))


def refusals(connection: Connection) -> set[tuple[str, str]]:
    """Return the triggers of all tables, and on PostgreSQL what they run."""
    if connection.dialect.name == "sqlite":
        found = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
        return {(name, re.sub(r"\s+", " ", sql)) for name, sql in found}
    found = connection.execute(
        text(
            "SELECT tgname, pg_get_triggerdef(t.oid) || tgenabled::text || p.prosrc FROM pg_trigger t "
            "JOIN pg_proc p ON p.oid = tgfoid WHERE NOT tgisinternal"
        )
    )
    return {(name, sql) for name, sql in found}


def checks(connection: Connection) -> set[tuple[str, str]]:
    inspector = inspect(connection)
    return {
        (name, str(check["name"]))
        for name in schema.metadata.tables
        for check in inspector.get_check_constraints(name)
    }


@contextmanager
def writing(target: str) -> Iterator[Connection]:
    """Write past linemap: nothing is checked or brought up to date."""
    reader, writer = engines(Place.from_text(target))
    with writer.begin() as connection:
        yield connection
    reader.dispose()
    writer.dispose()


def add_migration(folder: Path, monkeypatch: pytest.MonkeyPatch, *, more: str = "SELECT 1") -> str:
    """Let the migrations be those there are and one more; return the head there was."""
    older = migrate.head()
    shutil.copytree(migrate.VERSIONS.parent, folder / "migrations")
    monkeypatch.setattr(migrate, "VERSIONS", folder / "migrations" / "versions")
    (migrate.VERSIONS / "9000_permits.py").write_text(_NEXT.format(head=older, more=more), encoding="utf-8")
    assert migrate.head() == "9000"
    return older


def test_migrations_are_one_chain_from_version_0_1_0_to_the_head() -> None:
    config = Config()
    config.set_main_option("script_location", str(migrate.VERSIONS.parent))
    scripts = ScriptDirectory.from_config(config)
    chain = [script.revision for script in scripts.walk_revisions()]
    assert chain[0] == migrate.head() == scripts.get_current_head()
    assert chain[-1] == "0041"
    assert chain == sorted(chain, reverse=True)
    assert all(map(migrate.is_known, chain))


def test_a_new_job_has_exactly_the_tables(database: Database) -> None:
    assert stored(database) == migrate.head()
    with database.reading() as connection:
        assert differences(connection) == []
        assert set(inspect(connection).get_table_names()) == {*schema.metadata.tables, "alembic_version"}
        growing = {table for table, check in checks(connection) if check == f"ck_{table}_seq"}
        assert checks(connection) == {("job", "ck_job_one"), *((name, f"ck_{name}_seq") for name in growing)}
        names = {name for name, _ in refusals(connection)}
        assert {re.sub("_(update|delete|insert|refuse_change)$", "", name) for name in names} == growing


def test_an_upgraded_job_has_the_same_tables_as_a_new_one(
    older_job: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    with open_job(older_job) as database, database.reading() as connection:
        assert migrate.stored_revision(connection) == migrate.head()
        assert differences(connection) == []
        found = refusals(connection), checks(connection)
        assert first_break(events.record_in_order(connection)) is None
    with writing(older_job) as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("DROP SCHEMA linemap CASCADE"))
            connection.execute(text("CREATE SCHEMA linemap"))
            migrate.create_tables(connection)
            assert (refusals(connection), checks(connection)) == found
    if "://" not in older_job:
        new = tmp_path_factory.mktemp("new") / "new.linemap"
        with open_job(new, create=True) as database, database.reading() as connection:
            assert (refusals(connection), checks(connection)) == found


def test_an_upgrade_keeps_a_copy_of_the_older_job(
    older_job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_job(older_job).close()
    older = add_migration(tmp_path, monkeypatch)
    with open_job(older_job) as database:
        assert stored(database) == "9000"
        with database.reading() as connection:
            assert set(connection.scalars(text("SELECT permit FROM hold"))) == {""}
            if connection.dialect.name == "postgresql":
                kept = f"linemap_{older}"
                assert kept in inspect(connection).get_schema_names()
                assert connection.scalar(text(f"SELECT count(*) FROM {kept}.event")) == 785
                assert "permit" not in {c["name"] for c in inspect(connection).get_columns("hold", kept)}
        with pytest.raises(DBAPIError, match="only ever added"), database.writing() as connection:
            connection.execute(text("DELETE FROM event"))
    if "://" not in older_job:
        kept_file = tmp_path / f"north.schema-{older}.linemap"
        monkeypatch.undo()
        with open_job(kept_file) as database:
            assert stored(database) == older
            with database.reading() as connection:
                assert len(events.since(connection, 0)) == 785


def test_copies_of_older_jobs_do_not_take_each_others_place(
    older_job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_job(older_job).close()
    older = add_migration(tmp_path, monkeypatch)
    place = Place.from_text(older_job)
    if place.path is not None:
        first = tmp_path / f"north.schema-{older}.linemap"
        first.write_bytes(b"an earlier copy")
        open_job(older_job).close()
        assert first.read_bytes() == b"an earlier copy"
        assert (tmp_path / f"north.schema-{older}-2.linemap").stat().st_size > 100_000
        return
    with writing(older_job) as connection:
        connection.execute(text(f"CREATE SCHEMA linemap_{older}"))
    with open_job(older_job) as database, database.reading() as connection:
        assert inspect(connection).get_table_names(f"linemap_{older}") == []
        assert "event" in inspect(connection).get_table_names(f"linemap_{older}_2")


def test_an_upgrade_that_fails_leaves_the_older_job_and_no_copy(
    older_job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_job(older_job).close()
    older = add_migration(tmp_path, monkeypatch, more="CREATE TABLE event (id INTEGER)")
    with pytest.raises(DBAPIError, match="already exists"):
        open_job(older_job)
    with writing(older_job) as connection:
        assert migrate.stored_revision(connection) == older
        assert "permit" not in {column["name"] for column in inspect(connection).get_columns("hold")}
        if connection.dialect.name == "postgresql":
            assert f"linemap_{older}" not in inspect(connection).get_schema_names()
    assert not list(tmp_path.glob(f"*.schema-{older}*"))


@pytest.mark.parametrize(
    ("written", "said"),
    [("9999", "9999, newer than this linemap's {head}"), ("0030", "older than linemap 0.1.0")],
)
def test_jobs_of_unknown_schemas_are_refused_and_left_alone(target: str, written: str, said: str) -> None:
    with open_job(target, create=True) as database, database.writing() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = :at"), {"at": written})
    with pytest.raises(JobUnreadable, match=said.format(head=migrate.head())):
        open_job(target)
