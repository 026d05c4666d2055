"""One thing recorded of a structure or pole. Events are only ever added; a correction is an event too."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite
from typing import Annotated, Literal, get_args

from linemap.domain.finding.phrase import BY_LETTER, Called
from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import LINE, REMARKS_WORDS, STRUCTURE_WORDS
from linemap.domain.record.reading import Reading, words_of

Result = Literal["done", "rejected", "withdrawn"]
SignedHow = Literal["", "proven", "said"]
#: What is recorded: a step of the workflow, a check of a frame by its crew, an entry of the punch list, an
#: answer to a case, or that a record belongs to another place. Only steps make the status of a structure.
What = Literal["step", "check", "punch", "case", "moved"]
_RESULTS = frozenset(get_args(Result))
_WHATS = frozenset(get_args(What))
MEASURES = ("longitude", "latitude", "accuracy_m", "wind_speed_mph", "wind_gust_mph", "skew_s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One record of the field: who says that a step was done, rejected or wrongly recorded, and when.

    "rejected" says that work was done and not accepted, so it must be done again. "withdrawn" says that
    the record itself was wrong (the other structure, the other pole). Four people may stand behind it, and
    none is ever rewritten: who did it, who was signed in where it was recorded, on which device, and whose
    sign-in brought it to the job.

    Raises
    ------
    ValueError
        If the identifier or structure is blank, or the step of a record of a step, `what` is none of its
        kinds, the pole is more than one letter, the result is none of the three, a time has no time zone, the
        position is no position, a measure is negative or not finite, or the event corrects itself.
    """

    #: UUID made where the event was recorded, lower case; sending it twice is still one event.
    id: Annotated[str, Cell("id eventid uuid recordid")]
    #: Line name.
    line: Annotated[str, LINE]
    #: Structure number in its one spelling.
    structure: Annotated[str, Cell(f"{STRUCTURE_WORDS} structures", way="structure")]
    #: Pole letter "A" to "C"; "" = the whole structure.
    pole: Annotated[str, Cell("pole poleletter leg letter", way="pole")] = ""
    #: Code of the step in the job's workflow; "" = none, of what is no step.
    step: Annotated[str, Cell("step activity task work event status stage workdone operation")]
    what: What = "step"
    #: Guy, span or item within the structure; "" = none.
    part: Annotated[str, Cell("part guy guyid guyno guyname span spanahead")] = ""
    result: Annotated[Result, Cell("result outcome")] = "done"
    #: When it happened by the recording device's clock, with its time zone.
    happened_at: Annotated[
        datetime,
        Cell(
            "date happenedat happened when completed completedon donedate doneon datetime workdate",
            label="day",
            named="date",
        ),
    ]
    #: When the job first received it by the job's own clock, with its time zone.
    received_at: Annotated[datetime, Cell("receivedat received", label="received", named="received")]
    crew: Annotated[str, Cell("crew gang team")] = ""
    #: The person who did it, or says so.
    actor: Annotated[str, Cell("actor recordedby by person foreman enteredby")] = ""
    #: The device it was recorded on.
    device: Annotated[str, Cell("device phone deviceid")] = ""
    #: Who was signed in on that device then; "" = nobody, or it does not say.
    signed_by: str = ""
    #: "proven" by that sign-in itself, or only "said" by whoever sent it; "" = nobody is named.
    signed_how: SignedHow = ""
    #: Role of who was signed in as proven, else of whose sign-in brought it; "" = not known.
    role: str = ""
    #: Whose sign-in brought it to the job; "" = nobody's.
    sent_by: str = ""
    note: Annotated[str, Cell(REMARKS_WORDS, free=True)] = ""
    #: File the event was read from, "" = recorded by a device.
    file: str = ""
    #: Row in that file, 0 = none.
    row: int = 0
    #: Where the device was, WGS 84 degrees; None = it had no fix.
    longitude: float | None = None
    latitude: float | None = None
    #: What the device says of its own fix, metres; None = it says nothing.
    accuracy_m: float | None = None
    #: Label of the structure list the recorder was looking at.
    revision_seen: str = ""
    #: Identifier of the event this one corrects, "" = none. That one no longer counts, and stays on record.
    supersedes: str = ""
    #: Brand read on the pole as records before typed readings say it; ask `all_readings`.
    brand_seen: str = ""
    #: Wind, miles an hour, as records before typed readings say it; None = not entered. Ask `all_readings`.
    wind_speed_mph: float | None = None
    wind_gust_mph: float | None = None
    #: Identifiers of the photos taken with it.
    photos: tuple[str, ...] = ()
    #: What was measured or seen, in the order of `put_in_order`.
    readings: tuple[Reading, ...] = ()
    #: Canonical JSON of what only its kind of record has, read by that kind; "" = nothing.
    content: str = ""
    #: Clock of the device minus clock of the job at receipt, seconds; None = not known (files).
    skew_s: float | None = None

    def __post_init__(self) -> None:
        # A million events are built when a job is opened: one test for the good ones.
        if not (
            self.id.strip()
            and self.structure.strip()
            and (self.step.strip() or self.what != "step")
            and self.what in _WHATS
            and len(self.pole) < 2
            and self.result in _RESULTS
            and self.happened_at.utcoffset() is not None
            and self.received_at.utcoffset() is not None
            and self.supersedes != self.id
        ):
            raise ValueError(f"event {self.id!r} {_fault(self)}")
        if not (
            self.skew_s
            is self.longitude
            is self.latitude
            is self.accuracy_m
            is self.wind_speed_mph
            is self.wind_gust_mph
            is None
        ):
            _check_measures(self)

    @property
    def key(self) -> tuple[str, str]:
        """Line and structure the event belongs to."""
        return (self.line, self.structure)

    @property
    def moment(self) -> datetime:
        """When it is taken to have happened: the device's time, put right, but never later than its arrival.

        A device whose clock is fast stamps events in the future; they happened before they arrived.
        """
        if not self.skew_s:
            return min(self.happened_at, self.received_at)
        return min(self.happened_at - self.clock_error, self.received_at)

    @property
    def clock_error(self) -> timedelta:
        """How far the device's clock was ahead of the job's, in whole minutes; 0 when it is not known.

        What is less than half a minute is the way of the message, not the clock.
        """
        return timedelta(minutes=round((self.skew_s or 0.0) / 60.0))

    @property
    def position(self) -> tuple[float, float] | None:
        """Longitude and latitude of the device in WGS 84 degrees; None when it had no fix."""
        if self.longitude is None or self.latitude is None:
            return None
        return (self.longitude, self.latitude)

    @property
    def order_key(self) -> tuple[datetime, datetime, datetime, str, int, str]:
        """Sort key that puts the events of one structure in the order they happened.

        Events of a fast clock that arrive together share their moment; the device's own times then keep
        them in order. Rows of one file with one time keep the order of the file.
        """
        return (self.moment, self.happened_at, self.received_at, self.file, self.row, self.id)

    @property
    def all_readings(self) -> tuple[Reading, ...]:
        """What was measured or seen, wherever the record keeps it; the note says nothing of it."""
        wind = (("wind", self.wind_speed_mph), ("gust", self.wind_gust_mph))
        kept = [Reading(name=name, value=mph, unit="mph") for name, mph in wind if mph is not None]
        if self.brand_seen.strip():
            kept.append(Reading(name="brand", value=self.brand_seen.strip()))
        return (*self.readings, *kept)

    def remarks(self, called: Called = BY_LETTER) -> str:
        """Return what was read, and the note: 'depth 9.5 ft, wind 18 mph; rock at 7 ft'."""
        return "; ".join(filter(None, (words_of(self.all_readings, called), self.note)))

    @property
    def who(self) -> str:
        """The crew; the person when no crew is named; "crew not named" when neither is."""
        return self.crew or self.actor or "crew not named"


