"""Facts seen at structures: added, each once, and never changed or taken out."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection

from linemap.domain.survey.fact import RecordedFact
from linemap.store import schema
from linemap.store.rows import add_new, columns_of, rows_in_order

__all__ = ["add_facts", "load_facts"]

#: "on" is a word of the query language.
_COLUMNS = columns_of(RecordedFact, named={"on": "day"})


def add_facts(connection: Connection, facts: Iterable[RecordedFact], *, file_id: int | None = None) -> int:
    """Add the facts that are not there yet; return how many were new.

    A fact that a later file no longer names stays: it was seen.
    """
    known = load_facts(connection)
    return add_new(connection, schema.fact, facts, known=known, columns=_COLUMNS, file_id=file_id)


def load_facts(connection: Connection) -> tuple[RecordedFact, ...]:
    """Return all facts in the order they were added."""
    return tuple(RecordedFact(**row) for row in rows_in_order(connection, schema.fact, _COLUMNS))
