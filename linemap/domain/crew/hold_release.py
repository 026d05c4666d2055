"""The release of a hold: by the one it names, with evidence, and never taken back.

Whoever finds a release wrong sets a new hold.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from linemap.domain.crew.hold import Hold
from linemap.domain.finding.phrase import date_words
from linemap.domain.record.person import Person, Role

#: Who never releases a hold, whatever the hold says.
_NEVER = frozenset({Role.CREW, Role.VIEWER})


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldRelease:
    """One release of one hold by one person.

    Raises
    ------
    ValueError
        If the person or the evidence is blank, or the time has no time zone.
    """

    #: The hold as it stood when it was released.
    hold: Hold
    #: The person who released it.
    who: str
    role: Role
    #: Label of the device it was released from, "" = at the machine of the job.
    device: str = ""
    #: What shows that the hold is over: "mats in place, photo 14, 2026-05-29".
    evidence: str
    #: From when the hold no longer holds, with its time zone.
    at: datetime
    #: When it was recorded, with its time zone.
    recorded_at: datetime

    def __post_init__(self) -> None:
        if not self.who.strip():
            raise ValueError(f"the release of hold {self.hold.id} names nobody; name who releases it")
        if not self.evidence.strip():
            raise ValueError(f"the release of hold {self.hold.id} has no evidence; say what shows it is over")
        if self.at.utcoffset() is None or self.recorded_at.utcoffset() is None:
            raise ValueError(f"the release of hold {self.hold.id} has a time without a time zone; give one")

    @property
    def day(self) -> date:
        """First day on which the hold no longer held, in the time zone of the release."""
        return self.at.date()

    def sentence(self) -> str:
        """Write the release out for people.

        >>> from datetime import UTC
        >>> at = datetime(2026, 5, 29, 7, 30, tzinfo=UTC)
        >>> HoldRelease(hold=Hold(id="HW-1"), who="Ada", role=Role.INSPECTOR, evidence="mats in",
        ...             at=at, recorded_at=at).sentence()
        'hold HW-1 released from 29 May 2026 by Ada, inspector: mats in'
        """
        day = date_words(self.day)
        return f"hold {self.hold.id} released from {day} by {self.who}, {self.role}: {self.evidence}"


def may_release(hold: Hold, person: Person) -> bool:
    """Say whether a person is the one who releases a hold.

    Only the one its list names ("release by"): by name, by role, or by an office the person was given. A
    hold that names nobody is the manager's. Crews and viewers never release one. Common practice, no source.

    >>> may_release(Hold(id="HE-1", release_by="engineer"), Person(name="Ada", role=Role.MANAGER))
    False
    """
    if person.role in _NEVER:
        return False
    if not hold.release_by.strip():
        return person.role is Role.MANAGER
    return person.holds_office(hold.release_by)


def same_hold(one: Hold, other: Hold) -> bool:
    """Say whether two holds bind the same work at the same places for the same time, whatever the reason."""

    def bound(hold: Hold) -> Hold:
        said = replace(hold, reason="", restricted=False, set_by="", release_by="")
        return replace(said, released_on=None, between=(), within=(), spans=(), radius_text="")

    return bound(one) == bound(other)


def apply_releases(holds: Iterable[Hold], releases: Iterable[HoldRelease]) -> tuple[Hold, ...]:
    """Return the holds with the day of their release; those of the list that were released stay so.

    A release counts only for the hold as it stood: a list that comes again with other structures, activities,
    dates or condition under the same identifier brings a hold that is in force.
    """
    known, found = list(releases), []
    for hold in holds:
        days = [each.day for each in known if each.hold.id == hold.id and same_hold(each.hold, hold)]
        if days and hold.released_on is not None:
            days.append(hold.released_on)
        found.append(replace(hold, released_on=min(days)) if days else hold)
    return tuple(found)
