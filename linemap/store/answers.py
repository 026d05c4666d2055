"""What people said about the columns of files: added, never changed, the newest of each shape standing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from linemap.store import schema
from linemap.store.database import bump

__all__ = ["KeptAnswer", "list_answers", "save_answer", "standing_answer", "standing_answers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptAnswer:
    """What one person said about files of one shape."""

    #: Fingerprint of the headings and the delimiter.
    shape: str
    #: What was said, as plain texts and tables.
    content: Mapping[str, Any]
    who: str
    #: With the time zone it was given in.
    at: dt.datetime


def save_answer(
    connection: Connection, shape: str, content: Mapping[str, Any], *, who: str, at: dt.datetime
) -> bool:
    """Add an answer, which then stands for its shape; False when the same one stands already.

    Raises
    ------
    ValueError
        If nobody is named, or the moment has no time zone.
    """
    offset = at.utcoffset()
    if not who.strip() or offset is None:
        raise ValueError("an answer needs the name of who gave it and a moment with a time zone")
    before = standing_answer(connection, shape)
    if before is not None and before.who == who and dict(before.content) == dict(content):
        return False
    values = {
        "shape": shape,
        "content": dict(content),
        "who": who,
        "at": at.astimezone(dt.UTC),
        "at_offset_s": round(offset.total_seconds()),
    }
    connection.execute(insert(schema.answer), [values])
    bump(connection)
    return True


def standing_answer(connection: Connection, shape: str) -> KeptAnswer | None:
    """Return the newest answer about files of a shape; None when nobody said anything."""
    table = schema.answer
    query = select(table).where(table.c.shape == shape).order_by(table.c.seq.desc()).limit(1)
    row = connection.execute(query).one_or_none()
    return None if row is None else _kept(row)


def standing_answers(connection: Connection) -> tuple[KeptAnswer, ...]:
    """Return the newest answer of every shape, the newest of all first."""
    newest = {answer.shape: answer for answer in list_answers(connection)}
    return tuple(reversed(newest.values()))


def list_answers(connection: Connection) -> tuple[KeptAnswer, ...]:
    """Return all answers in the order they were given, those that no longer stand included."""
    query = select(schema.answer).order_by(schema.answer.c.seq)
    return tuple(_kept(row) for row in connection.execute(query))


def _kept(row: Row[Any]) -> KeptAnswer:
    zone = dt.timezone(dt.timedelta(seconds=row.at_offset_s))
    return KeptAnswer(shape=row.shape, content=row.content, who=row.who, at=row.at.astimezone(zone))
