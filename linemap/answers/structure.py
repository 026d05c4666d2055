"""What is said of one structure on every surface: panel, card and sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from linemap.answers.case import CaseEntry
from linemap.answers.lists import ListedRecord
from linemap.answers.survey import FindingEntry
from linemap.domain.record.workflow import Per


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
