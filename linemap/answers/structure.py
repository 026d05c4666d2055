"""What is known of one structure, in the words and numbers a person reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from linemap.answers.case import CaseEntry
from linemap.answers.lists import ListedRecord
from linemap.answers.marks import PanelMarks
from linemap.answers.survey import FindingEntry
from linemap.domain.record.workflow import Per
from linemap.domain.survey.evidence import Decided


@dataclass(frozen=True, kw_only=True)
class Coordinates:
    """Design centre in grid and in geographic coordinates, as text."""

    grid: str
    lonlat: str


@dataclass(frozen=True, kw_only=True)
class Number:
    """One measured residual with its standard uncertainty, tolerance and the tolerance's source."""

    name: str
    value_text: str
    sigma_text: str
    tolerance_text: str
    tolerance_source: str


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What the plan of a frame is drawn from.

    Directions to the neighbours are degrees clockwise from ahead; poles are [letter, right, ahead] in ground
    units, at equal distances when `to_scale` is false.
    """

    back_deg: float
    ahead_deg: float
    to_scale: bool
    poles: Sequence[tuple[str, float, float]]


@dataclass(frozen=True, kw_only=True)
class PanelCause:
    """The likely cause of the structure's exception: a proposal that a named person accepts or rejects."""

    words: str
    #: Cheapest moment still open to put it right.
    moment: str
    #: What to look up before deciding.
    asks_for: str


@dataclass(frozen=True, kw_only=True)
class PanelReading:
    """One plumb or level reading with its verdict, tolerance and where the tolerance comes from."""

    what: str
    words: str
    verdict: str
    tolerance_text: str
    tolerance_source: str
    sigma_text: str
    #: Who, when, and the note.
    seen: str


@dataclass(frozen=True, kw_only=True)
class PanelAnchor:
    """One scheduled guy with the place of its anchor, and how the surveyed anchor lies."""

    guy: str
    #: What is written on its lath: direction and side.
    label: str
    wanted: str
    verdict: str
    #: Direction, then lead; empty while it is not surveyed.
    words: Sequence[str]
    tolerance_text: str
    tolerance_source: str


@dataclass(frozen=True, kw_only=True)
class StructurePole:
    """One pole of the schedule."""

    letter: str
    length_text: str
    pole_class: str
    ground_text: str
    ground_wire: bool | None


@dataclass(frozen=True, kw_only=True)
class StructureStep:
    """One step of the workflow: done or begun, and what it lacks to count as verified.

    `parts` are its guys, or the span ahead ("9/2 to 9/3"), where it is of such; `parts_done` those done.
    """

    code: str
    words: str
    per: Per
    done: bool
    poles_done: str
    parts: Sequence[str]
    parts_done: Sequence[str]
    when: str
    crew: str
    missing: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class PanelStep(StructureStep):
    """A step with how well it is proved, against which rule; "" = it is not recorded, or has no rule."""

    note: str


@dataclass(frozen=True, kw_only=True)
class StructureHold:
    """One hold: in force, or on a phone's card as its `begins` and `ends` say."""

    id: str
    sentence: str
    kind: Literal["hold", "conditional"]
    activities: Sequence[str]
    #: Codes of the steps it touches.
    stops: Sequence[str]
    until: str
    #: First and last day by the job's zone, each with its time where it has one (`2026-09-14T07:00`); "" =
    #: not given.
    begins: str
    ends: str
    #: What must be there for the work to go on; "" = only a release lifts it.
    condition: str


@dataclass(frozen=True, kw_only=True)
class History:
    """One recorded event, or the release of a hold; `id` is that of the event or the hold."""

    id: str
    when: str
    text: str
    #: True for a record that can be moved to the place it belongs to: it stands, and says what was done.
    movable: bool = False


@dataclass(frozen=True, kw_only=True)
class PanelShot:
    """One survey shot and where it came from: as observed, what accepted corrections added, as it counts."""

    pole: str
    point: str
    file: str
    row: int
    #: As it counts.
    east_text: str
    north_text: str
    sigma_text: str
    observed_east_text: str
    observed_north_text: str
    #: Added to easting and northing; "" = nothing was.
    correction_text: str
    #: Which decisions corrected it, and what else is noted of it.
    note: str


