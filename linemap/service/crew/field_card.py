"""One structure as a crew needs it: what the lists say of it, and what the record of the field says.

The first part changes only when a file is loaded or something is declared; the second with every record. They
are made apart, so that one record does not make ten thousand cards anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from linemap.domain.crew.hold import Hold
from linemap.domain.record.status import NOTHING_RECORDED, StructureStatus
from linemap.domain.record.workflow import Step
from linemap.domain.survey.proof import proof_of
from linemap.service.crew.field_design import design_cards, mile_of
from linemap.service.view.findings import entry_of
from linemap.service.view.panel import history_of
from linemap.service.view.view import JobView

__all__ = ["Surroundings", "field_card", "mile_of", "record_card"]

#: Newest records shown on a card.
_LAST = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What other records of the job say of its structures, by (line, number); all may be empty."""

    #: Label of the current structure list, by line: "C".
    revisions: Mapping[str, str]
    #: Claims in force.
    claims: Mapping[tuple[str, str], list[dict[str, Any]]]
    #: The newest job briefing held there.
    briefings: Mapping[tuple[str, str], dict[str, Any]]


def field_card(view: JobView, around: Surroundings, row: int) -> dict[str, Any]:
    """Return everything a crew must see of one structure, ready for JSON.

    Parameters
    ----------
    view : JobView
    around : Surroundings
    row : int
        Row of the structure.
    """
    (design,) = design_cards(view, [row])
    return {**design, **record_card(view, around, row)}


def record_card(view: JobView, around: Surroundings, row: int) -> dict[str, Any]:
    """Return the part of a card that records of the field change."""
    key = view.key(row)
    status = view.statuses.get(key, NOTHING_RECORDED)
    return {
        "stage": view.stage_at(key),
        "steps": [_step_state(view, row, step, status) for step in view.workflow.order()],
        "open": list(view.workflow.open_steps(status.done)),
        "holds": [_hold(view, hold) for hold in view.holds_by_row.get(row, [])],
        "findings": [finding.words for finding in view.ledger.on("card", row)],
        "look_first": [entry_of(finding) for finding in view.ledger.on("card top", row)],
        "revision": around.revisions.get(key[0], ""),
        "last": history_of(view, row)[: -_LAST - 1 : -1],
        "claims": around.claims.get(key, []),
        "briefing": around.briefings.get(key),
    }


def _step_state(view: JobView, row: int, step: Step, status: StructureStatus) -> dict[str, Any]:
    state = status.done.get(step.code) or status.begun.get(step.code)
    return {
        "code": step.code,
        "words": step.words,
        "per": step.per,
        "done": step.code in status.done,
        "poles_done": "" if state is None else state.poles,
        "when": "" if state is None else state.at.date().isoformat(),
        "crew": "" if state is None else state.crew,
        "missing": _missing(view, row, step) if step.code in status.done else [],
    }


def _missing(view: JobView, row: int, step: Step) -> list[str]:
    """Return the evidence that the rule of a recorded step asks for and the records do not hold."""
    rule = view.evidence_rules.get(step.code)
    if rule is None or not rule.needs:
        return []
    events = (
        event
        for event in view.events_by_structure.get(view.key(row), ())
        if event.moment.date() <= view.as_of
    )
    letters = view.figures.letters_of(row)
    proof = proof_of(events, view.workflow, step=step.code, letters=letters, rules={step.code: rule.needs})
    return list(proof.missing)


def _hold(view: JobView, hold: Hold) -> dict[str, Any]:
    return {
        "id": hold.id,
        "sentence": hold.sentence(),
        "kind": "conditional" if hold.conditional else "hold",
        "activities": list(hold.activities),
        "stops": [step.code for step in view.workflow.order() if hold.stops(step.code)],
        "until": "" if hold.to_date is None else hold.to_date.isoformat(),
    }
