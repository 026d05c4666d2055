"""What the office does in the browser: what is declared, and who may sign in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from linemap.answers.line import Waiting
from linemap.domain.record.person import Role


@dataclass(frozen=True, kw_only=True)
class DeclaredPart:
    """One thing declared: a setting, or one part (a tolerance, a step) of one that has parts.

    `written` is how a person would write it, "" = not declared; `declared` is false for what is taken where
    nobody declares it. `who`, `at` (ISO, "" = not known) and `source` are of the last declaration.
    """

    part: str
    label: str
    written: str
    declared: bool
    who: str
    at: str
    source: str


@dataclass(frozen=True, kw_only=True)
class DeclaredSetting:
    """One setting of the job with what is declared of it now.

    `choices` are all that can be written, () = free text; `roles` may declare it, `may` says whether whoever
    asks is among them, `locked` why it cannot be declared any more, "" = it can.
    """

    name: str
    label: str
    noun: str
    means: str
    example: str
    unit: str
    shows: str
    choices: Sequence[str]
    roles: Sequence[Role]
    may: bool
    locked: str
    parts: Sequence[DeclaredPart]


@dataclass(frozen=True, kw_only=True)
class SettingNoun:
    """A noun that settings are gathered by, and its words."""

    key: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Declarations:
    """Everything the job declares, in the order of the page, and what waits for a declaration."""

    data_version: int
    #: True for whoever sits at the machine of a job without people: they say their name.
    local: bool
    waits: Sequence[Waiting]
    nouns: Sequence[SettingNoun]
    settings: Sequence[DeclaredSetting]
