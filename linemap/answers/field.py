"""What a phone takes along: the index of a job, and a card for each structure of a mile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from linemap.answers.case import CaseEntry
from linemap.answers.line import Feature
from linemap.answers.record import BackupMark, RecordMark
from linemap.answers.structure import Frame, History, StructureDesign, StructureRecord, StructureStep
from linemap.answers.tape import CardTape
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
class CardTicket:
    """One locate ticket that covers the structure, as a phone dates it by itself.

    `valid_from` and `valid_to` are its first and last day, "" = not known; `sentence` says how it stands on
    the day of the index.
    """

    number: str
    valid_from: str
    valid_to: str
    #: "poles and anchors" or "poles only".
    covers: str
    #: True when it serves steps that set anchors.
    anchors: bool
    #: The answers of the utilities while one is waited for; "" = none is.
    waits: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class CardPoleMarks:
    """The marks of one pole: [name, from the top, from the butt] from the top down."""

    letter: str
    depth_text: str
    brand_text: str
    marks: Sequence[tuple[str, str, str]]


@dataclass(frozen=True, kw_only=True)
class CardMarks:
    """Framing marks, what is said of them, and which cannot be told."""

    poles: Sequence[CardPoleMarks]
    sentences: Sequence[str]
    unavailable: Sequence[str]
    drawings: Sequence[str]
    bundle: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class CardNear:
    """For the briefing: coordinates (three formats, and the grid), nearest road point, reminders.

    `spans` are crossings in the own spans that lie farther off than the reminders reach; `hospital` says
    what the lists of the job know of the nearest one.
    """

    coordinates: Sequence[str]
    road_point: str
    hospital: Sequence[str]
    reminders: Mapping[str, Sequence[str]]
    spans: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class CardClaim:
    """A claim in force; the sentence names those it meets."""

    id: str
    crew: str
    expires_at: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class CardBriefing:
    """The newest job briefing held there: ISO moment and person in charge."""

    when: str
    by: str


@dataclass(frozen=True, kw_only=True)
class CardDesign(StructureDesign):
    """The part of a card that no record of the field changes."""

    slug: str
    station: float
    longitude: float
    latitude: float
    mile: int
    left_to_right: str
    frame: Frame
    arm_face: str
    marks: CardMarks | None
    tickets: Sequence[CardTicket]
    shortages: Sequence[str]
    not_built: Sequence[str]
    azimuth_deg: float
    near: CardNear
    tape: CardTape


@dataclass(frozen=True, kw_only=True)
class CardRecord(StructureRecord):
    """The part of a card that records of the field change."""

    stage: str
    #: What is wrong with what stands there: a frame that fails or is reversed, work that was not accepted. It
    #: is said before all else.
    wrong: Sequence[str]
    steps: Sequence[StructureStep]
    #: Codes of steps that may come next.
    open: Sequence[str]
    revision: str
    #: Newest first.
    last: Sequence[History]
    claims: Sequence[CardClaim]
    briefing: CardBriefing | None


@dataclass(frozen=True, kw_only=True)
class FieldCard(CardRecord, CardDesign):
    """Everything a crew must see of one structure.

    `azimuth_deg` is true, of its ahead direction; `not_built` are the codes of steps it does not have.
    """


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
