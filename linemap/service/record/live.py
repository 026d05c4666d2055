"""New records brought into a computed job without computing the rest again.

What the record cannot change (figures, checks, findings on them) is taken over; the structures that new
events name are folded afresh. The outcome is the one that computing everything would give.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import chain

from linemap.domain.causes.cause import Cause
from linemap.domain.causes.causes import find_causes
from linemap.domain.crew.in_force import Against
from linemap.domain.crew.recorded_against import recorded_against
from linemap.domain.design.naming import respelled
from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event
from linemap.domain.record.moved import as_listed, in_place, moves_of, read_moved
from linemap.domain.record.replay import corrected_ids
from linemap.domain.record.status import Key, StructureStatus, fold_structure
from linemap.service.view.build import by_structure
from linemap.service.view.crew_checks import beside, frames_of
from linemap.service.view.proved import claimed_of
from linemap.service.view.recorded import recorded_findings, shown_events
from linemap.service.view.remembered import MadeOnUse
from linemap.service.view.view import Computed, JobView
from linemap.store.crew import load_claims
from linemap.store.database import Database
from linemap.store.events import find_events, since
from linemap.store.versions import load_versions


def refreshed(computed: Computed, database: Database) -> Computed | None:
    """Return the job with everything recorded since; None when it must be computed anew.

    `computed` is left as it is: whoever still reads it sees one data version.
    """
    with database.reading() as connection:
        data_version, base_version = load_versions(connection)
        if base_version != computed.view.base_version:
            return None
        received = since(connection, computed.last_seq)
        moving = [read_moved(each.event).event for each in received if each.event.what == "moved"]
        again = find_events(connection, moving)
        claims = load_claims(connection)
    naming = computed.view.naming
    view = replace(
        computed.view,
        data_version=data_version,
        claims_by_structure=by_structure(tuple(respelled(each, naming.listed) for each in claims)),
    )
    if not received:
        return replace(computed, view=view)
    fresh = [as_listed(each.event, naming) for each in received]
    places: set[Key] = set()
    if moving:
        sent = [as_listed(each, naming) for each in again.values()]
        view, places = _moved(view, fresh, sent)
    fresh = [in_place(each, view.moved) for each in fresh]
    return replace(_grown(computed, view, fresh, places), last_seq=received[-1].seq)


def _moved(view: JobView, fresh: Sequence[Event], sent: Iterable[Event]) -> tuple[JobView, set[Key]]:
    """Return the view with records that new moves name where they belong, and what places that touches.

    `sent` are these records as they were sent.
    """
    again = {event.id: event for event in sent}
    moves = [each for there in view.events_by_structure.values() for each in there if each.what == "moved"]
    moved = moves_of((*moves, *fresh), view.naming)
    events = dict(view.events_by_structure)
    left = {key for key, there in events.items() if any(event.id in again for event in there)}
    stood = [event.id for key in left for event in events[key] if event.id in again]
    for key in left:
        events[key] = [event for event in events[key] if event.id not in again]
    put = [in_place(again[name], moved) for name in stood]
    for event in put:
        events[event.key] = [*events.get(event.key, ()), event]
    return replace(view, moved=moved, events_by_structure=events), left | {event.key for event in put}


def _grown(computed: Computed, view: JobView, fresh: list[Event], moved: Collection[Key] = ()) -> Computed:
    events = _with_events(view.events_by_structure, fresh)
    shown = shown_events(fresh, view.as_of)
    corrections = corrected_ids(shown)
    corrected = view.corrected | corrections
    touched = {event.key for event in shown} | _places(events, corrections) | {*moved}
    statuses = dict(view.statuses)
    for key in touched:
        statuses[key] = _status(view, events[key], key, corrected)
    view = replace(view, events_by_structure=events, statuses=statuses, corrected=corrected)
    against = _against(computed, view, touched)
    recorded = recorded_findings({key: statuses[key] for key in touched}, against)
    cases = {key: found for key, found in view.cases.items() if key not in touched}
    cases |= {key: judged.cases for key, judged in against.items() if judged.cases}
    view = replace(view, cases=cases)
    view, checked = _checked(computed, view, touched)
    ledger = view.ledger.with_recorded(beside(recorded, checked), claimed_of(view), touched=touched)
    view = replace(view, ledger=ledger)
    if any(event.key in view.shots_by_structure for event in fresh):
        bare = view
        view = replace(view, causes=MadeOnUse(lambda: _causes(computed, bare)))
    return replace(computed, view=view)


def _with_events(events: Mapping[Key, list[Event]], fresh: Iterable[Event]) -> dict[Key, list[Event]]:
    """Return the events with new ones behind them; lists that others may be reading stay as they are."""
    grown = dict(events)
    for key, added in by_structure(tuple(fresh)).items():
        grown[key] = [*grown.get(key, ()), *added]
    return grown


def _places(events: Mapping[Key, list[Event]], ids: frozenset[str]) -> set[Key]:
    """Return the structures of events by their identifiers."""
    if not ids:
        return set()
    return {key for key, group in events.items() if any(event.id in ids for event in group)}


def _status(view: JobView, events: list[Event], key: Key, corrected: frozenset[str]) -> StructureStatus:
    row = view.row_of.get(key)
    letters = None if row is None else view.figures.letters_of(row)
    shown = shown_events(events, view.as_of)
    guys = view.guy_names.get(key, ())
    return fold_structure(shown, view.workflow, key=key, letters=letters, guys=guys, corrected=corrected)


def _against(computed: Computed, view: JobView, touched: set[Key]) -> dict[Key, Against]:
    """Return what the record went against where new events were."""
    return recorded_against(
        view.statuses,
        computed.in_force,
        view.workflow,
        events={key: shown_events(view.events_by_structure[key], view.as_of) for key in touched},
        corrected=view.corrected,
        only=sorted(touched),
    )


def _checked(
    computed: Computed, view: JobView, touched: set[Key]
) -> tuple[JobView, Mapping[Key, Sequence[Finding]]]:
    """Judge the crew checks where new events were; return what they give to look at."""
    frames = frames_of(view)
    shown = {key: shown_events(view.events_by_structure[key], view.as_of) for key in touched}
    standing = frames.standing(shown, view.corrected, computed.in_force)
    others = {key: checks for key, checks in view.crew_checks.items() if key not in touched}
    view = replace(view, crew_checks={**others, **standing})
    return view, frames.findings(standing, shown)


def _causes(computed: Computed, view: JobView) -> tuple[Cause, ...]:
    return find_causes(
        view.figures,
        view.set_poles,
        computed.judged,
        computed.shots,
        events=chain.from_iterable(view.events_by_structure.values()),
        tolerances=view.tolerances,
        poles=tuple(chain.from_iterable(view.poles_by_structure.values())),
        workflow=view.workflow,
        rejected=computed.rejected,
        check_ins=computed.on_control,
        solution=computed.solution,
    )
