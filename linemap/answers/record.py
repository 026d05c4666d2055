"""What becomes of records that phones send: events, photos, claims, briefings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal


@dataclass(frozen=True, kw_only=True)
class EventResult:
    """What became of one record, in the order they were sent."""

    #: "" when the identifier could not be read.
    id: str
    outcome: Literal["stored", "duplicate", "refused"]
    #: Why it was refused; "" otherwise.
    why: str
    #: What the recorder should look at, one sentence each.
    findings: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class EventResults:
    """What became of a batch. `skew_s` is the device's clock minus the server's, seconds."""

    received_at: str
    skew_s: float
    data_version: int
    results: Sequence[EventResult]


@dataclass(frozen=True, kw_only=True)
class ListedEvent:
    """An event with its place in the order of receipt and its link in the chain of hashes."""

    seq: int
    hash: str
    #: As it is chained: what is not given is left out.
    event: Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class EventList:
    """Events in the order of receipt. Ask again with `since` = the last `seq` while `more` is true."""

    data_version: int
    events: Sequence[ListedEvent]
    more: bool


@dataclass(frozen=True, kw_only=True)
class PhotoState:
    """How much of a photo is here, bytes from its first one on; `sha256` "" = not all."""

    id: str
    event: str
    received: int
    total: int
    complete: bool
    media_type: str
    sha256: str


@dataclass(frozen=True, kw_only=True)
class OtherClaim:
    """A claim of another crew for the same structure."""

    id: str
    crew: str
    made_at: str
    expires_at: str


@dataclass(frozen=True, kw_only=True)
class StandingClaim:
    """A claim that has not ended, and those it meets; all of them stand."""

    id: str
    line: str
    structure: str
    crew: str
    device: str
    made_at: str
    #: By the server's clock.
    expires_at: str
    received_at: str
    #: True when nobody else could see it for five minutes or more after it was made.
    made_offline: bool
    others: Sequence[OtherClaim]
    sentence: str


@dataclass(frozen=True, kw_only=True)
class ClaimAnswer:
    """A claim as it stands; null = it had ended when it came."""

    id: str
    #: False when it was recorded before.
    recorded: bool
    data_version: int
    claim: StandingClaim | None


@dataclass(frozen=True, kw_only=True)
class ClaimList:
    """Claims that have not ended. They say nothing of where people are."""

    data_version: int
    server_time: str
    claims: Sequence[StandingClaim]


@dataclass(frozen=True, kw_only=True)
class BriefingAnswer:
    """A briefing as recorded."""

    id: str
    line: str
    structure: str
    #: False when it was recorded before.
    recorded: bool
    data_version: int
    #: Subjects of which nothing is written down.
    not_covered: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class RecordMark:
    """How far the record reaches: number of its newest event, newest links of the job; 0 and "" = none."""

    seq: int
    newest: str


@dataclass(frozen=True, kw_only=True)
class BackupMark:
    """The newest copy kept of this life of the job: made when, up to which event, of which data version."""

    at: str
    seq: int
    version: int


@dataclass(frozen=True, kw_only=True)
class DeviceRecords:
    """How many records of the job came from a device, and when the newest was received."""

    count: int
    newest: str


@dataclass(frozen=True, kw_only=True)
class Compared:
    """What a phone kept, held against the job as it is now.

    `lost` are the chains that do not hold what the phone saw: "events", "changes", "seals"; `missing` are
    those of its identifiers that the job does not have. `from_device` is told to a phone that finds nothing
    of its own.
    """

    incarnation: str
    data_version: int
    record: RecordMark
    lost: Sequence[str]
    missing: Sequence[str]
    from_device: DeviceRecords | None
