"""The card of a structure: everything a crew must see of it, as a phone takes it along."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linemap.answers.structure import Frame, History, StructureDesign, StructureRecord, StructureStep
from linemap.answers.tape import CardTape


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
