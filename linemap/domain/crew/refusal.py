"""Why a structure is not workable for a step, by the records: one plain sentence for each cause.

Each sentence names the cause, a date and who releases it, as far as the records do. Nothing here permits
work: a structure without a cause is "workable by the records", which hold only what was entered.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Literal

from linemap.domain.crew.hold import KEPT_REASONS, Hold
from linemap.domain.crew.material import Shortage, needs_material
from linemap.domain.crew.term import dated
from linemap.domain.crew.ticket import Ticket, needs_ticket, ticket_for
from linemap.domain.finding.code import Stop
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import BY_LETTER, Called, date_words, pole_names
from linemap.domain.record.claim import Claim, standing_claims
from linemap.domain.record.punch import PunchItem
from linemap.domain.record.status import NOTHING_RECORDED, StructureStatus
from linemap.domain.record.step_words import match_step
from linemap.domain.record.workflow import Workflow


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """One reason why a step cannot be done at a structure."""

    kind: Literal["material", "hold", "ticket", "stake", "anchor", "step", "claim"]
    #: What is in the way, with its date: "held until 15 August 2026 (HN-1)".
    words: str
    #: Short name, for a list of further causes: "hold HN-1".
    short: str
    #: Who takes it away; "" = the records do not say.
    released_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What the records hold of one structure that matters for going there."""

    line: str
    number: str
    #: What the owner calls its poles.
    called: Called = field(default_factory=lambda: BY_LETTER, compare=False)
    status: StructureStatus = NOTHING_RECORDED
    #: Findings that stop work there.
    stops: tuple[Finding, ...] = ()
    #: What is wrong with what stands there, in sentences: a frame that fails, work that was not accepted.
    wrong: tuple[str, ...] = ()
    #: Holds in force there on the day, or to come.
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
    #: Time of that day by the job's clock, that holds are held against; None = any time of it.
    clock: time | None = None
    #: Moment that claims are compared with, with a time zone.
    now: datetime
    #: True when the job keeps locate tickets at all.
    tickets_kept: bool = False
    #: Step -> the crew that usually records it.
    recorded_by: Mapping[str, str]

    @property
    def at(self) -> date:
        """The day, or the moment of it where its time is known."""
        return self.on if self.clock is None else datetime.combine(self.on, self.clock)

    def ticket_at(self, site: Site) -> Ticket | None:
        """Return the ticket that serves the step at a structure; None also where the step needs none."""
        return ticket_for(site.tickets, step=self.step, on=self.on) if needs_ticket(self.step) else None

    def claims_at(self, site: Site) -> list[Claim]:
        """Return the claims of a structure that have not ended, by any crew, in the order they were made."""
        return [standing.claim for standing in standing_claims(site.claims, now=self.now)]


def obstacles_of(site: Site, asked: Asked) -> tuple[Obstacle, ...]:
    """Return what keeps a crew from a step at a structure, the most telling cause first."""
    step = asked.step
    found = [_material(one, asked.on) for one in site.shortages if needs_material(step)]
    held = [hold for hold in site.holds if not hold.conditional and hold.stops(step)]
    found += [_hold(hold) for hold in held if hold.active(asked.at)]
    if needs_ticket(step) and asked.tickets_kept and asked.ticket_at(site) is None:
        found.append(_ticket(site.tickets, asked))
    found += [
        _stopped(each, each.stop, asked)
        for each in site.stops
        if each.stop is not None and step in stopped_steps(each, asked.workflow)
    ]
    found += [_missing_step(code, site, asked) for code in asked.workflow.missing(site.status.done, step)]
    others = asked.claims_at(site)
    if asked.crew.casefold() not in {claim.crew.casefold() for claim in others}:
        found += [_claim(claim) for claim in others]
    return tuple(found)


def stopped_steps(found: Finding, workflow: Workflow) -> tuple[str, ...]:
    """Return the codes of the steps a finding stops, in the order of the workflow; () = none, as most."""
    if found.stop is None:
        return ()
    own = {step.code for step in workflow.steps if {step.code, match_step(step.code)} & {*found.stop.steps}}
    stopped = {*own, *workflow.built_on({*own, *found.values.get("placed", ())})}
    return tuple(step.code for step in workflow.order() if step.code in stopped)


def stop_words(found: Finding) -> str:
    """Say what stands in the way of the steps a finding stops, and what to do first; "" = it stops none."""
    return "" if found.stop is None else f"{found.stop.say(found.values)} ({found.words})"


