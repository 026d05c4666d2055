"""A cause: one explanation of exceptions of the survey, proposed to a person and never applied unasked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from linemap.domain.causes.decision import DecisionKey
from linemap.domain.finding.finding import token


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One explanation with its evidence.

    A named person accepts or rejects it (`linemap.domain.causes.decision`).
    """

    #: Short stable key: "foot definition", "offset stake", "no single cause found", ...
    code: str
    #: What it is about: "file may.csv", "structure 2/4", "crew Raven, 10/3 to 11/3".
    subject: str
    #: Line name; "" when a file spans several lines.
    line: str
    #: Numbers of the structures it explains, in line order.
    structures: tuple[str, ...]
    #: One plain sentence with numbers, lower-case, without a full stop.
    words: str
    #: What speaks for it and what else was considered, one sentence each.
    evidence: tuple[str, ...]
    #: What accepting it would do to the shots (`linemap.domain.causes.correction`); None = nothing.
    correction: Mapping[str, Any] | None
    #: What the verdicts would become: "4 structures fail -> pass".
    would_change: str
    #: 1 = costs most if left; 5 = least. Common practice, no source.
    cost_rank: int
    #: Cheapest moment still open to put it right: "before backfill is tamped".
    moment: str
    #: What to look up or look at before deciding.
    asks_for: str

    @property
    def id(self) -> str:
        """Name that stays when other causes are decided, come or go: made of what the cause is about."""
        return cause_id(*self.key)

    @property
    def key(self) -> DecisionKey:
        """Code, subject and line, as `Decision.key`: finds the decision that stands for this cause."""
        return (self.code, self.subject, self.line)


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """What one signature found: a cause before its consequences are worked out."""

    code: str
    subject: str
    #: Rows of `Figures` it explains, in line order.
    rows: tuple[int, ...]
    words: str
    evidence: tuple[str, ...]
    correction: Mapping[str, Any] | None = None
    cost_rank: int
    asks_for: str
    #: True when nothing at the structure is wrong, only what was shot, named or computed.
    on_paper: bool


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
