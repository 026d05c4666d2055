"""Wire sections: which are ready to be pulled, what keeps the others, and what remains to be done in them.

A section that lacks one structure is worth nothing to the wire crew, so readiness is never a share.
"Ready" speaks of recorded steps only; it permits nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby, pairwise

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.reach import Coverage
from linemap.domain.record.status import Key
from linemap.domain.record.workflow import Step, Workflow
from linemap.domain.schedule.forecast import Task
from linemap.domain.schedule.progress import Site

#: Steps that every structure of a section needs before wire. Common practice, no source.
_READY_STEPS = ("set", "guyed", "blocks hung")
#: Activity of holds that keep a section from being pulled.
_WIRE = "wire"
_NAMED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One wire section: all structures from one section break to the next, both included."""

    line: str
    #: Place in its line, from 1.
    number: int
    sites: tuple[Site, ...]

    @property
    def words(self) -> str:
        """Name the section by its ends: "section 1 (1/1-7/5)"."""
        return f"section {self.number} ({self.sites[0].number}-{self.sites[-1].number})"

    def named(self, *, several: bool) -> str:
        """Name it by its ends, after its line where there are several lines."""
        return f"{self.line} {self.words}" if several else self.words


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocker:
    """One structure that keeps its section, and what it lacks."""

    structure: str
    #: Codes of the steps it lacks, in the order they were asked for.
    lacks: tuple[str, ...]
    #: Identifiers of the holds that stop one of them now.
    holds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionState:
    """How one section stands."""

    section: Section
    #: Structures that have the first of the steps asked for ("set").
    done: int
    step_words: str
    #: Structures that lack a step, in line order; () = none does.
    blockers: tuple[Blocker, ...]
    #: Holds on wire in the section, in force.
    wire_holds: tuple[Hold, ...]

    @property
    def complete(self) -> bool:
        """True when every structure has every step, whatever holds there are on wire."""
        return not self.blockers

    def sentence(self) -> str:
        """Say in one line how the section stands, with what keeps it by name."""
        head = f"{self.section.words}: {self.done} of {len(self.section.sites)} {self.step_words}"
        kept = [blocker.structure for blocker in self.blockers]
        state = f"not ready: {name_list(kept)}" if kept else "every step recorded"
        wire = "".join(f"; wire held by {hold.id}" for hold in self.wire_holds)
        return f"{head}, {state}{wire}"


def name_list(names: Sequence[str], *, most: int = _NAMED) -> str:
    """Print names, and how many more there are.

    >>> name_list(["7/3", "7/4"]), name_list(["1/1", "1/2", "1/3"], most=2)
    ('7/3, 7/4', '1/1, 1/2 and 1 more')
    """
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def wire_sections(sites: Sequence[Site]) -> tuple[Section, ...]:
    """Split lines at their section breaks; the ends of a line end a section too.

    A line of one structure has one section of one structure.
    """
    found: list[Section] = []
    for line, group in groupby(sites, key=lambda site: site.line):
        mine = list(group)
        breaks = [row for row, site in enumerate(mine) if site.section_break and 0 < row < len(mine) - 1]
        ends = [0, *breaks, len(mine) - 1]
        pieces = [mine[first : last + 1] for first, last in pairwise(ends)]
        found += [
            Section(line=line, number=place, sites=tuple(piece))
            for place, piece in enumerate(pieces, start=1)
        ]
    return tuple(found)


def section_states(
    sections: Iterable[Section], workflow: Workflow, *, holds: Mapping[Key, Sequence[Hold]]
) -> tuple[SectionState, ...]:
    """Return how each section stands, with the holds in force on the day by structure.

    Steps that the workflow lacks are passed over, guys where there are none.
    """
    asked = [step for code in _READY_STEPS if (step := workflow.step(code)) is not None]
    return tuple(_state(section, asked, holds) for section in sections)


def _state(section: Section, asked: Sequence[Step], holds: Mapping[Key, Sequence[Hold]]) -> SectionState:
    lacking = [
        (site, tuple(step.code for step in asked if site.needs(step) and not site.has(step.code)))
        for site in section.sites
    ]
    wire = {hold.id: hold for site in section.sites for hold in holds.get(site.key, ()) if _on_wire(hold)}
    return SectionState(
        section=section,
        done=sum(site.has(asked[0].code) for site in section.sites) if asked else 0,
        step_words=asked[0].words if asked else "",
        blockers=tuple(
            Blocker(
                structure=site.number,
                lacks=lacks,
                holds=tuple(hold.id for hold in holds.get(site.key, ()) if any(map(hold.stops, lacks))),
            )
            for site, lacks in lacking
            if lacks
        ),
        wire_holds=tuple(wire.values()),
    )


def _on_wire(hold: Hold) -> bool:
    """Say whether a hold names wire itself; holds on all work keep the structures first."""
    return any(activity.strip().casefold() == _WIRE for activity in hold.activities)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The day by which a section is asked to be ready, because its wire may only be pulled from a day on."""

    section: Section
    hold: Hold
    opens: date
    ready_by: date


def wire_windows(states: Iterable[SectionState], *, lead: timedelta) -> tuple[Window, ...]:
    """Return the windows that wire holds with a last day open, and when the section is asked to be ready."""
    return tuple(
        Window(
            section=state.section,
            hold=hold,
            opens=hold.to_date + timedelta(days=1),
            ready_by=hold.to_date + timedelta(days=1) - lead,
        )
        for state in states
        for hold in state.wire_holds
        if hold.to_date is not None and not hold.conditional
    )


def tasks_of(
    sites: Sequence[Site],
    sections: Iterable[Section],
    workflow: Workflow,
    holds: Coverage[Hold],
    *,
    step: str,
    several: bool,
) -> list[Task]:
    """Return the structures that lack a step, in their order, with what stops it or a step before it.

    `several` says whether sections are named after their lines.
    """
    names: dict[Key, list[str]] = {}
    for section in sections:
        for site in section.sites:
            names.setdefault(site.key, []).append(section.named(several=several))
    needed = _with_needs(workflow, step)
    return [
        _task(
            site, names.get(site.key, []), holds.at(*site.key), [code for code in needed if code not in done]
        )
        for site in sites
        if step not in (done := site.status.done)
    ]


def _task(site: Site, names: Sequence[str], holds: Sequence[Hold], lacking: Sequence[str]) -> Task:
    mine = [hold for hold in holds if any(map(hold.stops, lacking))]
    return Task(
        number=site.number,
        sections=tuple(names),
        holds=tuple(hold for hold in mine if not hold.conditional),
        conditions=tuple(hold for hold in mine if hold.conditional),
    )


def _with_needs(workflow: Workflow, code: str) -> list[str]:
    """Return a step and all that must come before it."""
    found, waiting = [], [code]
    while waiting:
        step = workflow.step(waiting.pop())
        if step is not None and step.code not in found:
            found.append(step.code)
            waiting += step.requires
    return found
