"""How much a finding matters, and what a code of one is: one row of the table of wordings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Literal

#: What a finding measured or names, by name: numbers in the units named beside them, texts, days.
Values = Mapping[str, Any]
#: Makes the sentence of a finding from its values: lower-case, without a full stop. Poles stand in values by
#: their letters, and under "called" what the owner calls each (`linemap.domain.finding.phrase.Called`).
Say = Callable[[Values], str]
#: Who is asked to look at a finding.
Asks = Literal["surveyor", "engineer", "office", "crew", "nobody"]


class Severity(IntEnum):
    """How much a finding matters; what shows findings chooses by it."""

    NOTE = 1
    """Good to know."""
    UNSURE = 2
    """Something cannot be told, or two sources disagree."""
    WRONG = 3
    """Something is not as it should be."""
    STOPS = 4
    """Work at the structure stops until it is dealt with."""

    @property
    def label(self) -> str:
        """The severity in words.

        >>> [severity.label for severity in Severity]
        ['note', 'cannot tell', 'wrong', 'stops work']
        """
        return ("note", "cannot tell", "wrong", "stops work")[self - 1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """What a finding stops that stops work: some steps and all that is built on them, nothing else."""

    kind: Literal["stake", "anchor"]
    #: Standard codes of the steps it stops. What is built on the steps that the finding's value "placed"
    #: names is stopped too, those steps are not: recorded again, they lift it.
    steps: tuple[str, ...] = ()
    #: Says what is in the way and what to do first, before the sentence of the finding.
    say: Say
    #: Short name, for a list of further causes.
    short: str
    #: Whose record is asked for: the step the crew is known by, and what it is called when none recorded it.
    step: str
    crew: str


@dataclass(frozen=True, slots=True)
class Code:
    """One kind of finding."""

    #: Unless a finding says otherwise.
    severity: Severity
    asks: Asks
    #: What closes it, and who: "the next survey", "whoever releases the hold".
    closes: str
    say: Say
    #: What it stops when its severity stops work.
    stop: Stop | None = None
