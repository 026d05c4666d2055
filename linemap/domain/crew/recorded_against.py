"""Records held against what was in force when the work was done: holds, locate tickets, moves of the list.

A case stays when the hold is lifted or the ticket renewed: it says what was recorded against what, and who
answers it. Nothing is said of days a list does not speak for: one that names only what is valid now tells
nothing of the weeks before it came.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.reach import Coverage
from linemap.domain.crew.ticket import Ticket, needs_ticket
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, Key, StepState, StructureStatus
from linemap.domain.record.workflow import Workflow

#: Steps that put something at the place of the list, in the order of the work.
_PLACED = ("staked", "spotted", "dug", "set")


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


@dataclass(frozen=True, slots=True, kw_only=True)
class InForce:
    """What records are held against."""

    #: Every hold that any state of the list named, as it was named last.
    holds: Sequence[Hold] = ()
    #: Identifier of a hold that the list names no more -> when a newer list left it out: it still counts for
    #: what was done before.
    dropped: Mapping[str, datetime] = field(default_factory=dict)
    #: Every ticket that any state of the list named.
    tickets: Sequence[Ticket] = ()
    #: Day the first list of tickets came; None = none did.
    tickets_since: date | None = None
    moves: Mapping[Key, Sequence[Move]] = field(default_factory=dict)
    #: How far the centre of a frame may be off, in the unit of the moves: a stake that a revision left nearer
    #: to its place than this may be built on.
    move_limit: float = 0.0


def recorded_against(
    statuses: Mapping[Key, StructureStatus],
    in_force: InForce,
    workflow: Workflow,
    *,
    events: Mapping[Key, Iterable[Event]],
    only: Collection[Key] | None = None,
) -> dict[Key, list[Finding]]:
    """Return the cases of each structure that has any; of those in `only` alone when it is given.

    `events` tell whether a step was recorded again after a move.

    Returns
    -------
    dict
        `Finding.code`: "recorded under hold" (less than wrong when the hold only set a condition), "dug
        without ticket", "moved since" (a note when the place moved less than a frame may be off; else it
        stops the steps it names). A missing ticket is a case when one that covers the structure began by that
        day, or the list had come.
    """
    holds, tickets = Coverage(in_force.holds), Coverage(in_force.tickets)
    found: dict[Key, list[Finding]] = {}
    for key in statuses if only is None else only:
        status = statuses.get(key, NOTHING_RECORDED)
        if not (status.begun or status.done):
            continue
        case = _Cases(key=key, steps={**status.begun, **status.done}, workflow=workflow)
        judged = [
            *case.under_holds(holds.at(*key), in_force.dropped),
            *(case.without_ticket(tickets.at(*key), in_force.tickets_since) if in_force.tickets else ()),
            *case.moved(in_force.moves.get(key, ()), events.get(key, ()), in_force.move_limit),
        ]
        if judged:
            found[key] = judged
    return found


def _net(moves: Sequence[Move]) -> float:
    """Return how far moves lead in all; where a direction is not kept, as if all led the same way."""
    if any(move.azimuth_deg is None for move in moves):
        return sum(move.distance for move in moves)
    legs = [(move.distance, math.radians(move.azimuth_deg or 0.0)) for move in moves]
    east = sum(distance * math.sin(azimuth) for distance, azimuth in legs)
    return math.hypot(east, sum(distance * math.cos(azimuth) for distance, azimuth in legs))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cases:
    """The steps recorded at one structure."""

    key: Key
    steps: Mapping[str, StepState]
    workflow: Workflow

    def under_holds(self, holds: Sequence[Hold], dropped: Mapping[str, datetime]) -> Iterator[Finding]:
        for code, state in self.steps.items() if holds else ():
            day = state.at.date()
            for hold in holds:
                named = hold.id not in dropped or state.at < dropped[hold.id]
                if named and hold.active(day) and hold.stops(code):
                    yield self._case(
                        "recorded under hold",
                        code,
                        part=f"{code}, {hold.id}",
                        weight=Severity.UNSURE if hold.conditional else None,
                        hold=hold.id,
                        sentence=replace(hold, reason="", set_by="", release_by="").sentence(),
                    )

    def without_ticket(self, tickets: Sequence[Ticket], since: date | None) -> Iterator[Finding]:
        for code, state in self.steps.items():
            day = state.at.date()
            if not needs_ticket(code):
                continue
            begun = any(ticket.valid_from is not None and ticket.valid_from <= day for ticket in tickets)
            served = any(ticket.serves(code, day) for ticket in tickets)
            if (begun or (since is not None and since <= day)) and not served:
                yield self._case("dug without ticket", code, part=code)

    def moved(self, moves: Sequence[Move], events: Iterable[Event], limit: float) -> Iterator[Finding]:
        if not moves:
            return
        last = moves[-1]
        placed = [code for code in _PLACED if code in self.steps and self.steps[code].at < last.at]
        if not placed:
            return
        code = placed[-1]
        again = any(
            event.step in _PLACED and event.result == "done" and event.moment > last.at for event in events
        )
        if again:
            return
        since = [move for move in moves if move.at > self.steps[code].at]
        within = _net(since) <= limit
        yield self._case(
            "moved since",
            code,
            part=code,
            weight=Severity.NOTE if within else None,
            revision=last.revision,
            distance=last.distance,
            unit=last.unit,
            azimuth_deg=last.azimuth_deg,
            limit=limit if within else None,
            placed=tuple(placed),
            moved_at=last.at,
        )

    def _case(
        self, kind: str, step: str, *, part: str, weight: Severity | None = None, **values: object
    ) -> Finding:
        state = self.steps[step]
        line, structure = self.key
        said = {"step": self.workflow.words(step), "on": state.at.date(), "who": state.crew, **values}
        return Finding(
            line=line,
            structure=structure,
            code=kind,
            part=part,
            values=said,
            weight=weight,
            since=state.at.date(),
        )
