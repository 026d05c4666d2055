"""What decides, on both databases: sealed as it is written, and the first altered row of each kind named."""

from __future__ import annotations

import datetime as dt
import hashlib
import sqlite3
from contextlib import closing
from typing import Any

import psycopg
import pytest
from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Connection,
    Date,
    Double,
    Integer,
    Text,
    Time,
    insert,
    update,
)
from sqlalchemy.types import TypeEngine

from linemap.domain.record.chain import first_break
from linemap.service.record.log import verify_record
from linemap.store import schema
from linemap.store.altered import find_altered
from linemap.store.columns import Moment
from linemap.store.database import Database, open_job
from linemap.store.seals import SEALED, Sealed, seals_in_order

NOW = dt.datetime(2026, 5, 15, 20, 30, 1, 250_003, tzinfo=dt.UTC)
#: Tables of which nothing is sealed, and why that is right.
UNSEALED = {
    "event": "a chain of its own",
    "job_change": "a chain of its own",
    "seal": "the chain itself",
    "photo_part": "by the SHA-256 of the photo",
    "problem": "follows from the file",
    "proposal": "waits, decides nothing",
    "proposal_file": "waits, decides nothing",
    "sign_in_attempt": "ends by itself",
    "witness": "what phones say; it is held against the chain",
}
PHOTO = b"\x89PNG and so on"
_MADE: dict[type[TypeEngine[Any]], Any] = {
    JSON: ["as it was"],
    Text: "as it was",
    Time: NOW.time(),
    Date: NOW.date(),
    Moment: NOW,
    Integer: 7,
    Double: 1.5,
    Boolean: True,
}


def value(column: Column[Any], number: int) -> Any:
    """Return what the row with this number holds in a column; it belongs to the first row of other tables."""
    if column.foreign_keys:
        return number if column.name == "revision_id" else 1
    if column.name == "id":
        return f"row {number}" if isinstance(column.type, Text) else number
    if column.name == "sha256":
        return hashlib.sha256(PHOTO).hexdigest()
    if column.name == "content" and column.table.name == "file":
        return PHOTO
    if column.unique:
        return f"row {number}"
    if column.name == "is_current":
        return number == 1
    return next(made for kind, made in _MADE.items() if isinstance(column.type, kind))


def fill(connection: Connection) -> None:
    """Put two rows into every table that is sealed, in the order they point at each other."""
    for table in schema.metadata.sorted_tables:
        if table.name not in SEALED or table.name == "job":
            continue
        rows = [
            {
                each.name: value(each, number)
                for each in table.c
                if each.name != "seq" or "revision_id" in table.c
            }
            for number in (1, 2)
        ]
        connection.execute(insert(table), rows)
    parts = [{"photo_id": f"row {number}", "start": 0, "content": PHOTO} for number in (1, 2)]
    connection.execute(insert(schema.photo_part), parts)


@pytest.fixture
def filled(database: Database) -> Database:
    with database.writing() as connection:
        fill(connection)
    return database


def forge(database: Database, *statements: str) -> None:
    """Change a job past linemap, as whoever has the database may: rules and triggers away first."""
    path = database.place.path
    if path is not None:
        with closing(sqlite3.connect(path)) as raw, raw:
            triggers = raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
            for statement in (*(f"DROP TRIGGER {name}" for (name,) in triggers), *statements):
                raw.execute(statement)
        return
    url = database.place.url.set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(url) as raw_postgresql:
        raw_postgresql.execute("SET search_path TO linemap")
        for name in (*SEALED, *UNSEALED):
            raw_postgresql.execute(f"ALTER TABLE {name} DISABLE TRIGGER ALL".encode())
        for statement in statements:
            raw_postgresql.execute(statement.encode())


def altered(database: Database) -> list[tuple[str, str]]:
    with database.reading() as connection:
        assert first_break(seals_in_order(connection)) is None
        return [(each.noun, each.how) for each in find_altered(connection)]


def test_every_table_is_sealed_or_says_why_not() -> None:
    assert {*SEALED} | {*UNSEALED} == {*schema.metadata.tables}
    assert not {*SEALED} & {*UNSEALED}


def test_what_linemap_wrote_is_as_it_was_sealed(filled: Database) -> None:
    assert altered(filled) == []
    with filled.reading() as connection:
        assert {seal.values["of"] for seal in seals_in_order(connection)} == {*SEALED}


def last_row(sealed: Sealed) -> str:
    """Say of which rows it is the newest; of the job there is one."""
    key = sealed.key.name
    return f"{key} = (SELECT max({key}) FROM {sealed.table.name})"


def expected(how: str) -> list[tuple[str, str]]:
    return [(each.noun, how) for each in SEALED.values()]


