"""What a named person decided about a cause, and the shots as they stand once accepted decisions are applied.

Decisions are only ever added. The shots as observed are never changed: corrected ones are new values that
name the decision they follow.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal, get_args

from linemap.domain.causes.correction import Order, apply_corrections, correction_fault
from linemap.domain.finding.phrase import date_words
from linemap.domain.survey.shot import Shot

Answer = Literal["accepted", "rejected", "needs evidence", "withdrawn"]
#: Cause code, subject and line.
DecisionKey = tuple[str, str, str]

_ANSWERS = frozenset(get_args(Answer))


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One answer of one person to one cause.

    "needs evidence" leaves the cause open and says that somebody must look. "withdrawn" undoes whatever
    stood for the cause before.

    Raises
    ------
    ValueError
        If the identifier, cause, subject or person is blank, the answer is none of the four, the time has
        no time zone, or the correction cannot be applied as written.
    """

    #: UUID made where the decision was taken; sending it twice is still one decision.
    id: str
    #: Code of the cause, as in `linemap.domain.causes.cause.Cause.code`.
    cause: str
    #: What it is about: "file shots_2026-04-29.csv", "structure 2/4", "crew Raven, 10/3 to 11/3".
    subject: str
    #: Line name, "" when a file spans several lines.
    line: str = ""
    answer: Answer
    #: The person who decided.
    who: str
    #: When, with its time zone.
    at: datetime
    note: str = ""
    #: What accepting does to the shots; empty = nothing. See `linemap.domain.causes.correction`.
    correction: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        fault = _fault(self)
        if fault:
            raise ValueError(f"decision {self.id!r} {fault}")

    @property
    def key(self) -> DecisionKey:
        """Cause, subject and line: what a later decision on the same matter has in common with this one."""
        return (self.cause, self.subject, self.line)

    @property
    def order_key(self) -> tuple[datetime, str]:
        """Sort key that puts decisions in the order they were taken."""
        return (self.at, self.id)


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionNote:
    """What an accepted correction that stands did to the shots."""

    #: Identifier of the decision.
    decision: str
    #: How many shots it changed and how, who decided it and when.
    words: str
    #: (line, structure) of each shot it changed or dropped; the line may be "".
    structures: frozenset[tuple[str, str]]


def standing(decisions: Iterable[Decision]) -> dict[DecisionKey, Decision]:
    """Return the decision that stands for each cause, subject and line, in the order they were taken.

    The latest one stands. A withdrawal undoes what stood before it, so nothing stands until somebody
    decides again; earlier decisions do not come back. The order given and repetitions do not matter.
    """
    latest: dict[DecisionKey, Decision] = {}
    for decision in sorted(decisions, key=lambda each: each.order_key):
        latest.pop(decision.key, None)
        if decision.answer != "withdrawn":
            latest[decision.key] = decision
    return latest


def corrected_shots(
    shots: Sequence[Shot], decisions: Iterable[Decision]
) -> tuple[tuple[Shot, ...], tuple[CorrectionNote, ...]]:
    """Apply the corrections of the accepted decisions that stand, in the order they were taken.

    Parameters
    ----------
    shots : sequence of Shot
        As observed; they stay as they are.
    decisions : iterable of Decision
        All decisions, in any order.

    Returns
    -------
    tuple of Shot, tuple of CorrectionNote
        The shots in the order given, less the dropped ones; a corrected shot's `note` names its decisions.
        And what each correction did; also when it changed no shot.
    """
    accepted = [
        decision
        for decision in standing(decisions).values()
        if decision.answer == "accepted" and decision.correction
    ]
    orders = [Order(each.correction, each.line, f"decision {each.id}") for each in accepted]
    corrected, applied = apply_corrections(shots, orders)
    notes = (
        CorrectionNote(
            decision=each.id,
            words=f"{done.words} (decision {each.id}, {each.who}, {date_words(each.at.date())})",
            structures=done.structures,
        )
        for done, each in zip(applied, accepted, strict=True)
    )
    return corrected, tuple(notes)


def _fault(decision: Decision) -> str:
    for name in ("id", "cause", "subject", "who"):
        if not getattr(decision, name).strip():
            return f"has a blank {name}; give it one"
    if decision.answer not in _ANSWERS:
        return f"has the answer {decision.answer!r}; use one of {', '.join(get_args(Answer))}"
    if decision.at.utcoffset() is None:
        return "has no time zone in its time; write it with its offset"
    fault = correction_fault(decision.correction) if decision.correction else ""
    return f"has a correction that {fault}" if fault else ""
