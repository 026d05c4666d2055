"""What makes a table one that only grows: the database refuses to change, replace or remove its rows.

Jobs that exist were made by these statements, and new jobs and migrations both take them from here: what they
say for a table must stay as it is; a new rule is a migration.
"""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import DDL, Table, event


def let_only_grow(table: Table, refusal: str, *, key: tuple[str, ...] = ("seq",), function: str = "") -> None:
    """Declare that a table only grows: whoever makes it makes its triggers with it.

    Parameters
    ----------
    table : Table
    refusal : str
        What is answered: that rows are only added, and what to do instead.
    key : tuple of str
        Columns each of which tells a row from all others.
    function : str
        Name of the PostgreSQL function that refuses; "" = after the table.
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