def refusal_sentence(causes: Sequence[Obstacle]) -> str:
    """Say why a structure is not workable: the first cause in full, the others by name.

    >>> first = Obstacle(kind="material", words="two H1-75 poles missing, due 12 June 2026",
    ...               short="material", released_by="material yard")
    >>> refusal_sentence([first, Obstacle(kind="hold", words="held", short="hold HM-1")])
    'two H1-75 poles missing, due 12 June 2026; released by material yard; also hold HM-1'
    """
    first, rest = causes[0], list(dict.fromkeys(cause.short for cause in causes[1:]))
    also = f"; also {', '.join(rest)}" if rest else ""
    return f"{first.words}; {_release(first)}{also}"


def _release(cause: Obstacle) -> str:
    if not cause.released_by:
        return "who releases it is not recorded"
    recorded = cause.kind in {"stake", "anchor", "step"}
    return f"{'to be recorded' if recorded else 'released'} by {cause.released_by}"


def condition_words(hold: Hold, step: str) -> str:
    """Say under which condition a held step may go on, without a restricted reason.

    >>> condition_words(Hold(id="HN-2", condition="monitor on site", restricted=True, reason="nest",
    ...                      to_date=date(2026, 8, 15), release_by="environmental lead"), "framed")
    'framed only with monitor on site, until 15 August 2026 (HN-2); released by environmental lead'
    """
    by = f"; released by {hold.release_by}" if hold.release_by else ""
    return f"{step} only with {hold.condition}, {_until(hold)} ({_named(hold)}){by}"


def material_words(shortage: Shortage, on: date) -> str:
    """Say what is missing and when it is due.

    >>> material_words(Shortage(item="H1-75 pole", needed=3, received=1, due=date(2026, 6, 12)),
    ...                date(2026, 5, 15))
    'two H1-75 poles missing, due 12 June 2026'
    """
    due = f"due {date_words(shortage.due)}" if shortage.due else f"no date given as of {date_words(on)}"
    return f"{shortage.words}, {due}"


def _material(shortage: Shortage, on: date) -> Obstacle:
    return Obstacle(
        kind="material",
        words=material_words(shortage, on),
        short=shortage.words,
        released_by=shortage.released_by or "the yard that receives them",
    )


def _hold(hold: Hold) -> Obstacle:
    return Obstacle(
        kind="hold",
        words=f"held {_until(hold)} ({_named(hold)})",
        short=f"hold {hold.id}",
        released_by=hold.release_by,
    )


def _until(hold: Hold) -> str:
    return f"until {dated(hold.to_date, hold.to_time)}" if hold.to_date else "until released, no date given"


def _named(hold: Hold) -> str:
    reason = "" if hold.restricted else KEPT_REASONS.get(hold.reason, hold.reason)
    return f"{hold.id}: {reason}" if reason else hold.id


def _ticket(tickets: Sequence[Ticket], asked: Asked) -> Obstacle:
    if not tickets:
        return Obstacle(
            kind="ticket",
            words=f"no locate ticket covers it as of {date_words(asked.on)}",
            short="no locate ticket",
            released_by="whoever asks for the locate",
        )
    ticket = max(tickets, key=lambda one: (one.last_day or date.min, one.number))
    fault = ticket.term(asked.on)
    if ticket.valid(asked.on) and not ticket.waits_for_answers:
        fault = f"does not cover the anchors for {asked.step}, as of {date_words(asked.on)}"
    return Obstacle(
        kind="ticket",
        words=f"locate ticket {ticket.number} {fault}",
        short=f"ticket {ticket.number}",
        released_by=ticket.renewed_by or "whoever renews the ticket",
    )


def _stopped(found: Finding, stop: Stop, asked: Asked) -> Obstacle:
    return Obstacle(
        kind=stop.kind,
        words=stop_words(found),
        short=stop.short,
        released_by=asked.recorded_by.get(stop.step, "") or stop.crew,
    )


def _missing_step(code: str, site: Site, asked: Asked) -> Obstacle:
    begun, words = site.status.begun.get(code), asked.workflow.words(code)
    part = f", only for {pole_names(begun.poles, site.called)}" if begun is not None else ""
    return Obstacle(
        kind="step",
        words=f"{words} is not on record{part} as of {date_words(asked.on)}",
        short=f"not {words}",
        released_by=asked.recorded_by.get(code, "") or "the crew that does it",
    )


def _claim(claim: Claim) -> Obstacle:
    until = f"{date_words(claim.ends.date())} {claim.ends:%H:%M}"
    return Obstacle(
        kind="claim",
        words=f"claimed by {claim.crew} until {until}{', without a signal' if claim.made_offline else ''}",
        short=f"claim of {claim.crew}",
        released_by=claim.crew,
    )
