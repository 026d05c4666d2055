"""The panel of a structure: everything known of it, as the map shows it to whoever clicks there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from linemap.answers.marks import PanelMarks
from linemap.answers.structure import History, StructureDesign, StructureRecord, StructureStep
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
class PanelStep(StructureStep):
    """A step with how well it is proved, against which rule; "" = it is not recorded, or has no rule."""

    note: str


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
