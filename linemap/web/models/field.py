"""Shapes of the answers a phone takes along, for the OpenAPI document and for tests."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel

from linemap.answers.findings import FindingEntry
from linemap.answers.line import Feature
from linemap.answers.lists import ListedRecord
from linemap.answers.structure import PanelCrossing, PanelHistory

__all__ = ["FieldIndex", "FieldMile"]


class StepRule(BaseModel):
    """One step of the workflow, what must come before it, and whether it digs and needs a locate ticket."""

    code: str
    words: str
    per: Literal["structure", "pole"]
    requires: list[str]
    needs_ticket: bool
    needs_material: bool
    #: What must be recorded with it for it to count as verified: "photo", "depth", ...
    evidence: list[str]


class FieldWorkflow(BaseModel):
    """The steps in an order that respects what each requires, and the main chain."""

    steps: list[StepRule]
    chain: list[str]


class MileEntry(BaseModel):
    """One mile: how many structures, how many bytes travel, fingerprint of the content."""

    mile: int
    structures: int
    bytes: int
    version: str


class Barrier(BaseModel):
    """A stretch of a right of way that no vehicle crosses, between two structures, and the way round."""

    back: str
    ahead: str
    what: str
    words: str


class FieldLine(BaseModel):
    """One line with its miles in line order; a full station has `per_plus` of its unit."""

    name: str
    back_end: str
    ahead_end: str
    pole_a: Literal["left", "right"]
    unit: str
    per_plus: int
    barriers: list[Barrier]
    miles: list[MileEntry]


class ReadingAsked(BaseModel):
    """Unit in which a form asks for a reading, and between what it lies; "" and 0 where it is no number."""

    unit: str
    least: float
    most: float


class ReadingDeclared(BaseModel):
    """What can be measured or seen with a record, as `readings` of `POST /api/events` take it.

    `of` says whether it is of the structure, of each pole, or of the structure and names one pole; `steps`
    are those that ask for it, none = all; `says` is how it is said, a yes and a no parted by "|".
    """

    name: str
    label: str
    kind: Literal["number", "yes or no", "text"]
    of: Literal["structure", "pole", "one pole"]
    steps: list[str]
    says: str
    #: By the unit of the line, "ft" or "m".
    asked: dict[str, ReadingAsked]


class FieldIndex(BaseModel):
    """What a phone must know before it takes anything along.

    `as_of` is the day the job is shown for, `server_time` the server's clock with its offset;
    `wind_limit_mph` is the employer's limit, null when nobody set one.
    """

    job: str
    data_version: int
    as_of: str
    caution: str
    server_time: str
    stale_after_hours: float
    wind_limit_mph: float | None
    workflow: FieldWorkflow
    readings: list[ReadingDeclared]
    crews: list[str]
    lines: list[FieldLine]


class CardPole(BaseModel):
    """One pole of the schedule."""

    letter: str
    length_text: str
    pole_class: str
    ground_wire: bool | None


class CardStep(BaseModel):
    """One step: the poles it is recorded for, and what is `missing` for it to count as verified."""

    code: str
    words: str
    per: Literal["structure", "pole"]
    done: bool
    poles_done: str
    when: str
    crew: str
    missing: list[str]


class CardTicket(BaseModel):
    """One locate ticket that covers the structure; `valid_to` is its last day, "" = not known."""

    number: str
    valid_to: str
    sentence: str


class CardHold(BaseModel):
    """One hold in force; `stops` are the codes of the steps it touches."""

    id: str
    sentence: str
    kind: Literal["hold", "conditional"]
    activities: list[str]
    stops: list[str]
    until: str


class CardFrame(BaseModel):
    """What the plan of the frame is drawn from.

    Directions to the neighbours are degrees clockwise from ahead; poles are [letter, right, ahead] in ground
    units, at equal distances when `to_scale` is false.
    """

    back_deg: float
    ahead_deg: float
    to_scale: bool
    poles: list[tuple[str, float, float]]


class CardPoleMarks(BaseModel):
    """The marks of one pole: [name, from the top, from the butt] from the top down."""

    letter: str
    depth_text: str
    brand_text: str
    marks: list[tuple[str, str, str]]


class CardMarks(BaseModel):
    """Framing marks, what is said of them, and which cannot be told."""

    poles: list[CardPoleMarks]
    sentences: list[str]
    unavailable: list[str]
    drawings: list[str]
    bundle: list[str]


class CardNear(BaseModel):
    """For the briefing: coordinates (three formats, and the grid), nearest road point, reminders.

    `spans` are crossings in the own spans that lie farther off than the reminders reach.
    """

    coordinates: list[str]
    road_point: str
    reminders: dict[str, list[str]]
    spans: list[str]


class FieldCard(BaseModel):
    """Everything a crew must see of one structure.

    `azimuth_deg` is true, of its ahead direction; `not_built` are the codes of steps it does not have.
    """

    number: str
    slug: str
    station_text: str
    station: float
    region: int | None
    longitude: float
    latitude: float
    mile: int
    type: str
    type_words: str
    back: str
    ahead: str
    back_span_text: str
    ahead_span_text: str
    deflection_text: str
    left_to_right: str
    frame: CardFrame
    arm_face: str
    marks: CardMarks | None
    poles: list[CardPole]
    stage: str
    steps: list[CardStep]
    open: list[str]
    verdict: str
    reversed: bool
    holds: list[CardHold]
    tickets: list[CardTicket]
    shortages: list[str]
    not_built: list[str]
    findings: list[str]
    #: Those of the findings that stand first: what stops work, and what the crew is asked.
    look_first: list[FindingEntry]
    crossings: list[PanelCrossing]
    lists: list[ListedRecord]
    revision: str
    changes: list[str]
    last: list[PanelHistory]
    claims: list[dict[str, Any]]
    briefing: dict[str, Any] | None
    azimuth_deg: float
    near: CardNear


class FieldMile(BaseModel):
    """One mile of one line with its surroundings; `version` is the fingerprint of the rest."""

    version: str
    line: str
    mile: int
    structures: list[FieldCard]
    context: list[Feature]
