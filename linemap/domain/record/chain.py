"""The chain that ties each event of the record to all before it.

Each link is the SHA-256 of the link before it and the event written as canonical JSON: a change, a removal or
an exchange inside the record breaks it there. Who may write the whole database could compute a new chain:
note the newest link elsewhere (on paper, in a mail) to hold the record to it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import UTC, datetime, timedelta, timezone
from operator import attrgetter
from types import MappingProxyType
from typing import Any, NamedTuple

from linemap.domain.record.event import MEASURES, Event
from linemap.domain.record.reading import Reading

#: What stands before the first link.
FIRST_LINK = ""

_NAMES = tuple(sorted(field.name for field in fields(Event)))
#: A field that has none differs from what stands here.
_DEFAULTS: Mapping[str, Any] = MappingProxyType({each.name: each.default for each in fields(Event)})
#: Takes the fields of an event in the order of their names.
_values_of = attrgetter(*_NAMES)
_USUAL = tuple(_DEFAULTS[name] for name in _NAMES)
#: Fields whose values are JSON as they are.
_WORDS = frozenset(_NAMES).difference(MEASURES) - {"happened_at", "received_at", "photos", "readings"}
_ENCODER = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True, allow_nan=False)


class Linked(NamedTuple):
    """An event as it is written in the record or in an export: its values and its link."""

    #: Place in the order of receipt.
    seq: int
    #: As `event_values` gives them.
    values: Mapping[str, Any]
    link: str


class Break(NamedTuple):
    """The first place at which a chain does not hold."""

    #: Row of the record or of an export, counted from 1.
    row: int
    seq: int
    #: Identifier of the event there.
    id: str


def event_values(event: Event) -> dict[str, Any]:
    """Return an event as JSON values; see `json_values`."""
    return {
        name: value if name in _WORDS else _plain(name, value)
        for name, value, usual in zip(_NAMES, _values_of(event), _USUAL, strict=True)
        if value != usual
    }


def json_values(fields_by_name: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields of an event as JSON values: moments in ISO 8601, what is at its default left out.

    Leaving out what is not given keeps every old link true when an event can say more one day. Every field of
    `Event` is given by its name; what they say is not checked.
    """
    return {name: _plain(name, value) for name, value in fields_by_name.items() if value != _DEFAULTS[name]}


def canonical_json(values: Mapping[str, Any]) -> str:
    """Return JSON with sorted names, no blanks and no escapes but those JSON needs.

    >>> canonical_json({"b": 1.5, "a": "ü"})
    '{"a":"ü","b":1.5}'
    """
    return _ENCODER.encode(values)


def link(previous: str, values: Mapping[str, Any]) -> str:
    """Return the link of an event: SHA-256 (FIPS 180-4) of the link before it and the event, hexadecimal.

    >>> link(FIRST_LINK, {})[:16]
    '44136fa355b3678a'
    """
    return hashlib.sha256((previous + canonical_json(values)).encode()).hexdigest()


def first_break(record: Iterable[Linked]) -> Break | None:
    """Return the first event of the whole record whose link does not follow from what stands before it."""
    previous = FIRST_LINK
    for row, linked in enumerate(record, start=1):
        if link(previous, linked.values) != linked.link:
            return Break(row, linked.seq, str(linked.values.get("id", "")))
        previous = linked.link
    return None


def _plain(name: str, value: Any) -> Any:
    if name == "received_at":
        return value.astimezone(UTC).isoformat()
    if isinstance(value, datetime):
        offset = value.utcoffset() or timedelta()
        # the databases keep offsets to the second
        zone = timezone(timedelta(seconds=round(offset.total_seconds())))
        return (value.astimezone(zone) if offset.microseconds else value).isoformat()
    if name == "readings":
        return [each.to_values() if isinstance(each, Reading) else each for each in value]
    if name in MEASURES:
        return float(value) + 0.0  # no negative zero, which not every database keeps
    return list(value) if isinstance(value, tuple) else value
