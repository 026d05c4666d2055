"""The record of the field: events are added, each exactly once, and never changed or taken out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, Select, insert, select

from linemap.domain.event import Event
from linemap.errors import Conflict
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["Added", "Received", "add_events", "append", "load_events", "of_structure", "since"]

_FIELDS = tuple(field.name for field in fields(Event))
#: Identifiers looked up in one query; both databases take many more parameters.
_CHUNK = 1000


class Added(NamedTuple):
    """What became of a batch of events."""

    #: Events that were new.
    stored: int
    #: Events that the job, or the batch itself, had already.
    already_there: int


class Received(NamedTuple):
    """An event with its place in the order of receipt."""

    seq: int
    event: Event


def add_events(connection: Connection, events: Iterable[Event], *, file_id: int | None = None) -> Added:
    """Add events, each once: one that is there already with the same content is left as it is.

    When it was received is no part of the content: a device that saw no answer sends its events again.

    Raises
    ------
    Conflict
        If an identifier is taken by an event with other content; nothing of the batch is stored.
    """
    batch = list(events)
    known = _by_id(connection, [event.id for event in batch])
    fresh: list[Event] = []
    for event in batch:
        there = known.get(event.id)
        if there is None:
            known[event.id] = event
            fresh.append(event)
        elif not _same_content(there, event):
            raise Conflict(
                f"event {event.id} is already recorded as {_told(there)}; {_told(event)} needs an identifier "
                "of its own"
            )
    if fresh:
        connection.execute(insert(schema.event), [_row(event, file_id) for event in fresh])
        bump(connection)
    return Added(stored=len(fresh), already_there=len(batch) - len(fresh))


def append(connection: Connection, event: Event) -> bool:
    """Add one event; False when it was there already.

    Raises
    ------
    Conflict
        If its identifier is taken by an event with other content.
    """
    return add_events(connection, [event]).stored == 1


def since(connection: Connection, seq: int, *, limit: int | None = None) -> tuple[Received, ...]:
    """Return the events received after number `seq` (0 = all) in the order of receipt, at most `limit`."""
    query = _query().where(schema.event.c.seq > seq).limit(limit)
    return tuple(Received(row.seq, _event(row)) for row in connection.execute(query))


def of_structure(connection: Connection, line: str, number: str) -> tuple[Event, ...]:
    """Return the events of one structure in the order of receipt."""
    table = schema.event
    query = _query().where(table.c.line == line, table.c.structure == number)
    return tuple(_event(row) for row in connection.execute(query))


def load_events(connection: Connection) -> tuple[Event, ...]:
    """Return all events in the order of receipt."""
    return tuple(_event(row) for row in connection.execute(_query()))


def _query() -> Select[Any]:
    return select(schema.event).order_by(schema.event.c.seq)


def _by_id(connection: Connection, ids: Sequence[str]) -> dict[str, Event]:
    found: dict[str, Event] = {}
    for first in range(0, len(ids), _CHUNK):
        query = select(schema.event).where(schema.event.c.id.in_(ids[first : first + _CHUNK]))
        found |= {row.id: _event(row) for row in connection.execute(query)}
    return found


def _same_content(one: Event, other: Event) -> bool:
    return replace(one, received_at=other.received_at) == other


def _told(event: Event) -> str:
    place = " ".join(part for part in (event.line, event.structure, event.pole) if part)
    return f'"{event.step} {event.result} at {place}, {event.happened_at.isoformat()}"'


def _row(event: Event, file_id: int | None) -> dict[str, Any]:
    offset = event.happened_at.utcoffset() or dt.timedelta()
    values = {name: getattr(event, name) for name in _FIELDS}
    return {**values, "happened_offset_s": round(offset.total_seconds()), "file_id": file_id}


def _event(row: Row[Any]) -> Event:
    values = {name: getattr(row, name) for name in _FIELDS}
    zone = dt.timezone(dt.timedelta(seconds=row.happened_offset_s))
    return Event(**{**values, "happened_at": row.happened_at.astimezone(zone)})
