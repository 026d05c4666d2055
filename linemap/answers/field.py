"""What a phone takes along: the index of a job, and its miles with the cards of their structures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from linemap.answers.card import FieldCard
from linemap.answers.case import CaseEntry
from linemap.answers.line import Feature
from linemap.answers.record import BackupMark, RecordMark
from linemap.domain.record.person import Role
from linemap.domain.record.workflow import Per


@dataclass(frozen=True, kw_only=True)
class StepRule:
    """One step of the workflow, what must come before it, and whether it digs and needs a locate ticket."""

    code: str
    words: str
    per: Per
    requires: Sequence[str]
    needs_ticket: bool
    #: True when its ticket must cover the anchors.
    sets_anchors: bool
    needs_material: bool
    #: Roles whose record makes it done; [] = any.
    roles: Sequence[Role]
    #: What must be recorded with it for it to count as verified: "photo", "depth", ...
    evidence: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class FieldWorkflow:
    """The steps in an order that respects what each requires, and the main chain."""

    steps: Sequence[StepRule]
    chain: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class MileEntry:
    """One mile: how many structures, how many bytes travel, fingerprint of the content."""

    mile: int
    structures: int
    bytes: int
    version: str


@dataclass(frozen=True, kw_only=True)
class Barrier:
    """A stretch of a right of way that no vehicle crosses, between two structures, and the way round."""

    back: str
    ahead: str
    what: str
    words: str


@dataclass(frozen=True, kw_only=True)
class FieldList:
    """One structure list: what records call it that were made by it, when it came, old -> new numbers."""

    name: str
    at: str
    renumbered: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class FieldLine:
    """One line with its miles in line order; a full station has `per_plus` of its unit."""

    name: str
    back_end: str
    ahead_end: str
    pole_a: Literal["left", "right"]
    unit: str
    per_plus: int
    barriers: Sequence[Barrier]
    miles: Sequence[MileEntry]
    #: Structure lists of the line, oldest first, where any gave structures other numbers.
    lists: Sequence[FieldList]


@dataclass(frozen=True, kw_only=True)
class ReadingAsked:
    """Unit in which a form asks for a reading, and between what it lies; "" and 0 where it is no number.

    One of the unit is `in_first` of the unit that lines in feet are asked in.
    """

    unit: str
    least: float
    most: float
    in_first: float


@dataclass(frozen=True, kw_only=True)
class ReadingDeclared:
    """What can be measured or seen with a record, as `readings` of `POST /api/events` take it.

    `under_condition` = it is asked for where a hold lets the step go on under a condition; `of` says whether
    it is of the structure, of each pole, or of the structure and names one pole; `steps`
    are those that ask for it, none = all; `says` is how it is said, a yes and a no parted by "|".
    """

    name: str
    label: str
    kind: Literal["number", "yes or no", "text"]
    of: Literal["structure", "pole", "one pole"]
    steps: Sequence[str]
    under_condition: bool
    says: str
    #: By the unit of the line, "ft" or "m".
    asked: Mapping[str, ReadingAsked]


@dataclass(frozen=True, kw_only=True)
class RoverDeclared:
    """What a phone needs to check frames by rover as the job does; lengths in the ground unit of its lines.

    A receiver may be `gate_m` off at most by its own words, its corrections `age_s` old; `noise` is
    [share of the variance, seconds in which that part is forgotten]; `circles` [what an accuracy may mean,
    sigmas per axis in it]. A fail lies `beyond` sigmas outside, `coarse` where the tolerance is less than
    `coverage` sigmas; `chi_square` is by pairs of positions beyond those that place the poles, from 1 on.
    """

    metre: float
    gate_m: float
    age_s: float
    noise: Sequence[tuple[float, float]]
    stake: float
    radius: float
    oval: float
    rod: float
    stance_deg: float
    shift: float
    seconds: float
    epochs: int
    faces: int
    circles: Sequence[tuple[str, float]]
    confidence: float
    beyond: float
    coarse: float
    coverage: float
    chi_square: Sequence[float]


@dataclass(frozen=True, kw_only=True)
class FieldWindLimit:
    """A wind that somebody names, miles an hour: the published note's, the employer's, the equipment's."""

    name: str
    mph: float


@dataclass(frozen=True, kw_only=True)
class FieldWind:
    """What is said of wind: sentences by the unit of the line ("ft", "m"), and the winds they name.

    None of them permits anything; a phone says which of them a wind is above, never that it is not.
    """

    words: Mapping[str, Sequence[str]]
    limits: Sequence[FieldWindLimit]


@dataclass(frozen=True, kw_only=True)
class FieldContent:
    """The part of the index that depends on the data alone; `as_of` is the day the job is shown for.

    `zone` is the IANA name of the time zone by which phones date holds and tickets, "" = not known;
    `tickets_kept` says whether the job lists locate tickets at all. `job` is the job's name; `identity`,
    `incarnation` and `software` are those of `Job`. `emergency` holds what is declared of the nearest
    hospital, `waits` says what is not loaded yet. `wind_limit_mph` is the employer's limit, null when nobody
    set one.
    """

    job: str
    identity: str
    incarnation: str
    software: str
    data_version: int
    as_of: str
    zone: str
    tickets_kept: bool
    caution: str
    emergency: Sequence[str]
    wind_limit_mph: float | None
    wind: FieldWind
    #: Whose closing of a punch item counts; empty = of whoever records.
    punch_roles: Sequence[str]
    waits: Sequence[str]
    workflow: FieldWorkflow
    readings: Sequence[ReadingDeclared]
    rover: RoverDeclared
    crews: Sequence[str]
    lines: Sequence[FieldLine]
    #: Open cases of structures that no list has any more.
    unlisted: Sequence[CaseEntry]
    #: Fingerprint of the checks of frames that cards name (`CheckPlans`).
    check_plans: str


@dataclass(frozen=True, kw_only=True)
class FieldIndex(FieldContent):
    """What a phone must know before it takes anything along.

    `as_of` is the day the job is shown for, `server_time` the server's clock with its offset. `record` says
    how far the record reaches, `backup` how far the newest copy of the job does; null = none is on record.
    """

    server_time: str
    stale_after_hours: float
    record: RecordMark
    backup: BackupMark | None


@dataclass(frozen=True, kw_only=True)
class MileContent:
    """One mile of one line with its surroundings.

    `mark` differs between jobs, lives of a job, and versions of linemap.
    """

    mark: str
    line: str
    mile: int
    structures: Sequence[FieldCard]
    context: Sequence[Feature]


@dataclass(frozen=True, kw_only=True)
class FieldMile(MileContent):
    """One mile of one line with its surroundings; `version` is the fingerprint of the rest."""

    version: str
