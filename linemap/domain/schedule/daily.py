"""The report of a day or a period: what was done, where and by whom, as the record knew it by a given day.

A report is made from the record alone, so it comes out the same whenever it is made again with the same days.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType

from linemap.domain.finding.ledger import SURFACES
from linemap.domain.finding.phrase import BY_LETTER, Called
from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, Key, StructureStatus, fold
from linemap.domain.record.workflow import Workflow
from linemap.domain.schedule.progress import Unit, by_crew, events_taken, units


@dataclass(frozen=True, slots=True, kw_only=True)
class Rework:
    """One rejection of work: the repeat is work, but not another unit."""

    line: str
    structure: str
    step: str
    rejected_on: date
    rejected_by: str
    #: Day the step was done again; None = not yet.
    again_on: date | None

    @property
    def words(self) -> str:
        """Say it for people: "framed rejected 2026-04-08 by Four Tines, made again 2026-04-09"."""
        again = f"made again {self.again_on.isoformat()}" if self.again_on else "not made again yet"
        return f"{self.step} rejected {self.rejected_on.isoformat()} by {self.rejected_by}, {again}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """What one crew did of one step in the period, with the structures behind the number."""

    crew: str
    step: str
    structures: tuple[Key, ...]
    #: Structures with the step over all crews at the end of the period.
    to_date: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PeriodReport:
    """Quantities of a period, counted as units; repeats and rejected work apart."""

    quantities: tuple[Quantity, ...]
    #: Rejections of the period, and work of the period that repeats rejected work.
    rework: tuple[Rework, ...]
    #: Sentences on steps of the period recorded by more than one crew.
    repeats: tuple[str, ...]
    #: Records of the period with something read or written, in the order they happened.
    notes: tuple[Event, ...]
    #: Records of the period that came in after its last day.
    came_late: int


def period_report(
    events: Iterable[Event],
    workflow: Workflow,
    *,
    pole_letters: Mapping[Key, str],
    guys: Mapping[Key, tuple[str, ...]] = MappingProxyType({}),
    first: date,
    last: date,
    known_by: date | None = None,
    calls: Callable[[Key], Called] = lambda _key: BY_LETTER,
) -> PeriodReport:
    """Report the units that became done from the first to the last day, both included.

    Of the whole record, what lies after the last day or became known after `known_by` is left out; pole
    letters and guys are as for `fold`. `calls` gives what the owner calls the poles of a structure.

    Raises
    ------
    ValueError
        If the period ends before it begins.
    """
    if last < first:
        raise ValueError(f"the period ends {last}, before it begins {first}; exchange the days")
    taken = events_taken(events, as_of=last, known_by=known_by)
    statuses = fold(taken, workflow, pole_letters=pole_letters, guys=guys)
    done = units(statuses)
    mine = [event for event in taken if first <= event.moment.date()]
    again = rework(taken, statuses)
    return PeriodReport(
        quantities=_quantities(done, workflow, first=first),
        rework=tuple(one for one in again if _falls_in(one, first)),
        repeats=_repeats(mine, statuses, calls),
        notes=tuple(event for event in sorted(mine, key=lambda event: event.order_key) if event.remarks()),
        came_late=sum(event.received_at.date() > last for event in mine),
    )


def _quantities(done: Sequence[Unit], workflow: Workflow, *, first: date) -> tuple[Quantity, ...]:
    to_date = Counter(unit.step for unit in done)
    order = {step.code: place for place, step in enumerate(workflow.steps)}
    return tuple(
        Quantity(
            crew=crew,
            step=step,
            structures=tuple((unit.line, unit.structure) for unit in mine),
            to_date=to_date[step],
        )
        for crew, steps in sorted(by_crew(unit for unit in done if unit.day >= first).items())
        for step, mine in sorted(steps.items(), key=lambda pair: order[pair[0]])
    )


def _falls_in(one: Rework, first: date) -> bool:
    return one.rejected_on >= first or (one.again_on is not None and one.again_on >= first)


def _repeats(
    mine: Iterable[Event], statuses: Mapping[Key, StructureStatus], calls: Callable[[Key], Called]
) -> tuple[str, ...]:
    """Return what the record itself gives to look at, at the structures of the period."""
    keys = dict.fromkeys(event.key for event in mine)
    return tuple(
        str(replace(finding, called=calls(key)))
        for key in keys
        for finding in statuses.get(key, NOTHING_RECORDED).findings
        if SURFACES["report"](finding.severity, finding.asks)
    )


def rework(events: Iterable[Event], statuses: Mapping[Key, StructureStatus]) -> tuple[Rework, ...]:
    """Return the rejections on record and when the work was done again, by day.

    `statuses` are folded from the same events, as `events_taken` gives them.
    """
    rejected = {event.id: event for event in events if event.result == "rejected" and event.what == "step"}
    found = [_rework(event, statuses) for event in rejected.values()]
    return tuple(sorted(found, key=lambda one: (one.rejected_on, one.line, one.structure, one.step)))


def _rework(event: Event, statuses: Mapping[Key, StructureStatus]) -> Rework:
    state = statuses.get(event.key, NOTHING_RECORDED).done.get(event.step)
    return Rework(
        line=event.line,
        structure=event.structure,
        step=event.step,
        rejected_on=event.moment.date(),
        rejected_by=event.who,
        again_on=state.at.date() if state is not None and state.at > event.moment else None,
    )
