"""Why a structure is not workable for a step, by the records: one plain sentence for each cause.

Each sentence names the cause, a date and who releases it, as far as the records do. Nothing here permits
work: a structure without a cause is "workable by the records", which hold only what was entered.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from linemap.domain.crew.hold import KEPT_REASONS, Hold
from linemap.domain.crew.material import Shortage, needs_material
from linemap.domain.crew.ticket import Ticket, needs_ticket, ticket_for
from linemap.domain.finding.code import Stop
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import date_words
from linemap.domain.record.claim import Claim
from linemap.domain.record.status import StructureStatus
from linemap.domain.record.workflow import Workflow, match_step

ObstacleKind = Literal["material", "hold", "ticket", "stake", "anchor", "step", "claim"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """One reason why a step cannot be done at a structure."""

    kind: ObstacleKind
    #: What is in the way, with its date: "held until 15 August 2026 (HN-1)".
    words: str
    #: Short name, for a list of further causes: "hold HN-1".
    short: str
    #: Who takes it away; "" = the records do not say.
    released_by: str = ""


def obstacles_of(
    *,
    step: str,
    workflow: Workflow,
    status: StructureStatus,
    stops: Sequence[Finding],
    holds: Sequence[Hold],
    tickets: Sequence[Ticket],
    tickets_kept: bool,
    shortages: Sequence[Shortage],
    claims: Iterable[Claim],
    crew: str,
    on: date,
    now: datetime,
    recorded_by: Mapping[str, str],
) -> tuple[Obstacle, ...]:
    """Return what keeps a crew from a step at a structure, the most telling cause first.

    Parameters
    ----------
    step : str
        Code of a step of the workflow.
    workflow : Workflow
    status : StructureStatus
    stops : sequence of Finding
        Findings that stop work; those that stop the step (`stopped_steps`) are causes.
    holds : sequence of Hold
        In force at the structure; conditional ones are conditions, not causes.
    tickets : sequence of Ticket
        Those that cover the structure.
    tickets_kept : bool
        True when the job keeps tickets at all; without any, their absence is a condition.
    shortages : sequence of Shortage
    claims : iterable of Claim
        Of the structure, by any crew, expired ones included.
    crew : str
    on : date
        Day the records are shown for.
    now : datetime
        Moment that claims are compared with.
    recorded_by : mapping of str to str
        Step -> the crew that usually records it.
    """
    found = [_material(one, on) for one in shortages if needs_material(step)]
    found += [_hold(hold) for hold in holds if not hold.conditional and hold.stops(step)]
    if needs_ticket(step) and tickets_kept and ticket_for(tickets, step=step, on=on) is None:
        found.append(_ticket(tickets, step, on))
    found += [
        _stopped(each, each.stop, recorded_by)
        for each in stops
        if each.stop is not None and step in stopped_steps(each, workflow)
    ]
    found += [
        _missing_step(code, workflow, status, on, recorded_by) for code in workflow.missing(status.done, step)
    ]
    others = live_claims(claims, now=now)
    if crew.casefold() not in {claim.crew.casefold() for claim in others}:
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
    return "" if found.stop is None else f"{found.stop.words} ({found.words})"


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


def live_claims(claims: Iterable[Claim], *, now: datetime) -> tuple[Claim, ...]:
    """Return the claims that have not expired, the earliest first; of one crew the one that lasts longest."""
    longest: dict[str, Claim] = {}
    for claim in claims:
        known = longest.get(claim.crew.casefold())
        if claim.ends > now and (known is None or claim.ends > known.ends):
            longest[claim.crew.casefold()] = claim
    return tuple(sorted(longest.values(), key=lambda claim: (claim.made_at, claim.crew)))


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
    return f"until {date_words(hold.to_date)}" if hold.to_date else "until released, no date given"


def _named(hold: Hold) -> str:
    reason = "" if hold.restricted else KEPT_REASONS.get(hold.reason, hold.reason)
    return f"{hold.id}: {reason}" if reason else hold.id


def _ticket(tickets: Sequence[Ticket], step: str, on: date) -> Obstacle:
    if not tickets:
        return Obstacle(
            kind="ticket",
            words=f"no locate ticket covers it as of {date_words(on)}",
            short="no locate ticket",
            released_by="whoever asks for the locate",
        )
    ticket = max(tickets, key=lambda one: (one.last_day or date.min, one.number))
    return Obstacle(
        kind="ticket",
        words=f"locate ticket {ticket.number} {_ticket_fault(ticket, step, on)}",
        short=f"ticket {ticket.number}",
        released_by=ticket.renewed_by or "whoever renews the ticket",
    )


def _ticket_fault(ticket: Ticket, step: str, on: date) -> str:
    if ticket.valid(on) and not ticket.waits_for_answers:
        return f"does not cover the anchors for {step}, as of {date_words(on)}"
    return ticket.term(on)


def _stopped(found: Finding, stop: Stop, recorded_by: Mapping[str, str]) -> Obstacle:
    return Obstacle(
        kind=stop.kind,
        words=stop_words(found),
        short=stop.short,
        released_by=recorded_by.get(stop.step, "") or stop.crew,
    )


def _missing_step(
    code: str, workflow: Workflow, status: StructureStatus, on: date, recorded_by: Mapping[str, str]
) -> Obstacle:
    begun = status.begun.get(code)
    part = f", only for pole {begun.poles}" if begun is not None else ""
    words = f"{workflow.words(code)} is not on record{part} as of {date_words(on)}"
    return Obstacle(
        kind="step",
        words=words,
        short=f"not {workflow.words(code)}",
        released_by=recorded_by.get(code, "") or "the crew that does it",
    )


def _claim(claim: Claim) -> Obstacle:
    until = f"{date_words(claim.ends.date())} {claim.ends:%H:%M}"
    return Obstacle(
        kind="claim",
        words=f"claimed by {claim.crew} until {until}{', without a signal' if claim.made_offline else ''}",
        short=f"claim of {claim.crew}",
        released_by=claim.crew,
    )


def crews_of_steps(done: Collection[tuple[str, str]]) -> Mapping[str, str]:
    """Return, by step, the crew that records it most often; of two as frequent the first by name.

    >>> dict(crews_of_steps([("dug", "Badger"), ("dug", "Mole"), ("dug", "Badger")]))
    {'dug': 'Badger'}
    """
    counts: dict[str, dict[str, int]] = {}
    for step, crew in done:
        if crew:
            by_crew = counts.setdefault(step, {})
            by_crew[crew] = by_crew.get(crew, 0) + 1
    return {step: min(crews, key=lambda crew: (-crews[crew], crew)) for step, crews in counts.items()}
