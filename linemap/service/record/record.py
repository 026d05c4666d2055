"""Records that phones send: each taken exactly once, judged, and told what is odd about it.

A record that can be understood is kept, however odd: a step out of order, a time in the future or a place
that does not fit is the recorder's claim and becomes a finding. Only what cannot be attached to a structure,
or contradicts a record of the same identifier, is refused, and the others of its batch are stored.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from linemap.answers.record import EventResult
from linemap.domain.crew.fix import wrong_place
from linemap.domain.crew.refusal import stop_words, stopped_steps
from linemap.domain.design.number import number_form, same_number
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.ledger import SURFACES
from linemap.domain.finding.phrase import listed_poles, pole_names
from linemap.domain.record.declared_work import span_name
from linemap.domain.record.event import Event
from linemap.domain.record.moved import as_listed, read_moved
from linemap.domain.record.replay import clock_findings, corrected_ids
from linemap.domain.record.signing import taken_back_by, why_not_taken_back
from linemap.domain.record.status import Key, StructureStatus, fold_structure
from linemap.domain.record.workflow import Step
from linemap.service.record.known import Known, locate_record
from linemap.service.view.contents import check_content
from linemap.store.database import Database
from linemap.store.events import (
    add_fresh,
    corrected_among,
    event_words,
    find_events,
    of_structures,
    same_content,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A record that cannot be read, in the place of the event it should have been."""

    #: Identifier as far as it could be read; "" = not at all.
    id: str
    why: str


def record_events(
    database: Database, known: Known, reported: Sequence[Event | Refused]
) -> tuple[EventResult, ...]:
    """Store a batch of records in one transaction, each exactly once; say in its order what became of each.

    Records are as they came, what could not be read in its place; line and structure may be spelt any way.
    """
    located = [_located(known, each) for each in reported]
    events = [each.event for each in located if each.event is not None]
    if not events:
        return tuple(each.outcome for each in located)
    naming = known.naming
    keys = {each.key for each in located if each.event is not None}
    with database.writing() as connection:
        there = find_events(connection, [each for event in events for each in _ids(event)])
        kept = {
            (line, spelt)
            for line, number in keys
            for each in naming.numbers.before(line, number)
            for spelt in naming.listed.kept_as(line, each)
        }
        before = [as_listed(event, naming) for event in of_structures(connection, kept)]
        fresh = _settle(known, located, there, before)
        add_fresh(connection, fresh)
        corrected = corrected_among(connection, [event.id for event in before])
    events_at: dict[Key, list[Event]] = {key: [] for key in keys}
    for event in (*before, *(as_listed(each, naming) for each in fresh)):
        if event.key in events_at:
            events_at[event.key].append(event)
    statuses = _statuses(known, events_at, corrected | corrected_ids(fresh))
    arrived = {*there, *(event.id for event in fresh)}
    for each in located:
        if each.event is not None and each.outcome.outcome != "refused":
            event = replace(each.event, line=each.key[0], structure=each.key[1])
            found = _findings(known, event, statuses[each.key], events_at[each.key], arrived)
            each.outcome = replace(each.outcome, findings=tuple(filter(None, (each.doubt, *found))))
    return tuple(each.outcome for each in located)


@dataclass(slots=True)
class _Located:
    """One record on its way through."""

    outcome: EventResult
    #: None = refused before the job was asked.
    event: Event | None = None
    #: Where it belongs: its own place, unless a list gave that another number since its recorder looked.
    key: Key = ("", "")
    doubt: str = ""


def _located(known: Known, reported: Event | Refused) -> _Located:
    if isinstance(reported, Refused):
        return _Located(EventResult(id=reported.id, outcome="refused", why=reported.why, findings=()))
    try:
        event, key, doubt = _placed(known, reported)
        check_content(event)
    except ValueError as error:
        return _Located(EventResult(id=reported.id, outcome="refused", why=str(error), findings=()))
    return _Located(EventResult(id=event.id, outcome="stored", why="", findings=()), event, key, doubt)


def _placed(known: Known, reported: Event) -> tuple[Event, Key, str]:
    """Return a record under the number it is kept by, where it belongs, and what to ask."""
    numbers, line = known.naming.numbers, reported.line.strip() or known.only_line
    if numbers.by_line.get(line):
        was = replace(reported, line=line, structure=same_number(reported.structure))
        now = as_listed(was, known.naming)
        if number_form(now.structure) != number_form(was.structure):
            return was, now.key, f"{was.structure} has another number now: {now.structure}"
    key, doubt = locate_record(known, reported.line, reported.structure)
    return replace(reported, line=key[0], structure=key[1]), key, doubt


