"""Everything a job's database holds, read in one transaction and not yet computed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection

from linemap.domain.causes.cause import Decision, decision_as_listed
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease, apply_releases, same_hold
from linemap.domain.crew.material import Receipt
from linemap.domain.crew.ticket import Ticket
from linemap.domain.design.guy import Guy
from linemap.domain.design.line import Line
from linemap.domain.design.naming import Naming, respelled
from linemap.domain.design.revision import written_anew
from linemap.domain.design.structure import Pole, Structures, StructureType
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.domain.design.tolerance import ToleranceEntry
from linemap.domain.framing.framing_type import FramingEntry
from linemap.domain.kind.kind import Kind
from linemap.domain.kind.when import NOW, Answering, Asked, When
from linemap.domain.record.claim import Claim
from linemap.domain.record.event import Event
from linemap.domain.record.moved import Moved, as_listed, in_place, moves_of
from linemap.domain.record.punch import PunchEntry
from linemap.domain.schedule.plan import Baseline
from linemap.domain.schedule.progress import events_taken
from linemap.domain.survey.control import ControlPoint
from linemap.domain.survey.fact import RecordedFact
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.unread import read_now
from linemap.errors import Problem
from linemap.kinds.registry import HOLDS, KINDS, PLANS, TICKETS
from linemap.service.job.naming import naming_of, numbers_given
from linemap.store.crew import load_claims, load_releases
from linemap.store.events import Received, since
from linemap.store.files import standing_problems
from linemap.store.job import JobRecord, declared_when, load_job
from linemap.store.lines import load_lines
from linemap.store.lists import load_list
from linemap.store.states import ListState, list_states
from linemap.store.structures import RecordedChange, load_changes, load_structures
from linemap.store.survey import load_decisions, load_shots
from linemap.store.times import answering, begun_on, came_on


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
    #: Day on which each plan came; None = in no file.
    baselines_came: tuple[dt.date | None, ...]
    tickets: tuple[Ticket, ...]
    receipts: tuple[Receipt, ...]
    #: Everything written on the punch list.
    punch: tuple[PunchEntry, ...]
    #: Monuments the surveys are checked against.
    control: tuple[ControlPoint, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stored(Kept):
    """A job as it is kept."""

    record: JobRecord
    #: Day on which the first structure list came; None = none did.
    begun: dt.date | None
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
    #: Holds as they stood before a later state of the list left them out or bound otherwise, or before they
    #: were released, each with when; the newest first.
    holds_before: tuple[tuple[Hold, dt.datetime], ...]
    #: Every ticket that any state of the list named, and the day the first of them came; None = none did.
    tickets_ever: tuple[Ticket, ...]
    tickets_since: dt.date | None
    #: Line name and what a revision of its lists changed, oldest first.
    changed: tuple[tuple[str, RecordedChange], ...]
    #: Record -> where it belongs, of those that were moved; the events stand there.
    moved: Mapping[str, Moved]
    #: How its structures are named; everything here names them so, however it was kept.
    naming: Naming
    #: What is wrong in the files in force, each with the kind of its file.
    problems: tuple[tuple[str, Problem], ...]

    @property
    def events(self) -> tuple[Event, ...]:
        """The events in the order of receipt."""
        return tuple(each.event for each in self.received)


def load_stored(
    connection: Connection, when: When = NOW, *, received: tuple[Received, ...] | None = None
) -> Stored:
    """Read a whole job as an open transaction sees it, whether or not it has lines and structures yet.

    Whatever names a structure names it as the list writes it, however it was kept. As of a day and as known
    by a day it is what was true and known then; of events, claims and what was seen or measured, what had
    happened. `received` are the events where they are read already.
    """
    then = answering(connection, when)
    stored = _stored(connection, then, received)
    if then is not None:
        stored = _happened(stored, then.asked)
    return _as_listed(stored)


#: What names structures record by record.
_RECORDS = (
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
)


def written_as(stored: Stored, lists: Structures) -> tuple[Stored, Mapping[tuple[str, str], str]]:
    """Return a job as if its structures had been written as other lists write them, and what that changes.

    Returns
    -------
    Stored, mapping
        (Line name, number) -> how it is written there, of those that are written another way.
    """
    own, names = stored.structures, set(stored.structures.line)
    anew = {
        (line, was): now
        for line in names
        for was, now in written_anew(own.number[own.line == line], lists.number[lists.line == line]).items()
    }
    if not anew:
        return stored, anew
    number = own.number.copy()
    for row, key in enumerate(zip(own.line, own.number, strict=True)):
        number[row] = anew.get(key, key[1])
    structures = replace(own, number=number)
    naming = naming_of(structures, stored.types, stored.record.settings)
    return _as_listed(replace(stored, structures=structures, naming=naming)), anew


def _as_listed(stored: Stored) -> Stored:
    """Return a job of which everything names its structures as the lists write them now.

    Shots whose descriptions the list has come to put in doubt say what they say by it.
    """
    listed = stored.naming.listed
    records: dict[str, Any] = {
        name: tuple(respelled(each, listed) for each in getattr(stored, name)) for name in _RECORDS
    }
    records["observed_shots"] = read_now(records["observed_shots"], stored.naming)
    received, moved = _in_place(stored.received, stored.naming)
    return replace(
        stored,
        **records,
        holds_before=tuple((respelled(hold, listed), at) for hold, at in stored.holds_before),
        received=received,
        moved=moved,
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


def _in_place(
    received: tuple[Received, ...], naming: Naming
) -> tuple[tuple[Received, ...], Mapping[str, Moved]]:
    """Return the events under the numbers of now, each where it belongs, and which of them were moved."""
    listed, plain = naming.listed, not naming.numbers.by_line
    named = tuple(
        each
        if plain and listed.has(each.event.structure, each.event.line)
        else each._replace(event=as_listed(each.event, naming))
        for each in received
    )
    moved = moves_of((each.event for each in named), naming)
    if not moved:
        return named, moved
    return tuple(
        each._replace(event=in_place(each.event, moved)) if each.event.id in moved else each for each in named
    ), moved


#: Field -> the declared list it holds; what a line is made of is no field.
_LISTS: Mapping[str, Kind[Any]] = {
    "baselines" if code == "plan" else code: kind
    for code, kind in KINDS.items()
    if code not in {"centreline", "equations"}
}


def _stored(connection: Connection, then: Answering | None, received: tuple[Received, ...] | None) -> Stored:
    settings, of_lines = (None, {}) if then is None else declared_when(connection, then.asked)
    lines, structures = (
        load_lines(connection, then=then, declared=of_lines),
        load_structures(connection, then=then),
    )
    lists = {name: load_list(connection, kind, then=then) for name, kind in _LISTS.items()}
    record = load_job(connection, settings)
    releases = tuple(each for each in load_releases(connection) if then is None or _released(each, then))
    holds, tickets = (
        [each for each in list_states(connection, kind) if then is None or each.id in then.ever]
        for kind in ("holds", "tickets")
    )
    ever = None if then is None else then.ever
    changed = tuple(
        (line.name, recorded)
        for line in lines
        for recorded in load_changes(connection, line.name, states=ever)
    )
    naming = naming_of(structures, lists["types"], record.settings)
    of_structures = [
        each for each in list_states(connection, "structures") if ever is None or each.id in ever
    ]
    return Stored(
        **{**lists, "holds": apply_releases(lists["holds"], releases)},
        record=record,
        begun=begun_on(list_states(connection, "structures")),
        lines=lines,
        structures=structures,
        observed_shots=load_shots(connection, then),
        decisions=tuple(
            each for each in load_decisions(connection) if then is None or then.asked.knows(each.at.date())
        ),
        received=since(connection, 0, then=then) if received is None else received,
        claims=load_claims(connection),
        releases=releases,
        holds_before=_holds_before(connection, holds, releases),
        baselines_came=came_on(connection, PLANS, then=then),
        tickets_ever=tuple(
            dict.fromkeys(
                ticket for state in tickets for ticket in load_list(connection, TICKETS, state=state.id)
            )
        ),
        tickets_since=tickets[0].loaded_at.date() if tickets else None,
        changed=changed,
        moved={},
        naming=replace(naming, numbers=numbers_given(of_structures, changed)),
        problems=standing_problems(connection, then),
    )


def _released(release: HoldRelease, then: Answering) -> bool:
    recorded = release.recorded_at.astimezone(release.at.tzinfo).date()
    as_of = then.asked.when.as_of
    return then.asked.knows(recorded) and (as_of is None or release.day <= as_of)


def _happened(stored: Stored, asked: Asked) -> Stored:
    """Return a job with what had happened and was known alone, each by the clock it was recorded with."""
    when = asked.when
    taken = events_taken(stored.events, as_of=when.as_of, known_by=when.known_by)
    events = {event.id: event for event in taken}
    plans = [
        (plan, came)
        for plan, came in zip(stored.baselines, stored.baselines_came, strict=True)
        if plan.frozen_on is not None or came is None or asked.holds(came, first=True)
    ]
    return replace(
        stored,
        received=tuple(
            each._replace(event=events[each.event.id]) for each in stored.received if each.event.id in events
        ),
        claims=tuple(
            claim
            for claim in stored.claims
            if asked.happened(claim.received_at.astimezone(claim.made_at.tzinfo).date())
        ),
        baselines=tuple(plan for plan, _ in plans),
        baselines_came=tuple(came for _, came in plans),
        facts=tuple(fact for fact in stored.facts if asked.happened(fact.on)),
        punch=tuple(entry for entry in stored.punch if asked.happened(entry.on)),
    )


def _holds_before(
    connection: Connection, states: Iterable[ListState], releases: Collection[HoldRelease]
) -> tuple[tuple[Hold, dt.datetime], ...]:
    """Return how holds stood before lists and releases changed them, which is what work went against."""
    found = [(each.hold, each.at) for each in releases]
    before: dict[str, Hold] = {}
    for state in states:
        listed = load_list(connection, HOLDS, state=state.id)
        named = {hold.id: hold for hold in apply_releases(listed, releases)}
        found += [
            (hold, state.loaded_at)
            for name, hold in before.items()
            if name not in named or not same_hold(hold, named[name])
        ]
        before = named
    return tuple(sorted(found, key=lambda each: each[1], reverse=True))
