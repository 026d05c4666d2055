"""Progress as texts, numbers and lists: for the page, the command, the sheet and the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from linemap.answers.case import CaseEntry
from linemap.domain.schedule.plan import CurvePoint


@dataclass(frozen=True, kw_only=True)
class Place:
    """A structure of a list behind a number."""

    line: str
    number: str


@dataclass(frozen=True, kw_only=True)
class StepCount:
    """Where one step stands: counted, by count and by type weight, with the lists behind the numbers."""

    step: str
    words: str
    done: int
    of: int
    percent_text: str
    weighted_text: str
    done_list: Sequence[Place]
    begun_list: Sequence[Place]
    open_list: Sequence[Place]
    #: Counted as done, without all the evidence the rule of the step asks for.
    claimed_list: Sequence[Place]
    #: Those that lack nothing but what a note speaks of, where it proves nothing: verified by version 0.1.0.
    noted_list: Sequence[Place]
    #: What the rule asks for and where that is written; "" = no rule.
    evidence_text: str


@dataclass(frozen=True, kw_only=True)
class Mile:
    """One mile: what is done in it, the holes by name, the spans with both structures."""

    line: str
    mile: int
    done: int
    of: int
    holes: Sequence[str]
    done_list: Sequence[Place]
    open_list: Sequence[Place]
    spans_text: str


@dataclass(frozen=True, kw_only=True)
class Blocker:
    """One structure that keeps its section, what it lacks, and the holds that stop that."""

    line: str
    number: str
    lacks: Sequence[str]
    holds: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class Section:
    """One wire section and what keeps it."""

    line: str
    words: str
    sentence: str
    complete: bool
    done: int
    of: int
    wire_holds: Sequence[str]
    #: Range of days for its last structure; "" = each has the step, or there is no forecast.
    forecast_text: str
    blockers: Sequence[Blocker]


@dataclass(frozen=True, kw_only=True)
class Curve:
    """The baseline in force and the weeks."""

    baseline: str
    others: Sequence[str]
    points: Sequence[CurvePoint]


@dataclass(frozen=True, kw_only=True)
class CrewStep:
    """What one crew has done of one step."""

    words: str
    count: int
    list: Sequence[Place]


@dataclass(frozen=True, kw_only=True)
class Crew:
    """What one crew has done."""

    crew: str
    steps: Sequence[CrewStep]


@dataclass(frozen=True, kw_only=True)
class Rework:
    """One rejection and its repeat."""

    line: str
    number: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Chart:
    """One chart as SVG text for a wide and a narrow page; `why` says why there is none."""

    key: str
    title: str
    wide: str
    narrow: str
    why: str


@dataclass(frozen=True, kw_only=True)
class CheckCount:
    """Structures whose newest crew check says one thing, in words that name it a crew check."""

    words: str
    list: Sequence[Place]


@dataclass(frozen=True, kw_only=True)
class CrewPrecision:
    """How the checks of one crew, or of one person of it, compared with the survey; texts with units."""

    method: str
    crew: str
    #: "" = all of the crew.
    person: str
    count: int
    rotation_text: str
    along_text: str
    across_text: str
    spacing_text: str
    #: A pole from its place by the survey.
    poles_text: str
    #: How much the number of checks is worth.
    few_text: str


@dataclass(frozen=True, kw_only=True)
class CrewChecks:
    """What crews found at frames themselves, and how well they measure by the survey that came after."""

    newest: Sequence[CheckCount]
    precision: Sequence[CrewPrecision]


@dataclass(frozen=True, kw_only=True)
class Progress:
    """The whole report of progress."""

    name: str
    data_version: int
    as_of: str
    as_of_text: str
    known_by: str
    lines: Sequence[str]
    line: str
    structures: int
    plan_text: str
    physical_text: str
    #: Weights of the steps behind it, each with the document it comes from.
    weights_text: str
    forecast: Sequence[str]
    windows: Sequence[str]
    #: What was taken for want of a declaration.
    taken: Sequence[str]
    counts: Sequence[StepCount]
    mile_word: str
    miles: Sequence[Mile]
    sections: Sequence[Section]
    curve: Curve
    crews: Sequence[Crew]
    crew_checks: CrewChecks
    rework: Sequence[Rework]
    #: Open cases of the line, those of structures in no list first.
    cases: Sequence[CaseEntry]
    charts: Sequence[Chart]
    caution: str


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """What one crew did of one step in the period, and how many have it to date."""

    crew: str
    words: str
    count: int
    to_date: int
    list: Sequence[Place]


@dataclass(frozen=True, kw_only=True)
class PeriodNote:
    """Something written to a record of the period."""

    line: str
    number: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Period:
    """The report of a day or a period."""

    name: str
    first: str
    last: str
    known_by: str
    quantities: Sequence[Quantity]
    rework: Sequence[str]
    repeats: Sequence[str]
    notes: Sequence[PeriodNote]
    #: Records of the period that came in after its last day.
    came_late: int
    not_recorded: str
    caution: str


@dataclass(frozen=True, kw_only=True)
class CloseoutCell:
    """One number of the closeout matrix: "35 of 37", with the structures that have it and that lack it."""

    text: str
    found: int
    of: int
    found_list: Sequence[Place]
    missing_list: Sequence[Place]


@dataclass(frozen=True, kw_only=True)
class CloseoutRow:
    """A step or check with a cell for each column."""

    words: str
    cells: Sequence[CloseoutCell]


@dataclass(frozen=True, kw_only=True)
class Closeout:
    """What the records hold and lack, by wire section or by mile; no acceptance of anything."""

    name: str
    data_version: int
    as_of: str
    known_by: str
    by: Literal["section", "mile"]
    words: str
    columns: Sequence[str]
    rows: Sequence[CloseoutRow]
    caution: str
