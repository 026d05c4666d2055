"""Holds: who may not do what, where, from when to when, unless what, and who releases it.

A hold is a sentence, not a flag. Nothing here says that work may be done: the absence of a hold in the job
means only that none was entered. A release is by the one it names, with evidence, and never taken back;
whoever finds it wrong sets a new hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from types import MappingProxyType
from typing import Annotated, Self

from linemap.domain.crew.reach import Reach
from linemap.domain.finding.phrase import date_words
from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import FROM_STRUCTURE, LINE, STRUCTURE_WORDS, TO_STRUCTURE
from linemap.domain.record.person import Person, Role
from linemap.domain.record.workflow import match_step

#: A step's code, which says what is done, in the words of the work that is held.
_WORK: Mapping[str, str] = MappingProxyType(
    {
        "staked": "staking", "spotted": "spotting", "dug": "digging", "framed": "framing", "set": "setting",
        "guyed": "anchors and guys", "grounded": "grounding", "blocks hung": "hanging blocks",
        "surveyed": "surveying", "inspected": "inspecting",
    }
)  # fmt: skip
#: Activities that stop every activity: without entry there is no work. Common practice, no source.
_EVERYTHING = frozenset({"all", "all work", "entry", "access"})
#: What stands in place of a reason that is kept from a reader -> the kind of hold it names.
KEPT_REASONS: Mapping[str, str] = MappingProxyType(
    {f"hold: {kind}": kind for kind in ("environmental", "landowner", "restricted")}
)
#: Who never releases a hold, whatever the hold says.
_NEVER = frozenset({Role.CREW, Role.VIEWER})
#: Words for an end that is not known yet.
_OPEN = ("open", "tbd", "until released", "-", "none")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """One hold on some activities at some structures for some time.

    A hold that names neither structures nor a range is on the whole line.

    Raises
    ------
    ValueError
        If the identifier is blank, no activity is named, an end of the range is no structure number, or the
        last day lies before the first.
    """

    #: Identifier as the owner writes it: "HE-1".
    id: Annotated[str, Cell("id hold holdid no number holdno")]
    #: Line name; "" = every line of the job.
    line: Annotated[str, LINE] = ""
    #: Structure numbers named one by one.
    structures: Annotated[tuple[str, ...], Cell(f"{STRUCTURE_WORDS} structures at", way="reach")] = ()
    #: First structure of a range, in the order of the numbers; "" = from the beginning of the line.
    from_structure: Annotated[str, FROM_STRUCTURE] = ""
    #: Last structure of a range, itself included; "" = to the end of the line.
    to_structure: Annotated[str, TO_STRUCTURE] = ""
    #: What is held: "framing", "dig", ... or ("all",).
    activities: Annotated[
        tuple[str, ...],
        Cell("activities activity held work holds activityheld workheld", way="words"),
    ] = ("all",)
    #: First day of the hold; None = in force since before the job.
    from_date: Annotated[
        date | None,
        Cell("fromdate startdate start begin validfrom datefrom from effective", nothing=_OPEN, label="from"),
    ] = None
    #: Last day of the hold, itself included; None = open until released.
    to_date: Annotated[
        date | None,
        Cell("todate enddate end until validto dateto to through", nothing=_OPEN, label="until"),
    ] = None
    #: What must be there for the work to go on ("monitor named"); "" = nothing lifts it but a release.
    condition: Annotated[str, Cell("condition conditions onlywith unless", free=True)] = ""
    reason: Annotated[str, Cell("reason why cause because", free=True)] = ""
    #: True when the reason is not for everyone (nests, cultural sites, names of owners).
    restricted: Annotated[
        bool, Cell("restricted confidential secret private", doubt=(True, "restricted"))
    ] = False
    set_by: Annotated[str, Cell("setby placedby issuedby", free=True, public=False)] = ""
    #: Who releases it.
    release_by: Annotated[
        str, Cell("releaseby releasedby whoreleases releases releaser", free=True, public=False)
    ] = ""
    #: First day on which it no longer held; None = not released.
    released_on: Annotated[
        date | None, Cell("releasedon releasedate released datereleased", nothing=_OPEN)
    ] = None
    #: Structures between the ends of the range, where their numbers do not tell which these are.
    between: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.id.strip():
            raise ValueError("a hold has a blank identifier; give it one")
        if not any(activity.strip() for activity in self.activities):
            raise ValueError(f'hold {self.id} names no activity; write "all" when it stops everything')
        if self.from_date and self.to_date and self.to_date < self.from_date:
            raise ValueError(
                f"hold {self.id} ends {self.to_date}, before it begins {self.from_date}; correct a date"
            )

    @property
    def conditional(self) -> bool:
        """True when the work may go on under the condition; False when only a release lifts the hold."""
        return bool(self.condition.strip())

    def active(self, on: date) -> bool:
        """Say whether the hold is in force on a day. First and last day belong to it.

        >>> hold = Hold(id="HL-1", to_date=date(2026, 5, 31))
        >>> hold.active(date(2026, 5, 31)), hold.active(date(2026, 6, 1))
        (True, False)
        """
        begun = self.from_date is None or self.from_date <= on
        ended = (self.to_date is not None and self.to_date < on) or (
            self.released_on is not None and self.released_on <= on
        )
        return begun and not ended

    @property
    def reach(self) -> Reach:
        """The structures that lie in the hold."""
        return Reach.of(self.line, self.structures, self.from_structure, self.to_structure, self.between)

    def stops(self, activity: str) -> bool:
        """Say whether the hold is on an activity, by its name or by the standard step it means.

        Holds on entry or access stop every activity. A conditional hold stops it until its condition is met.

        >>> hold = Hold(id="HE-1", activities=("framing", "setting", "anchors"))
        >>> [hold.stops(step) for step in ("framed", "Set", "guyed", "dug")]
        [True, True, True, False]
        """
        return any(_same_activity(held, activity) for held in self.activities)

    def without_reason(self) -> Self:
        """Return the hold for readers who may not see a restricted reason; other holds are returned as is."""
        return replace(self, reason="") if self.restricted else self

    def sentence(self) -> str:
        """Write the hold out for people, without its reason when that is restricted.

        >>> Hold(id="HE-1", structures=("9/2",), activities=("setting",), release_by="engineer",
        ...      from_date=date(2026, 3, 1), reason="revision due").sentence()
        'no setting at 9/2 from 1 March 2026 until released (revision due); to be released by engineer'
        >>> Hold(id="HC-1", structures=("21/3",), activities=("dig",), condition="monitor named").sentence()
        'dig at 21/3 only with monitor named, until released'
        """
        what = (
            "work"
            if any(_is_everything(held) for held in self.activities)
            else ", ".join(_WORK.get(activity, activity) for activity in self.activities)
        )
        head = (
            f"{what} {self._place()} only with {self.condition},"
            if self.condition
            else f"no {what} {self._place()}"
        )
        since = f" from {date_words(self.from_date)}" if self.from_date else ""
        return f"{head}{since} {self._until()}{self._release()}"

    def _place(self) -> str:
        named, ends = [*self.structures], (self.from_structure, self.to_structure)
        if all(ends):
            named.append(ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}")
        elif any(ends):
            named.append(f"{ends[0]} and ahead" if ends[0] else f"{ends[1]} and back")
        return f"at {', '.join(named)}" if named else f"on the whole line {self.line}".rstrip()

    def _until(self) -> str:
        reason = "" if self.restricted else self.reason
        end = "released" if self.to_date is None else date_words(self.to_date)
        return f"until {end}" + (f" ({reason})" if reason else "")

    def _release(self) -> str:
        if self.released_on is not None:
            by = f" by {self.release_by}" if self.release_by else ""
            return f"; was released{by} on {date_words(self.released_on)}"
        return f"; to be released by {self.release_by}" if self.release_by else ""


def _is_everything(activity: str) -> bool:
    return " ".join(activity.casefold().split()) in _EVERYTHING


def _same_activity(held: str, asked: str) -> bool:
    if _is_everything(held) or held.strip().casefold() == asked.strip().casefold():
        return True
    step = match_step(held)
    return step is not None and step == match_step(asked)


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
        return replace(said, released_on=None, between=())

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