@dataclass(frozen=True, kw_only=True)
class SpanCrossing:
    """What the line crosses in a neighbouring span."""

    what: str
    span: str
    rule: str
    caution: str


@dataclass(frozen=True, kw_only=True)
class StructurePunch:
    """One item of the punch list; `history` says every entry, oldest first, `finding` what is odd."""

    item: str
    #: Pole or part, "" = the structure.
    part: str
    text: str
    severity: str
    owner: str
    #: "" = no day is set.
    due: str
    open: bool
    #: Open past its day.
    overdue: bool
    sentence: str
    finding: str
    history: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class StructureDesign:
    """What lists say of a structure, on every surface."""

    number: str
    station_text: str
    #: Of the posted station; None where the line has no station equations.
    region: int | None
    #: Numbers of the neighbours, and the spans to them; "" beyond the ends of the line.
    back: str
    ahead: str
    back_span_text: str
    ahead_span_text: str
    type: str
    type_words: str
    #: "" away from angles.
    deflection_text: str
    poles: Sequence[StructurePole]
    #: What the owner calls its poles, in the order of A, B and C.
    pole_words: Sequence[str]
    verdict: str
    reversed: bool
    crossings: Sequence[SpanCrossing]
    #: What revisions changed here, oldest first.
    changes: Sequence[str]
    #: What lists say of it beside all that, by the fields declared to be shown on the surface.
    lists: Sequence[ListedRecord]


@dataclass(frozen=True, kw_only=True)
class CrewCheckEntry:
    """One check of a frame by its crew, never a survey: `id` is that of its event."""

    id: str
    when: str
    method: Literal["tape", "rover"]
    #: What the job makes of it: "pass", "fail", "cannot tell" or "contradict".
    verdict: str
    words: str
    #: How it compares with the shots that came after it; "" = there are none, or nothing to compare.
    survey: str


@dataclass(frozen=True, kw_only=True)
class StructureRecord:
    """What changes with the record of the field, on every surface."""

    holds: Sequence[StructureHold]
    #: Those of the findings that stand first: what stops work, and what the crew is asked.
    look_first: Sequence[FindingEntry]
    findings: Sequence[str]
    #: Open cases; `findings` names them too.
    cases: Sequence[CaseEntry]
    #: Open items first.
    punch: Sequence[StructurePunch]
    #: Those that stand, the newest first.
    crew_checks: Sequence[CrewCheckEntry]


@dataclass(frozen=True, kw_only=True)
class Panel(StructureRecord, StructureDesign):
    """Everything known of one structure, in the words and numbers a person reads."""

    line: str
    true_distance_text: str
    offset_text: str
    remarks: str
    back_end: str
    ahead_end: str
    #: The span ahead on the grid, on the ground and on the ellipsoid.
    ahead_lengths_text: str
    wind_span_text: str
    #: With what it stands on; "not available: ..." without a declared catenary constant.
    weight_span_text: str
    ruling_span_text: str
    structure_azimuth_text: str
    #: Magnetic azimuth of the arm on the day shown, with its uncertainty; "" outside the model's years.
    arm_magnetic_text: str
    arm_azimuth_text: str
    coordinates: Coordinates
    probability: float | None
    residuals: Sequence[str]
    cause: PanelCause | None
    second_evidence: Decided | None
    plumb: Sequence[PanelReading]
    anchors: Sequence[PanelAnchor]
    numbers: Sequence[Number]
    landmark: str
    sketch_svg: str
    marks: PanelMarks
    steps: Sequence[PanelStep]
    history: Sequence[History]
    shots: Sequence[PanelShot]
    #: What was decided about single shots of it, those set aside included: who, when and why.
    said_of_shots: Sequence[str]
    #: "by control" or "against its own base", with the check-ins; "" = no shot, or no control is listed.
    held: str
    #: Hospitals declared, and the nearest one listed.
    help: Sequence[str]
    #: The other time it is of, in words; "" = now.
    when: str
    caution: str
