"""How far the building has come: units counted once each, by step, mile, section and crew, as of any day.

Everything is counted from the status of the structures (`linemap.domain.record.status`), so a step recorded
three times is one unit. "As of" a day takes what had happened by its end; "known by" a day takes what had
reached the job by its end.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby, pairwise

from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, Key, StructureStatus
from linemap.domain.record.workflow import Step, Workflow

#: An unbuilt run of at most this many structures between built ones is a hole; a longer one is line ahead of
#: the crews. Common practice, no source.
_HOLE_LIMIT = 6
#: The step that only guyed structures need.
_GUYED = "guyed"
#: Stands for the crew of a record that names none.
_NOT_NAMED = "crew not named"


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What counting needs to know of one structure. Lists of sites are in line order."""

    line: str
    number: str
    #: Ground distance from the start of the line.
    distance: float
    #: Line mile by true distance, the first is 1; line kilometre on metric jobs.
    mile: int
    #: Effort against a tangent structure.
    weight: float = 1.0
    #: True where wire sections end.
    section_break: bool = False
    #: True when the structure has guys.
    guyed: bool = False
    #: Ground span to the next structure; None at the end of a line.
    ahead_span: float | None = None
    #: What is recorded of it by the day of the count.
    status: StructureStatus = NOTHING_RECORDED

    @property
    def key(self) -> Key:
        """Line and number."""
        return (self.line, self.number)

    def needs(self, step: Step) -> bool:
        """Say whether a step is built here at all: guys where there are guys, wire where a span is ahead."""
        if step.per == "span":
            return self.ahead_span is not None
        return (step.per != "guy" and step.code != _GUYED) or self.guyed

    def has(self, step: str) -> bool:
        """Say whether a step is recorded as done."""
        return step in self.status.done


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One step of one structure that is done. However often it was recorded, it is one unit."""

    line: str
    structure: str
    step: str
    #: Local day on which it became done.
    day: date
    #: Crew of the record that made it done, "" = not named.
    crew: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepCount:
    """Where one step stands over all structures that need it, with the lists behind the numbers."""

    step: str
    words: str
    done: tuple[Key, ...]
    #: Structures where some poles only have it.
    begun: tuple[Key, ...]
    #: Structures that need it and do not have it, those begun included.
    open: tuple[Key, ...]
    #: Share of the work by type weight, 0 to 1; None = no structure needs the step.
    weighted: float | None

    @property
    def of(self) -> int:
        """Structures that need the step."""
        return len(self.done) + len(self.open)


@dataclass(frozen=True, slots=True, kw_only=True)
class MileRow:
    """One mile of one line: which of its structures have a step, and the holes by name."""

    line: str
    mile: int
    structures: tuple[str, ...]
    done: tuple[str, ...]
    #: Structures without the step that lie between structures with it.
    holes: tuple[str, ...]
    #: Sum of the spans, begun in this mile, whose both structures have the step; ground units.
    span_done: float
    #: Sum of all spans begun in this mile; ground units.
    span_all: float


def events_taken(
    events: Iterable[Event], *, as_of: date | None = None, known_by: date | None = None
) -> tuple[Event, ...]:
    """Return the events that had happened by the end of a day and were known by the end of a day.

    Days are those of the clock each event was recorded with. Of what is returned, the time of receipt is
    written in the zone of that clock too.
    """
    local = map(_local, events)
    return tuple(
        event
        for event in local
        if (as_of is None or event.moment.date() <= as_of)
        and (known_by is None or event.received_at.date() <= known_by)
    )


def _local(event: Event) -> Event:
    if event.received_at.utcoffset() == event.happened_at.utcoffset():
        return event
    return replace(event, received_at=event.received_at.astimezone(event.happened_at.tzinfo))


def units(statuses: Mapping[Key, StructureStatus]) -> tuple[Unit, ...]:
    """Return every step that is done, once a structure, by day; local days if folded from `events_taken`."""
    found = [
        Unit(line=line, structure=number, step=code, day=state.at.date(), crew=state.crew)
        for (line, number), status in statuses.items()
        for code, state in status.done.items()
    ]
    return tuple(sorted(found, key=lambda unit: unit.day))


def count_steps(sites: Sequence[Site], workflow: Workflow) -> tuple[StepCount, ...]:
    """Count every step of the workflow over the structures that need it, in the order of the workflow."""
    return tuple(_count(step, [site for site in sites if site.needs(step)]) for step in workflow.steps)


def _count(step: Step, needing: Sequence[Site]) -> StepCount:
    whole = sum(site.weight for site in needing)
    return StepCount(
        step=step.code,
        words=step.words,
        done=tuple(site.key for site in needing if site.has(step.code)),
        begun=tuple(site.key for site in needing if step.code in site.status.begun),
        open=tuple(site.key for site in needing if not site.has(step.code)),
        weighted=sum(site.weight for site in needing if site.has(step.code)) / whole if whole > 0.0 else None,
    )


def physical_share(sites: Sequence[Site], workflow: Workflow) -> float | None:
    """Return the share of the physical work that is done, by type weight and step weight, 0 to 1.

    Each structure counts with its type weight times the share of its steps, and a step only where it is
    needed: sum of w_type * (sum of w_step done / sum of w_step needed) / sum of w_type. Weights are the
    job's; quantity times weight is common practice, no source. None without structures or weights.
    """
    have = whole = 0.0
    for site in sites:
        needed = [step for step in workflow.steps if step.weight > 0.0 and site.needs(step)]
        total = sum(step.weight for step in needed)
        if total <= 0.0:
            continue
        whole += site.weight
        have += site.weight * sum(step.weight for step in needed if site.has(step.code)) / total
    return have / whole if whole > 0.0 else None


def by_mile(sites: Sequence[Site], step: str) -> tuple[MileRow, ...]:
    """Return one row for each mile that has structures, in line order; holes are named, never averaged."""
    gaps = holes(sites, step)
    closed = {
        one.key
        for one, other in pairwise(sites)
        if one.has(step) and other.has(step) and one.line == other.line
    }
    return tuple(
        MileRow(
            line=line,
            mile=mile,
            structures=tuple(site.number for site in group),
            done=tuple(site.number for site in group if site.has(step)),
            holes=tuple(site.number for site in group if site.key in gaps),
            span_done=sum(site.ahead_span or 0.0 for site in group if site.key in closed),
            span_all=sum(site.ahead_span or 0.0 for site in group),
        )
        for (line, mile), found in groupby(sites, key=lambda site: (site.line, site.mile))
        for group in [tuple(found)]
    )


def holes(sites: Sequence[Site], step: str) -> frozenset[Key]:
    """Return the structures passed by: short runs, in line order, without a step that back and ahead have."""
    found: list[Key] = []
    for _, of_line in groupby(sites, key=lambda site: site.line):
        runs = [(built, list(run)) for built, run in groupby(of_line, key=lambda site: site.has(step))]
        for place, (built, run) in enumerate(runs):
            if not built and 0 < place < len(runs) - 1 and len(run) <= _HOLE_LIMIT:
                found += [site.key for site in run]
    return frozenset(found)


def by_crew(done: Iterable[Unit]) -> dict[str, dict[str, tuple[Unit, ...]]]:
    """Return the units of each crew by step, crews in alphabetical order."""
    found: dict[str, dict[str, list[Unit]]] = {}
    for unit in sorted(done, key=lambda unit: (unit.crew, unit.day)):
        found.setdefault(unit.crew or _NOT_NAMED, {}).setdefault(unit.step, []).append(unit)
    return {crew: {step: tuple(mine) for step, mine in steps.items()} for crew, steps in found.items()}
