"""Reading a job's database in one transaction, as of a day and as known by a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease, apply_releases, same_hold
from linemap.domain.kind.kind import Kind
from linemap.domain.kind.when import NOW, Answering, Asked, When
from linemap.domain.schedule.progress import events_taken
from linemap.kinds.registry import HOLDS, KINDS, PLANS, TICKETS
from linemap.service.job.naming import naming_of, numbers_given
from linemap.service.job.stored import Stored, as_listed
from linemap.store.crew import load_claims, load_releases
from linemap.store.events import Received, since
from linemap.store.files import standing_problems
from linemap.store.job import declared_when, load_job
from linemap.store.lines import load_lines
from linemap.store.lists import load_list
from linemap.store.states import ListState, list_states
from linemap.store.structures import load_changes, load_structures
from linemap.store.survey import load_decisions, load_shots
from linemap.store.times import answering, begun_on, came_on


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
    return as_listed(stored)


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
