"""Holds: who may not do what, where, from when to when, unless what, and who releases it.

A hold is a sentence, not a flag. Nothing here says that work may be done: the absence of a hold in the job
means only that none was entered.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, time
from types import MappingProxyType
from typing import Annotated, Self

from linemap.domain.crew.reach import Reach
from linemap.domain.crew.term import Standing, Term, dated, day_of
from linemap.domain.finding.phrase import date_words
from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import FROM_STRUCTURE, LINE, STRUCTURE_WORDS, TO_STRUCTURE
from linemap.domain.record.step_words import match_step, same_wire_work

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
#: Words for an end that is not known yet.
_OPEN = ("open", "tbd", "until released", "-", "none")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """One hold on some activities at some structures for some time.

    A hold that names neither structures nor a range is on the whole line.

    Raises
    ------
    ValueError
        If the identifier is blank, no activity is named, an end of the range is no structure number, the
        hold ends before it begins, or has a time without its day.
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
    #: Time of the first day at which it begins, by the clock of the job; None = the whole day.
    from_time: Annotated[
        time | None,
        Cell("fromtime starttime begintime timefrom timestart", label="from (time)", clock_of="from_date"),
    ] = None
    #: Last day of the hold, itself included; None = open until released.
    to_date: Annotated[
        date | None,
        Cell("todate enddate end until validto dateto to through", nothing=_OPEN, label="until"),
    ] = None
    #: Time of the last day at which it is over; None = the whole day.
    to_time: Annotated[
        time | None,
        Cell("totime endtime timeto timeend timeuntil", label="until (time)", clock_of="to_date"),
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
    #: Where a hold stands that reaches as far as its radius, on the grid; None = at the structures it names.
    easting: Annotated[float | None, Cell("easting east eastingx", way="place")] = None
    northing: Annotated[float | None, Cell("northing north northingy", way="place")] = None
    #: How far it reaches from there on the ground; None = it has no buffer.
    radius: Annotated[
        float | None, Cell("radius buffer bufferradius within withinradius bufferdistance", unit="ground")
    ] = None
    #: Structures between the ends of the range, where their numbers do not tell which these are.
    between: tuple[str, ...] = ()
    #: Structures, and spans by both their ends, that lie within the radius, as the lists place them now.
    within: tuple[str, ...] = ()
    spans: tuple[tuple[str, str], ...] = ()
    #: The radius with its unit: "660 ft"; "" = it has none, or its place is not for everyone.
    radius_text: str = ""

    def __post_init__(self) -> None:
        if not self.id.strip():
            raise ValueError("a hold has a blank identifier; give it one")
        if not any(activity.strip() for activity in self.activities):
            raise ValueError(f'hold {self.id} names no activity; write "all" when it stops everything')
        if self.from_date and self.to_date and self.to_date < self.from_date:
            raise ValueError(
                f"hold {self.id} ends {self.to_date}, before it begins {self.from_date}; correct a date"
            )
        if self.radius is None and self.easting is not None:
            raise ValueError(f"hold {self.id} has a place and no radius; give how far it reaches")
        if self.radius is not None and not self.radius > 0.0:
            raise ValueError(f"hold {self.id} has the radius {self.radius:g}; give one above 0")
        for day, clock in ((self.from_date, self.from_time), (self.to_date, self.to_time)):
            if clock is not None and day is None:
                raise ValueError(f"hold {self.id} has the time {clock:%H:%M} without its day; give the day")
        times = (self.from_time, self.to_time) if self.from_date == self.to_date else (None, None)
        if times[0] is not None and times[1] is not None and times[1] <= times[0]:
            raise ValueError(
                f"hold {self.id} ends {times[1]:%H:%M}, not after {times[0]:%H:%M}, when it begins; "
                "correct a time"
            )

    @property
    def conditional(self) -> bool:
        """True when the work may go on under the condition; False when only a release lifts the hold."""
        return bool(self.condition.strip())

    @property
    def term(self) -> Term:
        """From when to when its list says that it holds."""
        return Term(
            first=self.from_date, first_time=self.from_time, last=self.to_date, last_time=self.to_time
        )

    def standing(self, at: date) -> Standing:
        """Say how it stands on a day or at a moment; from the day of its release on it is over."""
        released = self.released_on is not None and self.released_on <= day_of(at)
        return "over" if released else self.term.standing(at)

    def active(self, on: date) -> bool:
        """Say whether the hold is in force on a day, at any time of it, or at a moment (a `datetime`).

        First and last day belong to it.

        >>> hold = Hold(id="HL-1", to_date=date(2026, 5, 31))
        >>> hold.active(date(2026, 5, 31)), hold.active(date(2026, 6, 1))
        (True, False)
        """
        return self.standing(on) == "in force"

    def coming_words(self, at: date, *, free: bool = True) -> str:
        """Say what a hold that is to come means at a day or moment; `free` = nothing else holds until then.

        >>> hold = Hold(id="HX-1", from_date=date(2026, 9, 17), from_time=time(6))
        >>> hold.coming_words(date(2026, 9, 14))
        'free until Thu 06:00 by the records, then hold HX-1'
        >>> Hold(id="HN-2", condition="monitor on site", from_date=date(2026, 9, 15)).coming_words(
        ...     date(2026, 9, 14))
        'from tomorrow only with monitor on site (HN-2)'
        """
        begins = self.term.from_words(at)
        then = f"only with {self.condition} ({self.id})" if self.conditional else f"hold {self.id}"
        if free and self.from_time is not None:
            return f"free until {begins} by the records, then {then}"
        return f"from {begins} {then}" if self.conditional else f"{then} from {begins}"

    @property
    def reach(self) -> Reach:
        """The structures that lie in the hold; of one with a radius those within it, and none else."""
        if self.radius is not None:
            named = (*self.structures, *self.within)
            return Reach.of(self.line, named) if named else Reach(self.line, frozenset(), (2,), (0,))
        return Reach.of(self.line, self.structures, self.from_structure, self.to_structure, self.between)

    def on_wire(self) -> tuple[Self, ...]:
        """Return what it is for the wire of spans in its radius whose back structure is not; () = nothing.

        A structure outside of the radius is held for no other work.
        """
        spans = tuple(span for span in self.spans if span[0] not in (*self.structures, *self.within))
        if not spans or not (self.stops("strung") or self.stops("wire")):
            return ()
        backs = tuple(back for back, _ in spans)
        return (replace(self, structures=(), within=backs, spans=spans, activities=("wire",)),)

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
        if not self.restricted:
            return self
        return replace(self, reason="", easting=None, northing=None, radius_text="")

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
        since = f" from {dated(self.from_date, self.from_time)}" if self.from_date else ""
        return f"{head}{since} {self._until()}{self._release()}"

    def _place(self) -> str:
        if self.radius is not None:
            return self._buffer()
        named, ends = [*self.structures], (self.from_structure, self.to_structure)
        if all(ends):
            named.append(ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}")
        elif any(ends):
            named.append(f"{ends[0]} and ahead" if ends[0] else f"{ends[1]} and back")
        return f"at {', '.join(named)}" if named else f"on the whole line {self.line}".rstrip()

    def _buffer(self) -> str:
        """Say which structures and spans lie within the radius; not how far it is where that is not told."""
        spans = [f"{back} to {ahead}" for back, ahead in self.spans]
        if self.activities == ("wire",) and self.spans and not self.structures:
            places = f"in the span{'s' * (len(spans) > 1)} {', '.join(spans)}"
        else:
            named = dict.fromkeys((*self.structures, *self.within))
            in_spans = f" and in the span{'s' * (len(spans) > 1)} {', '.join(spans)}" if spans else ""
            places = (f"at {', '.join(named)}" if named else "at no structure of the lists") + in_spans
        centre = f"of {', '.join(self.structures)}" if self.easting is None else "of its place"
        return places + (
            f", within {self.radius_text} {centre}" if self.radius_text and not self.restricted else ""
        )

    def _until(self) -> str:
        reason = "" if self.restricted else self.reason
        end = "released" if self.to_date is None else dated(self.to_date, self.to_time)
        return f"until {end}" + (f" ({reason})" if reason else "")

    def _release(self) -> str:
        if self.released_on is not None:
            by = f" by {self.release_by}" if self.release_by else ""
            return f"; was released{by} on {date_words(self.released_on)}"
        if self.release_by:
            return f"; to be released by {self.release_by}"
        return f"; asked for by {self.set_by}" if self.conditional and self.set_by else ""


def _is_everything(activity: str) -> bool:
    return " ".join(activity.casefold().split()) in _EVERYTHING


def _same_activity(held: str, asked: str) -> bool:
    if _is_everything(held) or held.strip().casefold() == asked.strip().casefold():
        return True
    step = match_step(held)
    if step is None:
        return same_wire_work(held, asked)
    return step == match_step(asked)