def _ids(event: Event) -> list[str]:
    """Return the identifiers of a record and of those it speaks of."""
    return [event.id, *_spoken_of(event)]


def _spoken_of(event: Event) -> dict[str, str]:
    """Return the records that a record speaks of, with what it does to each."""
    found = {event.supersedes: "corrects"} if event.supersedes else {}
    if event.what == "moved":
        found[read_moved(event).event] = "moves"
    return found


def _settle(
    known: Known, located: Iterable[_Located], there: Mapping[str, Event], before: Sequence[Event]
) -> list[Event]:
    """Say of each record whether it is new, known, a contradiction, or not theirs to take back.

    Return the new ones. `before` is the record of the structures until now.
    """
    kept = dict(there)
    fresh: list[Event] = []
    for each in located:
        if each.event is None:
            continue
        other = kept.get(each.event.id)
        if other is None:
            why = why_not_taken_back(each.event, taken_back_by(each.event, kept, [*before, *fresh]))
            if why:
                each.outcome = replace(each.outcome, outcome="refused", why=why)
                continue
            kept[each.event.id] = each.event
            fresh.append(each.event)
        elif same_content(other, each.event):
            each.outcome = replace(each.outcome, outcome="duplicate")
        else:
            why = (
                f"already recorded as {event_words(other, known.called(other.key))}; "
                "record a correction under an identifier of its own"
            )
            each.outcome = replace(each.outcome, outcome="refused", why=why)
    return fresh


def _statuses(
    known: Known, events_at: Mapping[Key, Sequence[Event]], corrected: frozenset[str]
) -> dict[Key, StructureStatus]:
    return {
        key: fold_structure(
            group,
            known.workflow,
            key=key,
            letters=known.letters.get(key, "AB"),
            guys=known.guys.get(key, ()),
            corrected=corrected,
        )
        for key, group in events_at.items()
    }


def _findings(
    known: Known, event: Event, status: StructureStatus, events: Sequence[Event], arrived: set[str]
) -> list[str]:
    step = known.workflow.step(event.step) if event.what == "step" else None
    letters, called = known.letters.get(event.key, "AB"), known.called(event.key)
    found = []
    if step is None and event.what == "step":
        found.append(f'"{event.step}" is no step of the workflow')
    if event.pole and event.pole not in letters:
        poles = listed_poles(letters, called)
        found.append(f"{pole_names(event.pole, called)} is not one of {poles} of {event.structure}")
    if step is not None and event.part:
        found += _part_doubt(known, event, step)
    found += [
        f"the record it {does} has not arrived"
        for other, does in _spoken_of(event).items()
        if other not in arrived
    ]
    if step is not None and event.result == "done":
        found += [
            replace(finding, called=called).words
            for finding in status.findings
            if finding.part == step.code and SURFACES["answer"](finding.severity, finding.asks)
        ]
        found += [hold.sentence() for hold in known.holds.get(event.key, ()) if hold.stops(event.step)]
        found += [stop_words(each) for each in _stops(known, event, events)]
    found += [each.words for each in clock_findings([event], line=event.line, structure=event.structure)]
    if event.position is not None:
        found.append(_place(known, event, event.position))
    return found


def _part_doubt(known: Known, event: Event, step: Step) -> Iterator[str]:
    """Say when the guy or span a record names is none of those its step is recorded for there.

    Guys that the schedule does not have are told with the status.
    """
    if step.per == "span":
        figures, row = known.sites.figures, known.sites.row_of[event.key]
        ahead = figures.neighbour(row, 1)
        name = span_name(event.structure, "" if ahead is None else figures.key(ahead)[1])
        if name != event.part:
            there = f"the span ahead of {event.structure} is {name}" if name else "no span is ahead of it"
            yield f"{step.words} is recorded for {event.part}, but {there}"
    elif step.per != "guy":
        yield f"{step.words} is recorded for each {step.per}, not for {event.part}"


def _stops(known: Known, event: Event, events: Sequence[Event]) -> Iterator[Finding]:
    """Give what stops the step of an event, unless what it is built on was recorded again meanwhile."""
    for found in known.stops.get(event.key, ()):
        placed = {*found.values.get("placed", ())} - {event.step}
        again = any(
            each.step in placed and each.result == "done" and each.moment > found.values["moved_at"]
            for each in events
        )
        if not again and event.step in stopped_steps(found, known.workflow):
            yield found


def _place(known: Known, event: Event, position: tuple[float, float]) -> str:
    return wrong_place(
        known.sites,
        line=event.line,
        structure=event.structure,
        longitude=position[0],
        latitude=position[1],
        accuracy_m=event.accuracy_m,
    )
