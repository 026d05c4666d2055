"""Where a crew may go next, by the records: every structure is workable, refused with a sentence, or done.

The answer does not depend on the order of what it is asked about, and adding a hold can only take
structures away. "Workable by the records" permits nothing: it says that no record is in the way.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from linemap.domain.crew.material import needs_material
from linemap.domain.crew.refusal import (
    Asked,
    Obstacle,
    Site,
    condition_words,
    obstacles_of,
    refusal_sentence,
)
from linemap.domain.crew.ticket import needs_ticket
from linemap.domain.design.number import number_key
from linemap.domain.finding.phrase import date_words, pole_names
from linemap.domain.record.workflow import Workflow

#: A ticket that ends within this many days is told. Common practice, no source.
_SOON_DAYS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Workable:
    """A structure that no record keeps the crew from."""

    site: Site
    #: What speaks for it, in sentences.
    why: tuple[str, ...]
    #: What must be there or seen to for the work to go on, in sentences.
    conditions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A structure that some record keeps the crew from."""

    site: Site
    causes: tuple[Obstacle, ...]

    @property
    def reason(self) -> str:
        """Cause, date, who releases it."""
        return refusal_sentence(self.causes)

    @property
    def sentence(self) -> str:
        """One sentence: the structure, and the reason."""
        return f"{self.site.number}: {self.reason}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """The whole answer; the three lists hold every structure exactly once."""

    #: Nearest first by travel, then those without a known way by the line.
    workable: tuple[Workable, ...]
    #: In the order of the numbers.
    refused: tuple[Refused, ...]
    #: Where the step is done already.
    done: tuple[Site, ...]


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
    in_order = sorted(sites, key=_line_order)
    judged = [(site, obstacles_of(site, asked)) for site in in_order if asked.step not in site.status.done]
    return Next(
        workable=tuple(
            Workable(site=site, why=tuple(_why(site, asked)), conditions=tuple(_conditions(site, asked)))
            for site in sorted((site for site, causes in judged if not causes), key=_travel_order)
        ),
        refused=tuple(Refused(site=site, causes=causes) for site, causes in judged if causes),
        done=tuple(site for site in in_order if asked.step in site.status.done),
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


def crews_of_steps(done: Iterable[tuple[str, str]]) -> Mapping[str, str]:
    """Return, by step, the crew that records it most often; of two as frequent the first by name.

    >>> dict(crews_of_steps([("dug", "Badger"), ("dug", "Mole"), ("dug", "Badger")]))
    {'dug': 'Badger'}
    """
    counts = Counter((step, crew) for step, crew in done if crew)
    # the last one put in stays: the most frequent, of two the first by name
    rising = sorted(counts, key=lambda pair: pair[1], reverse=True)
    return dict(sorted(rising, key=counts.__getitem__))


def _why(site: Site, asked: Asked) -> Iterable[str]:
    step = asked.workflow.step(asked.step)
    for code in step.requires if step is not None else ():
        state = site.status.done[code]
        by = f" by {state.crew}" if state.crew else ""
        yield f"{asked.workflow.words(code)} {date_words(state.at.date())}{by}"
    begun = site.status.begun.get(asked.step)
    if begun is not None:
        poles = f"guys {', '.join(begun.guys)}" if begun.guys else pole_names(begun.poles, site.called)
        yield f"{asked.workflow.words(asked.step)} for {poles} only: the rest is open"
    rejected = (finding for finding in site.status.findings if finding.code == "rejected")
    yield from (replace(finding, called=site.called).words for finding in rejected)
    if needs_material(asked.step) and site.material_known:
        yield "its material came, by the yard's list"
    ticket = asked.ticket_at(site)
    if ticket is not None and ticket.last_day is not None:
        yield f"locate ticket {ticket.number} until {date_words(ticket.last_day)}"
    yield f"workable by the records as of {date_words(asked.on)}"


def _conditions(site: Site, asked: Asked) -> Iterable[str]:
    yield from site.wrong
    words = asked.workflow.words(asked.step)
    held = [hold for hold in site.holds if hold.stops(asked.step)]
    for hold in held:
        if hold.conditional and hold.active(asked.at):
            yield condition_words(hold, words)
    for hold in held:
        if hold.standing(asked.at) == "to come" and hold.term.is_near(asked.at):
            yield hold.coming_words(asked.at)
    yield from _ticket_conditions(site, asked)
    if needs_material(asked.step) and not site.material_known:
        yield "material not known: no row of a yard list names it"
    others = [one for one in asked.claims_at(site) if one.crew.casefold() != asked.crew.casefold()]
    yield from (f"also claimed by {one.crew} until {one.ends:%H:%M}: settle it between you" for one in others)
    yield from (f"punch item {item.sentence(site.called)}" for item in site.punch)


def _ticket_conditions(site: Site, asked: Asked) -> Iterable[str]:
    if not needs_ticket(asked.step):
        return
    ticket = asked.ticket_at(site)
    if not asked.tickets_kept:
        yield "no locate tickets in the job: ask for the locate before the ground is opened"
    elif (
        ticket is not None and ticket.last_day is not None and (ticket.last_day - asked.on).days <= _SOON_DAYS
    ):
        yield f"locate ticket {ticket.number} ends {date_words(ticket.last_day)}"


def _travel_order(site: Site) -> tuple[float, float, str, Sequence[object], str]:
    return (site.travel_m, site.along_m, *_line_order(site))


def _line_order(site: Site) -> tuple[str, tuple[int, int, int, str], str]:
    return (site.line, number_key(site.number), site.number)
