"""Where a crew may go next, by the records: every structure is workable, refused with a sentence, or done.

The answer does not depend on the order of what it is asked about, and adding a hold can only take
structures away. "Workable by the records" permits nothing: it says that no record is in the way.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.material import Shortage, needs_material
from linemap.domain.crew.refusal import Obstacle, condition_words, live_claims, obstacles_of, refusal_sentence
from linemap.domain.crew.ticket import Ticket, needs_ticket, ticket_for
from linemap.domain.design.number import number_key
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import date_words
from linemap.domain.record.claim import Claim
from linemap.domain.record.punch import PunchItem
from linemap.domain.record.status import NOTHING_RECORDED, StructureStatus
from linemap.domain.record.workflow import Workflow

#: A ticket that ends within this many days is told. Common practice, no source.
_SOON_DAYS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What the records hold of one structure that matters for going there."""

    line: str
    number: str
    status: StructureStatus = NOTHING_RECORDED
    #: Findings that stop work there.
    stops: tuple[Finding, ...] = ()
    #: Holds in force there on the day.
    holds: tuple[Hold, ...] = ()
    #: Tickets that cover it.
    tickets: tuple[Ticket, ...] = ()
    shortages: tuple[Shortage, ...] = ()
    claims: tuple[Claim, ...] = ()
    #: Open punch items.
    punch: tuple[PunchItem, ...] = ()
    #: True when the yard's list names the structure.
    material_known: bool = False
    #: Metres to travel; inf = no way is known.
    travel_m: float = math.inf
    #: Metres along the line; the order where no way is known.
    along_m: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Who asks, for which step, on which day."""

    crew: str
    #: Code of a step of the workflow.
    step: str
    workflow: Workflow
    #: Day the records are shown for.
    on: date
    #: Moment that claims are compared with, with a time zone.
    now: datetime
    #: True when the job keeps locate tickets at all.
    tickets_kept: bool = False
    #: Step -> the crew that usually records it.
    recorded_by: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Workable:
    """A structure that no record keeps the crew from."""

    line: str
    number: str
    #: What speaks for it, in sentences.
    why: tuple[str, ...]
    #: What must be there or seen to for the work to go on, in sentences.
    conditions: tuple[str, ...]
    travel_m: float
    along_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A structure that some record keeps the crew from."""

    line: str
    number: str
    #: Cause, date, who releases it.
    reason: str
    causes: tuple[Obstacle, ...]

    @property
    def sentence(self) -> str:
        """One sentence: the structure, and the reason."""
        return f"{self.number}: {self.reason}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """The whole answer; the three lists hold every structure exactly once."""

    #: Nearest first by travel, then those without a known way by the line.
    workable: tuple[Workable, ...]
    #: In the order of the numbers.
    refused: tuple[Refused, ...]
    #: (line, number) of structures where the step is done already.
    done: tuple[tuple[str, str], ...]


def next_structures(sites: Iterable[Site], asked: Asked) -> Next:
    """Judge every structure for a crew's step and put the workable ones in order of travel.

    Raises
    ------
    ValueError
        If the workflow has no such step.
    """
    if asked.workflow.step(asked.step) is None:
        known = ", ".join(step.code for step in asked.workflow.steps)
        raise ValueError(f"{asked.step!r} is no step of the workflow; use one of {known}")
    workable: list[Workable] = []
    refused: list[Refused] = []
    done: list[tuple[str, str]] = []
    for site in sites:
        if asked.step in site.status.done:
            done.append((site.line, site.number))
            continue
        causes = _causes(site, asked)
        if causes:
            refused.append(
                Refused(line=site.line, number=site.number, reason=refusal_sentence(causes), causes=causes)
            )
        else:
            workable.append(_workable(site, asked))
    return Next(
        workable=tuple(sorted(workable, key=_travel_order)),
        refused=tuple(sorted(refused, key=lambda one: _line_order(one.line, one.number))),
        done=tuple(sorted(done, key=lambda one: _line_order(*one))),
    )


def step_of_crew(crew: str, done: Iterable[tuple[str, str]], workflow: Workflow) -> str | None:
    """Return the step a crew has done at most structures; of two as frequent the earlier one of the workflow.

    `done` are pairs of step and crew, one a structure. None when the crew did nothing the workflow knows.

    >>> from linemap.domain.record.workflow import FRAMED_ON_GROUND
    >>> step_of_crew("heron", [("framed", "Heron"), ("dug", "Badger")], FRAMED_ON_GROUND)
    'framed'
    """
    counts = Counter(step for step, name in done if name.casefold() == crew.casefold())
    order = [step.code for step in workflow.order() if counts[step.code]]
    return max(order, key=lambda code: (counts[code], -order.index(code)), default=None)


def _causes(site: Site, asked: Asked) -> tuple[Obstacle, ...]:
    return obstacles_of(
        step=asked.step,
        workflow=asked.workflow,
        status=site.status,
        stops=site.stops,
        holds=site.holds,
        tickets=site.tickets,
        tickets_kept=asked.tickets_kept,
        shortages=site.shortages,
        claims=site.claims,
        crew=asked.crew,
        on=asked.on,
        now=asked.now,
        recorded_by=asked.recorded_by,
    )


def _workable(site: Site, asked: Asked) -> Workable:
    return Workable(
        line=site.line,
        number=site.number,
        why=tuple(_why(site, asked)),
        conditions=tuple(_conditions(site, asked)),
        travel_m=site.travel_m,
        along_m=site.along_m,
    )


def _why(site: Site, asked: Asked) -> Iterable[str]:
    step = asked.workflow.step(asked.step)
    for code in step.requires if step is not None else ():
        state = site.status.done[code]
        by = f" by {state.crew}" if state.crew else ""
        yield f"{asked.workflow.words(code)} {date_words(state.at.date())}{by}"
    begun = site.status.begun.get(asked.step)
    if begun is not None:
        yield f"{asked.workflow.words(asked.step)} for pole {begun.poles} only: the rest is open"
    yield from (finding.words for finding in site.status.findings if finding.code == "rejected")
    if needs_material(asked.step) and site.material_known:
        yield "its material came, by the yard's list"
    ticket = ticket_for(site.tickets, step=asked.step, on=asked.on) if needs_ticket(asked.step) else None
    if ticket is not None and ticket.last_day is not None:
        yield f"locate ticket {ticket.number} until {date_words(ticket.last_day)}"
    yield f"workable by the records as of {date_words(asked.on)}"


def _conditions(site: Site, asked: Asked) -> Iterable[str]:
    words = asked.workflow.words(asked.step)
    yield from (
        condition_words(hold, words) for hold in site.holds if hold.conditional and hold.stops(asked.step)
    )
    yield from _ticket_conditions(site, asked)
    if needs_material(asked.step) and not site.material_known:
        yield "material not known: no row of a yard list names it"
    others = [
        one for one in live_claims(site.claims, now=asked.now) if one.crew.casefold() != asked.crew.casefold()
    ]
    yield from (f"also claimed by {one.crew} until {one.ends:%H:%M}: settle it between you" for one in others)
    yield from (f"punch item {item.sentence}" for item in site.punch)


def _ticket_conditions(site: Site, asked: Asked) -> Iterable[str]:
    if not needs_ticket(asked.step):
        return
    ticket = ticket_for(site.tickets, step=asked.step, on=asked.on)
    if not asked.tickets_kept:
        yield "no locate tickets in the job: ask for the locate before the ground is opened"
    elif (
        ticket is not None and ticket.last_day is not None and (ticket.last_day - asked.on).days <= _SOON_DAYS
    ):
        yield f"locate ticket {ticket.number} ends {date_words(ticket.last_day)}"


def _travel_order(one: Workable) -> tuple[float, float, str, Sequence[object], str]:
    return (one.travel_m, one.along_m, *_line_order(one.line, one.number))


def _line_order(line: str, number: str) -> tuple[str, tuple[int, int, int, str], str]:
    return (line, number_key(number), number)
