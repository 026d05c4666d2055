"""Tables that only grow: both databases refuse to change a row, to take one out, to put one in its place."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import (
    JSON,
    Column,
    Date,
    Double,
    Integer,
    Table,
    Text,
    UniqueConstraint,
    insert,
    select,
    text,
)
from sqlalchemy.exc import DBAPIError

from linemap.store.columns import Moment
from linemap.store.database import Database, open_job
from linemap.store.schema import metadata

NOW = dt.datetime(2026, 5, 15, 20, 30, 1, 250_003, tzinfo=dt.UTC)
TABLES = (
    "answer", "backup", "briefing", "claim", "decision", "declaration", "event", "fact", "hold_release",
    "job_change", "plan", "punch_entry", "seal",
)  # fmt: skip
#: What is refused of any such table on both databases; `rest` are its columns but the number of receipt.
STATEMENTS = (
    "UPDATE {table} SET {column} = {column}",
    "UPDATE {table} SET seq = 99 WHERE seq = 1",
    "DELETE FROM {table} WHERE seq = 1",
    "DELETE FROM {table}",
    "INSERT INTO {table} SELECT * FROM {table} WHERE seq = 1",
    "INSERT INTO {table} SELECT * FROM {table} WHERE true "
    "ON CONFLICT (seq) DO UPDATE SET {column} = 'forged'",
)
#: Of tables whose rows have identifiers of their own, too.
BY_IDENTIFIER = (
    "INSERT INTO {table} ({rest}) SELECT {rest} FROM {table} WHERE seq = 1",
    "INSERT INTO {table} ({rest}) SELECT {rest} FROM {table} WHERE true "
    "ON CONFLICT (id) DO UPDATE SET {column} = 'forged'",
)
SQLITE = (
    "INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
    "REPLACE INTO {table} SELECT * FROM {table} WHERE seq = 1",
    "UPDATE OR REPLACE {table} SET seq = 2 WHERE seq = 1",
    "UPDATE OR IGNORE {table} SET {column} = {column}",
    "INSERT OR IGNORE INTO {table} SELECT * FROM {table} WHERE seq = 1",
)
SQLITE_BY_IDENTIFIER = (
    "INSERT OR REPLACE INTO {table} ({rest}) SELECT {rest} FROM {table} WHERE seq = 1",
    "INSERT OR IGNORE INTO {table} ({rest}) SELECT {rest} FROM {table} WHERE seq = 1",
)
POSTGRESQL = (
    "TRUNCATE {table} CASCADE",
    "TRUNCATE file CASCADE",
    "SET LOCAL session_replication_role = replica; DELETE FROM {table}",
    "UPDATE {table} SET {column} = {column} WHERE false",
)


def value(column: Column[Any], number: int) -> Any:
    """Return what a row may hold in a column; each row has an identifier of its own."""
    if column.name == "id":
        return f"row {number}"
    if column.nullable:
        return None
    made = {
        JSON: [],
        Text: "as it was",
        Date: NOW.date(),
        Moment: NOW,
        Integer: 0,
        Double: 0.0,
    }
    return next(each for kind, each in made.items() if isinstance(column.type, kind))


def rows(table: Table) -> list[dict[str, Any]]:
    return [{each.name: value(each, number) for each in table.c if each.name != "seq"} for number in (1, 2)]


def test_these_are_all_tables_that_only_grow(new_sqlite: Path) -> None:
    with open_job(new_sqlite) as database, database.reading() as connection:
        found = connection.scalars(text("SELECT DISTINCT tbl_name FROM sqlite_master WHERE type = 'trigger'"))
        assert {*found} == {*TABLES}


@pytest.mark.parametrize("name", TABLES)
def test_the_database_refuses_to_change_what_is_there(database: Database, name: str) -> None:
    table = metadata.tables[name]
    with database.writing() as connection:
        connection.execute(insert(table), rows(table))
        sqlite = connection.dialect.name == "sqlite"
    unique = [each.columns.keys() for each in table.constraints if isinstance(each, UniqueConstraint)]
    statements = [*STATEMENTS, *(SQLITE if sqlite else POSTGRESQL)]
    if ["id"] in unique:
        statements += [*BY_IDENTIFIER, *(SQLITE_BY_IDENTIFIER if sqlite else ())]
    words = {
        "table": name,
        "column": next(each.name for each in table.c if each.name != "id" and isinstance(each.type, Text)),
        "rest": ", ".join(each.name for each in table.c if each.name != "seq"),
    }
    with database.reading() as connection:
        before = connection.execute(select(table).order_by(table.c.seq)).all()
    for recursive in ("ON", "OFF") if sqlite else ("",):
        for statement in statements:
            with database.writing() as connection:
                if recursive:
                    connection.exec_driver_sql(f"PRAGMA recursive_triggers = {recursive}")
                with pytest.raises(DBAPIError) as refused:
                    connection.exec_driver_sql(statement.format(**words))
            if "DELETE" in statement:
                assert ("frozen" if name == "plan" else "only ever added") in str(refused.value)
            with database.reading() as connection:
                assert connection.execute(select(table).order_by(table.c.seq)).all() == before, statement
