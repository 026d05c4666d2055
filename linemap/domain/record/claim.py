"""What crews say before they work: claims, which end by themselves, and job briefings held.

Claims made without a signal meet when both arrive; then both crews are told and neither claim is taken out.
A claim says nothing of where people are.

The five subjects are those of 29 CFR 1926.952(b): hazards, work procedures, special precautions, energy
source controls and personal protective equipment.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType

from linemap.domain.record.person import Person, Role, same_words

#: The longest time a claim may run. Common practice, no source.
LONGEST = timedelta(days=14)
#: A claim that took longer than this to arrive was made without a signal.
_ON_THE_WAY = timedelta(minutes=5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """One crew's claim of one structure.

    Raises
    ------
    ValueError
        If the identifier, structure or crew is blank, a time has no time zone, or it ends before it begins
        or later than `LONGEST` after.
    """

    #: UUID made where the claim was made; sending it twice is still one claim.
    id: str
    line: str
    #: Structure number in its one spelling.
    structure: str
    crew: str
    device: str = ""
    #: Who was signed in as it came in; "" = nobody by name.
    who: str = ""
    #: By the device's clock, with its time zone.
    made_at: datetime
    #: When it ends by itself.
    expires_at: datetime
    #: When the job received it.
    received_at: datetime

    def __post_init__(self) -> None:
        _check(self, "claim", ("id", "structure", "crew"), ("made_at", "expires_at", "received_at"))
        if not timedelta() < self.expires_at - self.made_at <= LONGEST:
            raise ValueError(
                f"claim {self.id} runs from {self.made_at.isoformat()} to {self.expires_at.isoformat()}; "
                f"let it end after it begins and within {LONGEST.days} days"
            )

    @property
    def key(self) -> tuple[str, str]:
        """Line and structure."""
        return (self.line, self.structure)

    @property
    def ends(self) -> datetime:
        """When it ends by the job's clock: a device with a fast clock cannot claim for longer."""
        return min(self.made_at, self.received_at) + (self.expires_at - self.made_at)

    @property
    def made_offline(self) -> bool:
        """True when it took more than five minutes to arrive: nobody else could see it meanwhile."""
        return self.received_at - self.made_at > _ON_THE_WAY


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingClaim:
    """A claim that has not ended, and whom it meets."""

    claim: Claim
    #: Claims of other crews for the same structure that have not ended either, in the order they were made.
    others: tuple[Claim, ...]

    @property
    def sentence(self) -> str:
        """What to tell a person: who claims what until when, and who else does."""
        one = self.claim
        words = f"{one.structure} is claimed by {_who(one)} until {one.ends:%Y-%m-%d %H:%M %Z}"
        if not self.others:
            return words
        return f"{words}, and by {', '.join(map(_who, self.others))}: talk to each other; both claims stand"


def why_not_claimed(claim: Claim, person: Person | None) -> str:
    """Say why a person may not make a claim; "" = nothing forbids it.

    A claim is for one's own crew: the one that is set for the person. Inspectors and managers see to several
    crews and claim for any, and so does whoever no crew is set for; who made it stands with the claim.

    >>> from datetime import UTC
    >>> at = datetime(2026, 5, 15, 7, 30, tzinfo=UTC)
    >>> claim = Claim(id="1", line="N", structure="9/2", crew="Heron", made_at=at,
    ...               expires_at=at + timedelta(hours=9), received_at=at)
    >>> why_not_claimed(claim, Person(name="Bo", role=Role.CREW, crew="heron "))
    ''
    >>> why_not_claimed(claim, Person(name="Cy", role=Role.CREW, crew="Lark"))
    'Cy is of crew Lark and claims for that one; Heron claims 9/2 itself'
    """
    if person is None or person.local or not person.crew or person.role in {Role.INSPECTOR, Role.MANAGER}:
        return ""
    if same_words(person.crew) == same_words(claim.crew):
        return ""
    return (
        f"{person.name} is of crew {person.crew} and claims for that one; "
        f"{claim.crew} claims {claim.structure} itself"
    )


def standing_claims(claims: Iterable[Claim], *, now: datetime) -> tuple[StandingClaim, ...]:
    """Return the claims that have not ended, in the order of lines, structures and making.

    A crew's newest claim of a structure stands for its older ones, so a crew ends its claim by a new one
    that ends at once.

    All claims of the job may be given, in any order; `now` is by the job's clock, with a time zone.
    """
    newest: dict[tuple[str, str, str], Claim] = {}
    for claim in sorted(claims, key=lambda claim: (claim.made_at, claim.received_at, claim.id)):
        newest[*claim.key, claim.crew.casefold()] = claim
    live: dict[tuple[str, str], list[Claim]] = {}
    for claim in newest.values():
        if claim.ends > now:
            live.setdefault(claim.key, []).append(claim)
    return tuple(
        StandingClaim(claim=claim, others=tuple(other for other in group if other is not claim))
        for _, group in sorted(live.items())
        for claim in sorted(group, key=lambda claim: (claim.made_at, claim.received_at, claim.id))
    )


def _who(claim: Claim) -> str:
    by = f"{claim.who}, " if claim.who else ""
    how = "made without a signal " if claim.made_offline else ""
    return f"{claim.crew} ({by}{how}{claim.made_at:%d %B %H:%M})"


#: Field of `Briefed` -> heading, in the order of 29 CFR 1926.952(b).
SUBJECTS: Mapping[str, str] = MappingProxyType(
    {
        "hazards": "Hazards associated with the job",
        "procedures": "Work procedures involved",
        "precautions": "Special precautions",
        "energy_sources": "Energy-source controls",
        "ppe": "Personal protective equipment requirements",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Briefed:
    """One briefing at one structure.

    Raises
    ------
    ValueError
        If the identifier, structure or person in charge is blank, or a time has no time zone.
    """

    #: UUID made where it was recorded; sending it twice is still one briefing.
    id: str
    line: str
    #: Structure number in its one spelling.
    structure: str
    #: When it was held, by the device's clock, with its time zone.
    at: datetime
    received_at: datetime
    person_in_charge: str
    #: What was said of each subject; "" = nothing written down.
    hazards: str = ""
    procedures: str = ""
    precautions: str = ""
    energy_sources: str = ""
    ppe: str = ""

    def __post_init__(self) -> None:
        _check(self, "briefing", ("id", "structure", "person_in_charge"), ("at", "received_at"))

    @property
    def key(self) -> tuple[str, str]:
        """Line and structure."""
        return (self.line, self.structure)

    @property
    def not_covered(self) -> tuple[str, ...]:
        """Subjects of which nothing was written down, in their order."""
        return tuple(name for name in SUBJECTS if not getattr(self, name).strip())


def _check(record: Claim | Briefed, noun: str, names: Iterable[str], times: Iterable[str]) -> None:
    for name in names:
        if not getattr(record, name).strip():
            raise ValueError(f"a {noun} has a blank {name}; give it one")
    for name in times:
        if getattr(record, name).utcoffset() is None:
            raise ValueError(f"{noun} {record.id} has no time zone in {name}; write it with its offset")