def test_a_changed_row_of_each_kind_is_named(filled: Database) -> None:
    changes = []
    for each in SEALED.values():
        plain = [one for one in each.columns if not one.primary_key and not one.foreign_keys]
        column = next(one for one in plain if isinstance(one.type, Text | Double))
        forged = "'forged'" if isinstance(column.type, Text) else "99.5"
        changes.append(f'UPDATE {each.table.name} SET "{column.name}" = {forged} WHERE {last_row(each)}')
    forge(filled, *changes)
    assert altered(filled) == expected("changed")


def test_a_row_taken_out_of_each_kind_is_named(filled: Database) -> None:
    forge(filled, *(f"DELETE FROM {each.table.name} WHERE {last_row(each)}" for each in SEALED.values()))
    assert altered(filled) == expected("gone")


def test_a_row_that_was_not_entered_through_linemap_is_named(filled: Database) -> None:
    copies, kinds = [], [each for each in SEALED.values() if each.table.name not in {"job", "line"}]
    for each in kinds:
        names = [
            column.name for column in each.table.c if column is not each.key and "_sha256" not in column.name
        ]
        unique = {"folded"} | ({"id"} if each.grows == "seq" else set())
        fresh = [f"'{name} anew'" if name in unique else f'"{name}"' for name in names]
        key = "'forged'" if isinstance(each.key.type, Text) else 99
        quoted = ", ".join(f'"{name}"' for name in names)
        copies.append(
            f"INSERT INTO {each.table.name} ({each.key.name}, {quoted}) "
            f"SELECT {key}, {', '.join(fresh)} FROM {each.table.name} WHERE {last_row(each)}"
        )
    forge(filled, *copies)
    assert altered(filled) == [(each.noun, "added") for each in kinds]


def test_changed_bytes_of_a_photo_and_of_a_file_are_named(filled: Database) -> None:
    other = "'another picture'::bytea" if filled.place.is_postgresql else "X'616E6F74686572'"
    forge(
        filled,
        f"UPDATE photo_part SET content = {other} WHERE photo_id = 'row 2'",
        f"UPDATE file SET content = {other} WHERE id = 2",
    )
    with filled.reading() as connection:
        found = [(each.noun, each.name, each.how) for each in find_altered(connection)]
    assert found == [("photo", "row 2", "changed"), ("file", "as it was", "changed")]


def test_rows_that_may_change_are_sealed_anew(filled: Database) -> None:
    with filled.writing() as connection:
        before = len(list(seals_in_order(connection)))
        connection.execute(update(schema.person).where(schema.person.c.id == 2).values(role="viewer"))
        connection.execute(update(schema.device).values(last_seen=NOW + dt.timedelta(hours=1)))
    with filled.reading() as connection:
        made = [seal.values for seal in seals_in_order(connection)][before:]
    assert [(each["of"], each["key"], each["rows"][0][9:]) for each in made] == [("person", "2", "as it was")]
    assert altered(filled) == []
    forge(filled, "UPDATE person SET role = 'as it was' WHERE id = 2")
    assert altered(filled) == [("person", "changed")]


def test_seals_cannot_be_taken_out_or_changed_unseen(filled: Database) -> None:
    forge(filled, "DELETE FROM seal WHERE seq = 5")
    with filled.reading() as connection:
        broken = first_break(seals_in_order(connection))
    assert broken is not None
    assert broken.seq == 6


def test_where_the_seals_end_early_what_they_sealed_is_named(filled: Database) -> None:
    """Cut off with the rows it would show to nobody but a witness; cut off alone it shows."""
    forge(filled, "DELETE FROM seal WHERE seq > 1")
    assert {how for _, how in altered(filled)} == {"added"}


def test_what_a_failed_transaction_wrote_is_not_sealed(filled: Database) -> None:
    with filled.reading() as connection:
        before = len(list(seals_in_order(connection)))

    def fail() -> None:
        with filled.writing() as connection:
            connection.execute(update(schema.person).values(role="viewer"))
            raise KeyError

    with pytest.raises(KeyError):
        fail()
    with filled.writing() as connection:
        connection.execute(insert(schema.sign_in_attempt), [{"person": "a", "address": "b", "at": NOW}])
    with filled.reading() as connection:
        assert len(list(seals_in_order(connection))) == before
    assert altered(filled) == []


def test_an_older_job_is_sealed_as_it_is_found_and_says_so(older_job: str) -> None:
    with open_job(older_job) as database:
        assert altered(database) == []
        found = verify_record(database)
        assert found.holds
        assert found.sealed_since.endswith("as it was when the schema 0041 was brought up to date")
        forge(database, "UPDATE hold SET reason = 'none' WHERE id = (SELECT min(id) FROM hold)")
        assert altered(database) == [("hold", "changed")]
