"""Everything a job's database holds, read in one transaction and not yet computed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection

from linemap.domain.causes.cause import Decision, decision_as_listed
from linemap.domain.crew.hold import Hold, HoldRelease, apply_releases
from linemap.domain.crew.material import Receipt
from linemap.domain.crew.ticket import Ticket
from linemap.domain.design.guy import Guy
from linemap.domain.design.line import Line
from linemap.domain.design.naming import ListedNumbers, Naming, respelled
from linemap.domain.design.structure import Pole, Structures, StructureType
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.domain.design.tolerance import ToleranceEntry
from linemap.domain.framing.framing_type import FramingEntry
from linemap.domain.record.claim import Claim
from linemap.domain.record.event import Event
from linemap.domain.record.punch import PunchEntry
from linemap.domain.schedule.plan import Baseline
from linemap.domain.survey.fact import RecordedFact
from linemap.domain.survey.shot import Shot
from linemap.errors import Problem
from linemap.kinds.registry import (
    CONTEXT,
    CROSSINGS,
    FACTS,
    FRAMING,
    GUYS,
    HOLDS,
    PLANS,
    POLES,
    PUNCH,
    RECEIPTS,
    TICKETS,
    TOLERANCES,
    TYPES,
)
from linemap.service.job.naming import naming_of
from linemap.store.crew import load_claims, load_releases
from linemap.store.events import Received, since
from linemap.store.files import standing_problems
from linemap.store.job import JobRecord, load_job
from linemap.store.lines import load_lines
from linemap.store.lists import list_states, load_list
from linemap.store.structures import RecordedChange, load_changes, load_structures
from linemap.store.survey import load_decisions, load_shots


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kept:
    """What is shown as it is kept."""

    guys: tuple[Guy, ...]
    #: Shots as observed, before accepted corrections.
    observed_shots: tuple[Shot, ...]
    #: All decisions ever taken on causes, withdrawn ones included.
    decisions: tuple[Decision, ...]
    #: Every hold of the job, released ones included, and the record of releases.
    holds: tuple[Hold, ...]
    releases: tuple[HoldRelease, ...]
    crossings: tuple[Crossing, ...]
    context: tuple[ContextFeature, ...]
    #: Frozen plans, locate tickets and the yard's list, in the order of their files.
    baselines: tuple[Baseline, ...]
    tickets: tuple[Ticket, ...]
    receipts: tuple[Receipt, ...]
    #: Everything written on the punch list.
    punch: tuple[PunchEntry, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stored(Kept):
    """A job as it is kept."""

    record: JobRecord
    lines: tuple[Line, ...]
    structures: Structures
    poles: tuple[Pole, ...]
    facts: tuple[RecordedFact, ...]
    #: Events with their place in the order of receipt.
    received: tuple[Received, ...]
    claims: tuple[Claim, ...]
    types: tuple[StructureType, ...]
    framing: tuple[FramingEntry, ...]
    tolerances: tuple[ToleranceEntry, ...]
    #: Holds that only earlier states of the list name, and when the next state left each out.
    holds_dropped: tuple[tuple[Hold, dt.datetime], ...]
    #: Every ticket that any state of the list named, and the day the first of them came; None = none did.
    tickets_ever: tuple[Ticket, ...]
    tickets_since: dt.date | None
    #: Line name and what a revision of its lists changed, oldest first.
    changed: tuple[tuple[str, RecordedChange], ...]
    #: How its structures are named; everything here names them so, however it was kept.
    naming: Naming
    #: What is wrong in the files in force, each with the kind of its file.
    problems: tuple[tuple[str, Problem], ...]

    @property
    def events(self) -> tuple[Event, ...]:
        """The events in the order of receipt."""
        return tuple(each.event for each in self.received)


def load_stored(connection: Connection) -> Stored:
    """Read a whole job as an open transaction sees it, whether or not it has lines and structures yet.

    Whatever names a structure names it as the list writes it now, however it was kept.
    """
    lines, structures, types = (
        load_lines(connection),
        load_structures(connection),
        load_list(connection, TYPES),
    )
    releases = load_releases(connection)
    states = list_states(connection, "tickets")
    stored = Stored(
        record=load_job(connection),
        lines=lines,
        structures=structures,
        poles=load_list(connection, POLES),
        guys=load_list(connection, GUYS),
        tolerances=load_list(connection, TOLERANCES),
        facts=load_list(connection, FACTS),
        observed_shots=load_shots(connection),
        decisions=load_decisions(connection),
        received=since(connection, 0),
        claims=load_claims(connection),
        releases=releases,
        holds=apply_releases(load_list(connection, HOLDS), releases),
        holds_dropped=_dropped_holds(connection, releases),
        crossings=load_list(connection, CROSSINGS),
        context=load_list(connection, CONTEXT),
        types=types,
        framing=load_list(connection, FRAMING),
        baselines=load_list(connection, PLANS),
        tickets=load_list(connection, TICKETS),
        receipts=load_list(connection, RECEIPTS),
        punch=load_list(connection, PUNCH),
        tickets_ever=tuple(
            dict.fromkeys(
                ticket for state in states for ticket in load_list(connection, TICKETS, state=state.id)
            )
        ),
        tickets_since=states[0].loaded_at.date() if states else None,
        changed=tuple(
            (line.name, recorded) for line in lines for recorded in load_changes(connection, line.name)
        ),
        naming=naming_of(structures, types),
        problems=standing_problems(connection),
    )
    return _as_listed(stored, stored.naming.listed)


#: What names structures record by record.
_RECORDS = [
    "poles",
    "guys",
    "facts",
    "observed_shots",
    "claims",
    "holds",
    "crossings",
    "tickets",
    "receipts",
    "punch",
    "tickets_ever",
]


def _as_listed(stored: Stored, listed: ListedNumbers) -> Stored:
    """Return a job of which everything names its structures as the lists write them now."""
    records: dict[str, Any] = {
        name: tuple(respelled(each, listed) for each in getattr(stored, name)) for name in _RECORDS
    }
    return replace(
        stored,
        **records,
        holds_dropped=tuple((respelled(hold, listed), at) for hold, at in stored.holds_dropped),
        received=tuple(
            each
            if listed.has(each.event.structure, each.event.line)
            else each._replace(event=respelled(each.event, listed))
            for each in stored.received
        ),
        decisions=tuple(decision_as_listed(each, listed) for each in stored.decisions),
        changed=tuple(
            (
                line,
                replace(each, change=replace(each.change, number=listed.shown(each.change.number, line))),
            )
            for line, each in stored.changed
        ),
        problems=tuple((kind, respelled(problem, listed)) for kind, problem in stored.problems),
    )


def _dropped_holds(
    connection: Connection, releases: Iterable[HoldRelease]
) -> tuple[tuple[Hold, dt.datetime], ...]:
    dropped: dict[str, tuple[Hold, dt.datetime]] = {}
    before: tuple[Hold, ...] = ()
    for state in list_states(connection, "holds"):
        named = apply_releases(load_list(connection, HOLDS, state=state.id), releases)
        dropped |= {hold.id: (hold, state.loaded_at) for hold in before}
        for hold in named:
            dropped.pop(hold.id, None)
        before = named
    return tuple(dropped.values())
