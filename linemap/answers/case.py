"""Cases: what was recorded against something, who answers it, and what was answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, kw_only=True)
class CaseRecord:
    """One record a case is about."""

    id: str
    #: ISO 8601, by the clock it was recorded with.
    when: str
    words: str


@dataclass(frozen=True, kw_only=True)
class CaseAct:
    """What a person did about a case; `text` is the answer, or the evidence that closed it."""

    id: str
    act: Literal["answer", "close", "reopen"]
    when: str
    who: str
    text: str
    photos: Sequence[str]
    words: str


@dataclass(frozen=True, kw_only=True)
class CaseEntry:
    """One case of one structure."""

    #: Name that stays while its structure keeps its number.
    id: str
    line: str
    number: str
    #: Code and part of the finding it is: what a record that answers it names.
    code: str
    part: str
    severity: str
    state: Literal["open", "answered", "closed"]
    #: True when its records were taken back or moved elsewhere: nothing is left to answer.
    taken_back: bool
    #: Day of the work, ISO 8601; None = not known.
    since: str | None
    words: str
    #: Who answers it: a name, a role or an office.
    asked: str
    #: True when no list has the structure.
    unlisted: bool
    records: Sequence[CaseRecord]
    acts: Sequence[CaseAct]


@dataclass(frozen=True, kw_only=True)
class CaseForYou(CaseEntry):
    """A case as the person sees it who asks."""

    #: True when this person answers it; `may_close` also for the manager.
    yours: bool
    may_close: bool


@dataclass(frozen=True, kw_only=True)
class CaseList:
    """The cases of a job, open ones first, in line order; what no list has stands before the rest."""

    data_version: int
    as_of: str
    when: str
    #: How many are open, and how many of them are this person's to answer.
    open: int
    yours: int
    cases: Sequence[CaseForYou]
    caution: str


@dataclass(frozen=True, kw_only=True)
class CaseCount:
    """How many cases are open, and how many of them are this person's to answer."""

    data_version: int
    open: int
    yours: int
    #: Structures with open cases that no list has: no list of structures shows them.
    unlisted: Sequence[str]
