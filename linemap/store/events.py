"""The record of the field: events are added, each exactly once, and never changed or taken out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields, replace
from itertools import accumulate, islice
from operator import attrgetter, itemgetter
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, bindparam, select

from linemap.domain.design.number import number_form
from linemap.domain.finding.phrase import BY_LETTER, Called, listed_poles
from linemap.domain.kind.when import Answering
from linemap.domain.record.chain import FIRST_LINK, Linked, event_values, json_values, link
from linemap.domain.record.event import Event
from linemap.domain.record.reading import Reading
from linemap.errors import Conflict
from linemap.store import schema
from linemap.store.columns import in_zone, insert_columns, offset_s
from linemap.store.database import bump_record

_FIELDS = tuple(field.name for field in fields(Event))
#: Takes the fields of an event, in the same order.
_values_of = attrgetter(*_FIELDS)
#: Takes the fields of an event out of a row of its table, by place.
_TAKE = itemgetter(*(schema.event.c.keys().index(name) for name in _FIELDS))
#: What depends on who brought an event, and when.
_BROUGHT = ("received_at", "skew_s", "device", "signed_by", "signed_how", "role", "sent_by")
#: Identifiers looked up in one query; both databases take many more parameters.
_CHUNK = 1000

# Made once: making a statement takes longer than asking it.
_ALL = select(schema.event).order_by(schema.event.c.seq)
_COUNTED = _ALL.where(schema.counted(schema.event))
_HEAD = select(schema.event.c.chain_hash).order_by(schema.event.c.seq.desc()).limit(1)
_BY_ID = select(schema.event).where(schema.event.c.id.in_(bindparam("ids", expanding=True)))
_OF_STRUCTURES = _COUNTED.where(
    schema.event.c.line == bindparam("line"),
    schema.event.c.structure.in_(bindparam("numbers", expanding=True)),
)
# the first condition lets both databases use the index, which holds corrections alone
_CORRECTED = select(schema.event.c.supersedes).where(
    schema.event.c.supersedes != "", schema.event.c.supersedes.in_(bindparam("ids", expanding=True))
)


class Added(NamedTuple):
    """What became of a batch of events."""

    #: Events that were new.
    stored: int
    #: Events that the job, or the batch itself, had already.
    already_there: int


class Received(NamedTuple):
    """An event with its place in the order of receipt and its link in the chain."""

    seq: int
    event: Event
    chain_hash: str = ""


def add_events(connection: Connection, events: Iterable[Event], *, file_id: int | None = None) -> Added:
    """Add events, each once: one that is there already with the same content is left as it is.

    When it was received, by what clock and from whom, is no part of the content: a device that saw no answer
    sends its events again, and another may bring them. Call it inside a transaction that writes: writers take
    turns, so the chain is one.

    Raises
    ------
    Conflict
        If an identifier is taken by an event with other content; nothing of the batch is stored.
    """
    batch = list(events)
    known = find_events(connection, [event.id for event in batch])
    fresh: list[Event] = []
    for event in batch:
        there = known.get(event.id)
        if there is None:
            known[event.id] = event
            fresh.append(event)
        elif not same_content(there, event):
            raise Conflict(
                f"event {event.id} is already recorded as {event_words(there)}; "
                f"{event_words(event)} needs an identifier of its own"
            )
    add_fresh(connection, fresh, file_id=file_id)
    return Added(stored=len(fresh), already_there=len(batch) - len(fresh))


def add_fresh(connection: Connection, fresh: Sequence[Event], *, file_id: int | None = None) -> None:
    """Add events of which the caller knows, in this transaction, that none is there."""
    if fresh:
        columns = _columns(fresh, after=chain_head(connection))
        insert_columns(connection, schema.event, columns, same={"file_id": file_id})
        bump_record(connection)


def since(
    connection: Connection, seq: int, *, limit: int | None = None, then: Answering | None = None
) -> tuple[Received, ...]:
    """Return the events received after number `seq` (0 = all) in the order of receipt, at most `limit`.

    Those of files that are set aside, or were at another time, do not count and are left out.
    """
    query = _COUNTED if then is None else _ALL.where(schema.counted(schema.event, then.aside))
    result = connection.execute(query.where(schema.event.c.seq > seq).limit(limit))
    return tuple(
        Received(row.seq, _event(row), row.chain_hash) for rows in result.partitions(_CHUNK) for row in rows
    )


def since_known(connection: Connection, known: tuple[Received, ...]) -> tuple[Received, ...]:
    """Return all events that count: `known`, which did a moment ago, unless other ones do now."""
    counted = connection.scalars(_COUNTED.with_only_columns(schema.event.c.seq)).all()
    return known if [each.seq for each in known] == counted else since(connection, 0)


def chain_head(connection: Connection) -> str:
    """Return the newest link of the chain; `FIRST_LINK` when there is no event."""
    newest: str | None = connection.scalar(_HEAD)
    return FIRST_LINK if newest is None else newest


def record_in_order(connection: Connection) -> Iterator[Linked]:
    """Yield every event with its link as it is written, be it an event or not, in order of receipt.

    Raises
    ------
    ValueError
        If a moment in a row is none.
    """
    for row in connection.execute(_ALL):
        yield Linked(row.seq, json_values(_fields(row)), row.chain_hash)


def corrected_among(connection: Connection, ids: Sequence[str]) -> frozenset[str]:
    """Return those of these identifiers that some event of the job corrects."""
    found: set[str] = set()
    for first in range(0, len(ids), _CHUNK):
        found |= set(connection.scalars(_CORRECTED, {"ids": ids[first : first + _CHUNK]}))
    return frozenset(found)


def recorded_structures(connection: Connection) -> set[tuple[str, str]]:
    """Return (line, structure) of all structures that the record names."""
    table = schema.event
    query = select(table.c.line, table.c.structure).where(schema.counted(table)).distinct()
    return {(row.line, row.structure) for row in connection.execute(query)}


def of_structures(connection: Connection, keys: Iterable[tuple[str, str]]) -> tuple[Event, ...]:
    """Return the events of these structures in the order of receipt."""
    by_line: dict[str, list[str]] = {}
    for line, number in keys:
        by_line.setdefault(line, []).append(number)
    wanted = [
        {"line": line, "numbers": numbers[first : first + _CHUNK]}
        for line, numbers in by_line.items()
        for first in range(0, len(numbers), _CHUNK)
    ]
    return tuple(_event(row) for each in wanted for row in connection.execute(_OF_STRUCTURES, each))


def find_events(connection: Connection, ids: Sequence[str]) -> dict[str, Event]:
    """Return the events that have these identifiers, by identifier."""
    found: dict[str, Event] = {}
    for first in range(0, len(ids), _CHUNK):
        rows = connection.execute(_BY_ID, {"ids": ids[first : first + _CHUNK]})
        found |= {row.id: _event(row) for row in rows}
    return found


def same_content(one: Event, other: Event) -> bool:
    """Say whether two copies of an event say the same, whoever brought it, however its number is spelt.

    What the job itself says of the sign-ins behind it depends on who brings it and when, and is left out.
    """
    alike = number_form(one.structure) == number_form(other.structure)
    structure = other.structure if alike else one.structure
    return other == replace(
        one,
        structure=structure,
        **{name: getattr(other, name) for name in _BROUGHT},
    )


def event_words(event: Event, called: Called = BY_LETTER) -> str:
    """Name an event by what it says, for a message."""
    pole = listed_poles(event.pole, called)
    place = " ".join(part for part in (event.line, event.structure, pole) if part)
    return f'"{event.step or event.what} {event.result} at {place}, {event.happened_at.isoformat()}"'


def _columns(events: Sequence[Event], *, after: str) -> dict[str, Sequence[Any]]:
    """Return events as columns of their table, each with its link of the chain that goes on from `after`."""
    columns: dict[str, Sequence[Any]] = dict(
        zip(_FIELDS, zip(*map(_values_of, events), strict=True), strict=True)
    )
    columns["readings"] = [[each.to_values() for each in event.readings] for event in events]
    columns["happened_offset_s"] = [offset_s(event.happened_at) for event in events]
    links = accumulate(map(event_values, events), link, initial=after)
    columns["chain_hash"] = list(islice(links, 1, None))
    return columns


def _event(row: Row[Any]) -> Event:
    values = _fields(row)
    if values["readings"]:
        values["readings"] = tuple(Reading(**reading) for reading in values["readings"])
    return Event(**values)


def _fields(row: Row[Any]) -> dict[str, Any]:
    values = dict(zip(_FIELDS, _TAKE(row), strict=True))
    values["happened_at"] = in_zone(row.happened_at, row.happened_offset_s)
    values["photos"] = tuple(row.photos)
    values["readings"] = tuple(row.readings)
    return values
