"""Who asks; what a crew asks: where to next by the records, where it stands, which holds there are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from linemap.domain.record.person import Role


@dataclass(frozen=True, kw_only=True)
class Health:
    """Answer of the monitor's question."""

    status: Literal["up"]
    #: Data version of the job; it grows by one with every change.
    data_version: int
    #: What is not loaded or declared yet: "structures", "base point".
    waits: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class Session:
    """Who asks. All but `signed_in` and `local` is "" or null when nobody is signed in."""

    signed_in: bool
    name: str
    role: Role | None
    device: str
    #: The crew they claim structures for; "" = none is set.
    crew: str
    #: What records made under this sign-in carry, to prove whose they are; it lets nobody in.
    mark: str
    #: True at the machine of a job that has no people yet.
    local: bool


@dataclass(frozen=True, kw_only=True)
class WhereAnswer:
    """Where a fix lies on the line. It tells which structure, never which pole."""

    sentence: str
    #: Numbers behind and ahead, "" beyond the last one.
    between: Annotated[Sequence[str], Field(min_length=2, max_length=2)]
    station_text: str
    offset_text: str
    accuracy_text: str


@dataclass(frozen=True, kw_only=True)
class WorkableRow:
    """A structure that no record keeps the crew from. It permits nothing."""

    line: str
    number: str
    station_text: str
    why: Sequence[str]
    next_step: str
    #: `length_text`, with how well the place is known.
    distance_text: str
    length_text: str
    #: Straight direction, "" where the fix cannot tell one; `compass` alone is its wind.
    bearing_text: str
    compass: str
    #: The whole way: `roads_text`, which neighbours often share, then `in_all_text`; either may be "".
    travel_text: str
    roads_text: str
    in_all_text: str
    #: What must be there or seen to for the work to go on.
    conditions: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class RefusedRow:
    """A structure that some record keeps the crew from, in one sentence; `reason` leaves out the number."""

    line: str
    number: str
    reason: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class NextAnswer:
    """Where a crew may go next by the records, nearest first."""

    for_: Annotated[str, Field(alias="for")]
    step: str
    as_of: str
    #: The other time it is of, in words; "" = now.
    when: str
    ordered_by: Literal["access", "line"]
    from_: Annotated[str, Field(alias="from")]
    workable: Sequence[WorkableRow]
    refused: Sequence[RefusedRow]
    #: All workable structures, those beyond the limit included.
    workable_count: int
    done_count: int
    where: WhereAnswer | None
    caution: str

    def body(self) -> Mapping[str, object]:
        """Return the fields under the names they travel by: "for" and "from" are words of Python."""
        return {name.rstrip("_"): value for name, value in vars(self).items()}


@dataclass(frozen=True, kw_only=True)
class Release:
    """One release of a hold. `at` and `recorded_at` are ISO 8601 with offset."""

    who: str
    role: str
    evidence: str
    at: str
    recorded_at: str


@dataclass(frozen=True, kw_only=True)
class HoldRecord:
    """One hold with its history."""

    id: str
    line: str
    sentence: str
    conditional: bool
    #: True when it is in force on the day the job is shown for.
    in_force: bool
    release_by: str
    #: True when whoever asks is the one who releases it.
    yours_to_release: bool
    releases: Sequence[Release]


@dataclass(frozen=True, kw_only=True)
class HoldList:
    """All holds of the job, released ones included."""

    data_version: int
    as_of: str
    #: The other time it is of, in words; "" = now.
    when: str
    caution: str
    holds: Sequence[HoldRecord]


@dataclass(frozen=True, kw_only=True)
class ReleaseAnswer:
    """What was recorded."""

    id: str
    sentence: str
    data_version: int
