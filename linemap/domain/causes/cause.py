"""A cause: one explanation of exceptions of the survey, and what a named person decided about it.

Causes are proposed and never applied unasked. Decisions are only ever added. The shots as observed are never
changed: corrected ones are new values that name the decision they follow.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Literal, get_args

from linemap.domain.causes.correction import Order, apply_corrections, correction_fault, moves_sessions
from linemap.domain.design.naming import UNNAMED, ListedNumbers, Naming
from linemap.domain.finding.finding import token
from linemap.domain.finding.phrase import date_words
from linemap.domain.survey.shot import Shot, ShotKey

Answer = Literal["accepted", "rejected", "needs evidence", "withdrawn"]
#: Cause code, subject and line.
DecisionKey = tuple[str, str, str]

_ANSWERS = frozenset(get_args(Answer))


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """What causes and suspicions have in common."""

    #: Short stable key: "foot definition", "offset stake", "no single cause found", ...
    code: str
    #: What it is about: "file may.csv", "structure 2/4", "crew Raven, 10/3 to 11/3".
    subject: str
    #: One plain sentence with numbers, lower-case, without a full stop.
    words: str
    #: What speaks for it and what else was considered, one sentence each.
    evidence: tuple[str, ...]
    #: What accepting it would do to the shots (`linemap.domain.causes.correction`); None = nothing.
    correction: Mapping[str, Any] | None = None
    #: 1 = costs most if left; 5 = least. Common practice, no source.
    cost_rank: int
    #: What to look up or look at before deciding.
    asks_for: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion(Explanation):
    """What one signature found: a cause before its consequences are worked out."""

    #: Rows of `Figures` it explains, in line order.
    rows: tuple[int, ...]
    #: True when nothing at the structure is wrong, only what was shot, named or computed.
    on_paper: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause(Explanation):
    """One explanation with its evidence; a named person accepts or rejects it (`Decision`)."""

    #: Line name; "" when a file spans several lines.
    line: str
    #: Numbers of the structures it explains, in line order.
    structures: tuple[str, ...]
    #: What the verdicts would become: "4 structures fail -> pass".
    would_change: str
    #: Cheapest moment still open to put it right: "before backfill is tamped".
    moment: str

    @property
    def id(self) -> str:
        """Name that stays when other causes are decided, come or go: made of what the cause is about."""
        return cause_id(*self.key)

    @property
    def key(self) -> DecisionKey:
        """Code, subject and line, as `Decision.key`: finds the decision that stands for this cause."""
        return (self.code, self.subject, self.line)


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
    #: Code of the cause.
    cause: str
    subject: str
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
    #: `Shot.key` of each of these shots.
    shots: tuple[ShotKey, ...]


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


def session_corrections(decisions: Iterable[Decision]) -> dict[DecisionKey, Mapping[str, Any]]:
    """Return the accepted corrections of whole sessions that stand, in the order they were taken."""
    return {
        key: each.correction
        for key, each in standing(decisions).items()
        if each.answer == "accepted" and each.correction and moves_sessions(each.correction)
    }


def corrected_shots(
    shots: Sequence[Shot], decisions: Iterable[Decision], naming: Naming = UNNAMED, *, unit: str = ""
) -> tuple[tuple[Shot, ...], tuple[CorrectionNote, ...]]:
    """Apply the corrections of the accepted decisions that stand, in the order they were taken.

    `naming` is that of the job, which reads what a correction says of descriptions; `unit` that of the
    coordinates, for the words.

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
    orders = [
        Order(each.correction, each.line, f"decision {each.id}{_by(each)}", naming, unit) for each in accepted
    ]
    corrected, applied = apply_corrections(shots, orders)
    notes = (
        CorrectionNote(
            decision=each.id,
            words=f"{done.words} (decision {each.id}, {each.who}, {date_words(each.at.date())})",
            structures=done.structures,
            shots=done.shots,
        )
        for done, each in zip(applied, accepted, strict=True)
    )
    return corrected, tuple(notes)


def _by(decision: Decision) -> str:
    """Name who decided, where nothing but their word says what a shot is of."""
    return f", {decision.who}" if decision.correction["kind"] in {"assign", "pattern"} else ""


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


_STRUCTURE = re.compile(r"(structure )(.+)|(.+, )(.+)( to )(.+)")


def decision_as_listed(decision: Decision, listed: ListedNumbers) -> Decision:
    """Return a decision that names its structures as the list writes them now."""
    correction = dict(decision.correction)
    if "structures" in correction:
        correction["structures"] = [listed.shown(each, decision.line) for each in correction["structures"]]
    if "numbers" in correction:
        line = decision.line
        correction["numbers"] = {
            listed.shown(old, line): listed.shown(new, line) for old, new in correction["numbers"].items()
        }
    if "structure" in correction and correction.get("item") != "check":
        correction["structure"] = listed.shown(correction["structure"], correction.get("line", decision.line))
    subject = decision.subject
    if named := _STRUCTURE.fullmatch(subject):
        parts = [part for part in named.groups() if part is not None]
        parts[1::2] = [listed.shown(part, decision.line) for part in parts[1::2]]
        subject = "".join(parts)
    if subject == decision.subject and correction == decision.correction:
        return decision
    return replace(decision, subject=subject, correction=correction)


def cause_id(code: str, subject: str, line: str) -> str:
    """Return the name of a cause, or of one that was decided and is no longer found.

    >>> cause_id("offset stake", "structure 4/2", "N") == cause_id("offset stake", "structure 4/2", "N")
    True
    """
    return token(code, subject, line)


def counted(count: int, noun: str) -> str:
    """Count things in words.

    >>> counted(1, "structure"), counted(4, "structure")
    ('1 structure', '4 structures')
    """
    return f"{count} {noun}{'' if count == 1 else 's'}"


def listed(numbers: tuple[str, ...], *, at_most: int = 8) -> str:
    """List structure numbers, the first ones of a long list with how many more there are.

    >>> listed(("1/1", "1/2", "1/3"), at_most=2)
    '1/1, 1/2 and 1 more'
    """
    more = len(numbers) - at_most
    return ", ".join(numbers[:at_most]) + (f" and {more} more" if more > 0 else "")


def odds_text(log_odds: float) -> str:
    """Print odds against an alternative from the difference in log-likelihood.

    >>> odds_text(3.0), odds_text(40.0), odds_text(-1.0)
    ('20 to 1 against', 'more than 1,000,000 to 1 against', 'as likely')
    """
    if log_odds < 0.1:
        return "as likely"
    if log_odds > 13.8:
        return "more than 1,000,000 to 1 against"
    odds = 2.718281828459045**log_odds
    return f"{odds:,.0f} to 1 against" if odds >= 9.5 else f"{odds:.1f} to 1 against"
