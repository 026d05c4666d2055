"""How a migration makes a table one that only grows: the database itself refuses everything else.

Jobs that exist were made by these statements. What they say for a table must stay as it is; a new rule is a
new migration.
"""

from __future__ import annotations

from collections.abc import Iterator

from alembic import op

__all__ = ["let_only_grow", "sqlite_refusal"]


def let_only_grow(table: str, refusal: str, *, key: tuple[str, ...] = ("seq",), function: str = "") -> None:
    """Refuse to change, replace or remove rows of a table that was just made.

    Parameters
    ----------
    table : str
    refusal : str
        What is answered: that rows are only added, and what to do instead.
    key : tuple of str
        Columns each of which tells a row from all others.
    function : str
        Name of the PostgreSQL function that refuses; "" = after the table.
    """
    if op.get_bind().dialect.name == "postgresql":
        statements = _postgresql(table, refusal, function or f"refuse_{table}_change")
    else:
        statements = _sqlite(table, refusal, key)
    for statement in statements:
        op.execute(statement)


def sqlite_refusal(table: str, verb: str, refusal: str, *, when: str = "") -> str:
    """Return the statement that makes SQLite refuse one verb on a table."""
    return (
        f"CREATE TRIGGER {table}_{verb.lower()} BEFORE {verb} ON {table} {when} "
        f"BEGIN SELECT RAISE(ABORT, '{refusal}'); END"
    )


def _sqlite(table: str, refusal: str, key: tuple[str, ...]) -> Iterator[str]:
    yield sqlite_refusal(table, "UPDATE", refusal)
    yield sqlite_refusal(table, "DELETE", refusal)
    # INSERT OR REPLACE removes the old row without firing a delete trigger unless recursive_triggers is on,
    # so the insert itself is refused when the row is there
    same = " OR ".join(f"{name} = NEW.{name}" for name in key)
    there = f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})"  # noqa: S608 - our own names
    yield sqlite_refusal(table, "INSERT", refusal, when=there)


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
