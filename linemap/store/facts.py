"""Facts seen at structures: added, each once, and never changed or taken out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields

from sqlalchemy import Connection, insert, select

from linemap.domain.survey.fact import RecordedFact
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["add_facts", "load_facts"]

#: Field of `RecordedFact` -> column: "on" is a word of the query language.
_COLUMNS = {field.name: "day" if field.name == "on" else field.name for field in fields(RecordedFact)}


def add_facts(connection: Connection, facts: Iterable[RecordedFact], *, file_id: int | None = None) -> int:
    """Add the facts that are not there yet; return how many were new.

    A fact that a later file no longer names stays: it was seen.
    """
    known = set(load_facts(connection))
    fresh = list(dict.fromkeys(fact for fact in facts if fact not in known))
    rows = [
        {"file_id": file_id} | {column: getattr(fact, name) for name, column in _COLUMNS.items()}
        for fact in fresh
    ]
    if rows:
        connection.execute(insert(schema.fact), rows)
        bump(connection)
    return len(fresh)


def load_facts(connection: Connection) -> tuple[RecordedFact, ...]:
    """Return all facts in the order they were added."""
    table = schema.fact
    columns = (table.c[column].label(name) for name, column in _COLUMNS.items())
    return tuple(
        RecordedFact(**dict(row._mapping))
        for row in connection.execute(select(*columns).order_by(table.c.seq))
    )