def _check_measures(event: Event) -> None:
    limits = {"longitude": 180.0, "latitude": 90.0}
    for name in MEASURES:
        value = getattr(event, name)
        if value is None:
            continue
        if not isfinite(value) or abs(value) > limits.get(name, abs(value)):
            raise ValueError(f"event {event.id!r} has the {name} {value}; give one in range, or none")
        if value < 0.0 and name not in limits and name != "skew_s":
            raise ValueError(f"event {event.id!r} has the {name} {value}; give 0 or more, or none")
    if (event.longitude is None) != (event.latitude is None):
        raise ValueError(f"event {event.id!r} has half a position; give longitude and latitude, or neither")


def _fault(event: Event) -> str:
    if event.what not in _WHATS:
        return f"is of the kind {event.what!r}; use one of {', '.join(get_args(What))}"
    for name in ("id", "structure", *(("step",) if event.what == "step" else ())):
        if not getattr(event, name).strip():
            return f"has a blank {name}; give it one"
    if len(event.pole) > 1:
        return f"has the pole {event.pole!r}; give one letter, or nothing for the whole structure"
    if event.result not in _RESULTS:
        return f"has the result {event.result!r}; use one of {', '.join(get_args(Result))}"
    if event.supersedes == event.id:
        return "corrects itself; name the event that is corrected"
    name = "received_at" if event.happened_at.utcoffset() is not None else "happened_at"
    return f"has no time zone in {name}; write it with its offset"
