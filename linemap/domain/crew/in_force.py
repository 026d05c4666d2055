"""What records are held against: holds, tickets and lists as they ever stood, and the employer's limit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from functools import cached_property
from typing import NamedTuple

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.reach import Coverage, Reach
from linemap.domain.crew.ticket import Ticket
from linemap.domain.design.list_numbers import NumbersOfLists
from linemap.domain.design.revision import Revised
from linemap.domain.finding.finding import Finding
from linemap.domain.record.case import Case
from linemap.domain.record.status import Key


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A revision of the structure list that moved a structure."""

    at: datetime
    #: "Rev C", or the day it was loaded.
    revision: str
    #: On the ground, in `unit`: "ft" or "m".
    distance: float
    unit: str
    #: Direction on the grid; None = not kept.
    azimuth_deg: float | None = None


class HoldUntil(NamedTuple):
    """A hold as it stood until a moment; None = as it stands now."""

    hold: Hold
    until: datetime | None

    @property
    def reach(self) -> Reach:
        """The structures that lie in it."""
        return self.hold.reach


@dataclass(frozen=True, kw_only=True, eq=False)
class InForce:
    """What records are held against."""

    holds: Sequence[Hold] = ()
    #: Holds as they stood until a newer list left them out or bound otherwise, or until they were released,
    #: the newest first: each counts for what was done before.
    holds_before: Sequence[tuple[Hold, datetime]] = ()
    #: Every ticket that any state of the list named.
    tickets: Sequence[Ticket] = ()
    #: Day the first list of tickets came; None = none did.
    tickets_since: date | None = None
    moves: Mapping[Key, Sequence[Move]] = field(default_factory=dict)
    #: How far the centre of a frame may be off, in the unit of the moves: a stake that a revision left nearer
    #: to its place than this may be built on.
    move_limit: float = 0.0
    #: The employer's limit, miles an hour; None = nobody entered one.
    wind_limit_mph: float | None = None
    #: What revisions of the structure list changed at a structure, oldest first, each with when it came.
    revised: Mapping[Key, Sequence[tuple[datetime, Revised]]] = field(default_factory=dict)
    #: Time zone of the job, by whose clock holds and tickets run; None = not known: that of each record.
    zone: tzinfo | None = None
    #: The structure lists there were.
    lists: NumbersOfLists = field(default_factory=NumbersOfLists)

    @property
    def all_holds(self) -> Iterator[HoldUntil]:
        """The holds as they stand, then as they stood, with what they are for the wire of spans."""
        for hold, until in (*((hold, None) for hold in self.holds), *self.holds_before):
            yield from (HoldUntil(each, until) for each in (hold, *hold.on_wire()))

    @cached_property
    def holds_at(self) -> Coverage[HoldUntil]:
        """The holds by structure, read once for all records that come."""
        return Coverage(self.all_holds)

    @cached_property
    def tickets_at(self) -> Coverage[Ticket]:
        """The tickets by structure."""
        return Coverage(self.tickets)

    def local(self, at: datetime) -> datetime:
        """Return a moment by the clock of the job."""
        return at if self.zone is None else at.astimezone(self.zone)


class Against(NamedTuple):
    """What the record of one structure went against."""

    #: What a record of the work closes, not words: stakes from before a move.
    findings: tuple[Finding, ...]
    #: Closed ones included.
    cases: tuple[Case, ...]

    @property
    def open(self) -> tuple[Finding, ...]:
        """All of it that is to be looked at."""
        return (*(case.finding for case in self.cases if case.is_open), *self.findings)


def net_move(moves: Sequence[Move]) -> float:
    """Return how far moves lead in all; where a direction is not kept, as if all led the same way."""
    if any(move.azimuth_deg is None for move in moves):
        return sum(move.distance for move in moves)
    legs = [(move.distance, math.radians(move.azimuth_deg or 0.0)) for move in moves]
    east = sum(distance * math.sin(azimuth) for distance, azimuth in legs)
    return math.hypot(east, sum(distance * math.cos(azimuth) for distance, azimuth in legs))
