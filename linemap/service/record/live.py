"""New records brought into a computed job without computing the rest again.

What the record cannot change (figures, checks, findings on them) is taken over; the structures that new
events name are folded afresh. The outcome is the one that computing everything would give.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import chain

from linemap.domain.causes.cause import Cause
from linemap.domain.causes.causes import find_causes
from linemap.domain.crew.recorded_against import recorded_against
from linemap.domain.design.naming import respelled
from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event
from linemap.domain.record.replay import corrected_ids
from linemap.domain.record.status import Key, StructureStatus, fold_structure
from linemap.service.view.build import by_structure
from linemap.service.view.recorded import claimed_of, recorded_findings, shown_events
from linemap.service.view.remembered import MadeOnUse
from linemap.service.view.view import Computed, JobView
from linemap.store.crew import load_claims
from linemap.store.database import Database
from linemap.store.events import since
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
        claims = load_claims(connection)
    listed = computed.view.naming.listed
    view = replace(
        computed.view,
        data_version=data_version,
        claims_by_structure=by_structure(tuple(respelled(each, listed) for each in claims)),
    )
    if not received:
        return replace(computed, view=view)
    fresh = [respelled(each.event, listed) for each in received]
    return replace(_grown(computed, view, fresh), last_seq=received[-1].seq)


def _grown(computed: Computed, view: JobView, fresh: list[Event]) -> Computed:
    events = _with_events(view.events_by_structure, fresh)
    shown = shown_events(fresh, view.as_of)
    corrections = corrected_ids(shown)
    corrected = view.corrected | corrections
    touched = {event.key for event in shown} | _places(events, corrections)
    statuses = dict(view.statuses)
    for key in touched:
        statuses[key] = _status(view, events[key], key, corrected)
    recorded = _recorded(computed, view, statuses, events, touched)
    view = replace(view, events_by_structure=events, statuses=statuses, corrected=corrected)
    ledger = view.ledger.with_recorded(recorded, claimed_of(view), touched=touched)
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


def _recorded(
    computed: Computed,
    view: JobView,
    statuses: Mapping[Key, StructureStatus],
    events: Mapping[Key, list[Event]],
    touched: set[Key],
) -> Mapping[Key, Sequence[Finding]]:
    """Return what the record gives to look at where new events were."""
    shown = {key: shown_events(events[key], view.as_of) for key in touched}
    against = recorded_against(statuses, computed.in_force, view.workflow, events=shown, only=sorted(touched))
    return recorded_findings({key: statuses[key] for key in touched}, against)


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
