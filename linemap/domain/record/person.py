"""Who acts: a person with one role, on one device, and how much of the job may be shown to them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Self


class Role(StrEnum):
    """What a person does on the job; each person has one."""

    CREW = "crew"
    """Records work."""
    SURVEYOR = "surveyor"
    """Decides what causes the survey's exceptions, and so signs positions."""
    INSPECTOR = "inspector"
    """Records work and verifies it."""
    MANAGER = "manager"
    """Everything except signing positions."""
    VIEWER = "viewer"
    """Reads."""


class Audience(StrEnum):
    """For whom an answer or a file is made, from least to most told."""

    PUBLIC = "public"
    """Anybody: also no names of people or crews, and no free text."""
    CREW = "crew"
    """Who works on the line: no nests, cultural sites, gate codes or owners."""
    OWNER = "owner"
    """The owner of the line and whoever it names manager: everything."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who asks for something, as far as the job knows them."""

    #: As added to the job; also what their records are signed with.
    name: str
    role: Role
    #: Label of the phone or browser, "" = none.
    device: str = ""
    #: Offices they hold when holds are released, in the words of the hold: "environmental lead".
    releases: tuple[str, ...] = ()
    #: The crew they claim structures for; "" = none is set.
    crew: str = ""
    #: When this sign-in began; None = it is none.
    since: datetime | None = None
    #: What records made under this sign-in carry, so that it is known whose they are; "" = it is none.
    mark: str = ""
    #: True for whoever sits at the machine of a job that has no people yet.
    local: bool = False

    @classmethod
    def at_the_machine(cls) -> Self:
        """Return the manager of a job without people: whoever can open its file anyway."""
        return cls(name="local", role=Role.MANAGER, local=True)

    @property
    def audience(self) -> Audience:
        """How much is shown to this person.

        Nobody has named the person at the machine as one who may see restricted places; on the screen they
        see what a crew sees. A viewer may be anybody.

        >>> Person(name="Ada", role=Role.SURVEYOR).audience
        <Audience.CREW: 'crew'>
        """
        if self.role is Role.VIEWER:
            return Audience.PUBLIC
        return Audience.OWNER if self.role is Role.MANAGER and not self.local else Audience.CREW

    def holds_office(self, words: str) -> bool:
        """Say whether this person is who `words` name: by name, by role, or by an office given to them.

        >>> Person(name="Ada", role=Role.INSPECTOR, releases=("Environmental lead",)).holds_office(
        ...     "environmental  lead")
        True
        """
        own = {same_words(self.name), self.role.value, *map(same_words, self.releases)}
        if self.role is Role.MANAGER:
            own.add("project manager")
        return bool(words.strip()) and same_words(words) in own


def same_words(words: str) -> str:
    """Return words in the one spelling they are compared in: lower case, single blanks.

    >>> same_words("  Ada   MARROW ")
    'ada marrow'
    """
    return " ".join(words.casefold().split())
