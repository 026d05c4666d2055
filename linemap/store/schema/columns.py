"""What the tables are made of: columns that come up again and again, and triggers of those that only grow."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from sqlalchemy import (
    DDL,
    Boolean,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    Table,
    Text,
    event,
)

from linemap.store.columns import Moment, offset_column

#: All tables of a job; those of each module beside this one add themselves.
metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


def text(name: str) -> Column[str]:
    """Return a column of words; "" where nothing is said."""
    return Column(name, Text, nullable=False)


def texts(*names: str) -> list[Column[str]]:
    """Return columns of words, in this order."""
    return [text(name) for name in names]


def flag(name: str) -> Column[bool]:
    """Return a column of yes or no."""
    return Column(name, Boolean(create_constraint=False), nullable=False)


def moments(*names: str) -> list[Column[dt.datetime]]:
    """Return columns of moments in time that are always known."""
    return [Column(name, Moment, nullable=False) for name in names]


def number(name: str) -> Column[float]:
    """Return a column of numbers that are always given."""
    return Column(name, Double, nullable=False)


def optional_numbers(*names: str) -> list[Column[float]]:
    """Return columns of numbers; NULL where none was given."""
    return [Column(name, Double) for name in names]


def whole(name: str) -> Column[int]:
    """Return a column of whole numbers that are always given."""
    return Column(name, Integer, nullable=False)


def with_offset(name: str) -> tuple[Column[dt.datetime], Column[int]]:
    """Return the columns of a moment and of the clock it was read by, as `linemap.store.columns` keeps it."""
    return Column(name, Moment, nullable=False), whole(offset_column(name))


def of_file() -> Column[int]:
    """Return the column that names the file a row came from; NULL = entered by hand."""
    return Column("file_id", ForeignKey("file.id"))


def of_revision() -> Column[int]:
    """Return the first half of the key of rows that belong to one state of a list."""
    return Column("revision_id", ForeignKey("revision.id"), primary_key=True)


def position() -> Column[int]:
    """Return the key of rows of a list that is replaced whole: their place in it, from 0."""
    return Column("seq", Integer, primary_key=True, autoincrement=False)


def receipt_order() -> Column[int]:
    """Return the key of rows that are only ever added: the order of receipt, from 1, never given again."""
    check = CheckConstraint("seq > 0", name="seq")
    return Column("seq", Integer, check, primary_key=True, autoincrement=True)


def let_only_grow(table: Table, refusal: str, *, key: tuple[str, ...] = ("seq",), function: str = "") -> None:
    """Declare that a table only grows: whoever makes it makes its triggers with it.

    `refusal` is answered to any other change: what to do instead. Each column of `key` tells a row from all
    others. `function` names the PostgreSQL function that refuses; "" = after the table.

    Jobs that exist were made by these statements, and migrations take them from here too: what they say for a
    table must stay as it is; a new rule is a migration.
    """
    for dialect in ("sqlite", "postgresql"):
        for statement in only_grows(table.name, refusal, key=key, function=function, dialect=dialect):
            ddl = DDL(statement)  # type: ignore[no-untyped-call]
            event.listen(table, "after_create", ddl.execute_if(dialect=dialect))


def only_grows(
    table: str, refusal: str, *, key: tuple[str, ...] = ("seq",), function: str = "", dialect: str
) -> Iterator[str]:
    """Give the statements that make a database refuse all but new rows; for migrations that make a table.

    Parameters are those of `let_only_grow`, and the name of SQLAlchemy's dialect.
    """
    if dialect == "postgresql":
        return _postgresql(table, refusal, function or f"refuse_{table}_change")
    return _sqlite(table, refusal, key)


def _sqlite(table: str, refusal: str, key: tuple[str, ...]) -> Iterator[str]:
    yield _sqlite_refusal(table, "UPDATE", refusal)
    yield _sqlite_refusal(table, "DELETE", refusal)
    # INSERT OR REPLACE removes the old row without firing a delete trigger unless recursive_triggers is on,
    # so the insert itself is refused when the row is there
    same = " OR ".join(f"{name} = NEW.{name}" for name in key)
    there = f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})"  # noqa: S608 - our own names
    yield _sqlite_refusal(table, "INSERT", refusal, when=there)


def _sqlite_refusal(table: str, verb: str, refusal: str, *, when: str = "") -> str:
    return (
        f"CREATE TRIGGER {table}_{verb.lower()} BEFORE {verb} ON {table} {when} "
        f"BEGIN SELECT RAISE(ABORT, '{refusal}'); END"
    )


def _postgresql(table: str, refusal: str, function: str) -> Iterator[str]:
    yield (
        f"CREATE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{refusal}'; END $$"
    )
    yield (
        f"CREATE TRIGGER {table}_refuse_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {function}()"
    )
    # ALWAYS: a session that plays a replica would skip ordinary triggers
    yield f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {table}_refuse_change"
