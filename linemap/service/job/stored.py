"""Everything a job's database holds, not yet computed: its structures named as their lists write them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from linemap.domain.causes.cause import Decision, decision_as_listed
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease
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
from linemap.domain.record.claim import Claim
from linemap.domain.record.event import Event
from linemap.domain.record.moved import Moved, in_place, moves_of
from linemap.domain.record.moved import as_listed as event_as_listed
from linemap.domain.record.punch import PunchEntry
from linemap.domain.schedule.plan import Baseline
from linemap.domain.survey.control import ControlPoint
from linemap.domain.survey.fact import RecordedFact
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.unread import read_now
from linemap.errors import Problem
from linemap.service.job.naming import naming_of
from linemap.store.events import Received
from linemap.store.job import JobRecord
from linemap.store.structures import RecordedChange


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
    return as_listed(replace(stored, structures=structures, naming=naming)), anew


def as_listed(stored: Stored) -> Stored:
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
        else each._replace(event=event_as_listed(each.event, naming))
        for each in received
    )
    moved = moves_of((each.event for each in named), naming)
    if not moved:
        return named, moved
    return tuple(
        each._replace(event=in_place(each.event, moved)) if each.event.id in moved else each for each in named
    ), moved
