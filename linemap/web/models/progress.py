"""What the progress pages answer."""

from __future__ import annotations

from pydantic import BaseModel

__all__ = ["Period", "Progress"]


class Place(BaseModel):
    """A structure of a list behind a number."""

    line: str
    number: str


class StepCount(BaseModel):
    """Where one step stands: counted, by count and by type weight, with the lists behind the numbers."""

    step: str
    words: str
    done: int
    of: int
    percent_text: str
    weighted_text: str
    done_list: list[Place]
    begun_list: list[Place]
    open_list: list[Place]
    #: Counted as done, without all the evidence the rule of the step asks for.
    claimed_list: list[Place]
    #: What the rule asks for and where that is written; "" = no rule.
    evidence_text: str


class Mile(BaseModel):
    """One mile: what is done in it, the holes by name, the spans with both structures."""

    line: str
    mile: int
    done: int
    of: int
    holes: list[str]
    done_list: list[Place]
    open_list: list[Place]
    spans_text: str


class Blocker(BaseModel):
    """One structure that keeps its section, what it lacks, and the holds that stop that."""

    line: str
    number: str
    lacks: list[str]
    holds: list[str]


class Section(BaseModel):
    """One wire section and what keeps it."""

    line: str
    words: str
    sentence: str
    complete: bool
    done: int
    of: int
    wire_holds: list[str]
    #: Range of days for its last structure; "" = each has the step, or there is no forecast.
    forecast_text: str
    blockers: list[Blocker]


class Point(BaseModel):
    """One week of planned against actual; null = outside the plan, or not begun."""

    week: str
    planned: int | None
    actual: int | None


class Curve(BaseModel):
    """The baseline in force and the weeks."""

    baseline: str
    others: list[str]
    points: list[Point]


class CrewStep(BaseModel):
    """What one crew has done of one step."""

    words: str
    count: int
    list: list[Place]


class Crew(BaseModel):
    """What one crew has done."""

    crew: str
    steps: list[CrewStep]


class Rework(BaseModel):
    """One rejection and its repeat."""

    line: str
    number: str
    words: str


class Chart(BaseModel):
    """One chart as SVG text for a wide and a narrow page; `why` says why there is none."""

    key: str
    title: str
    wide: str
    narrow: str
    why: str


class Progress(BaseModel):
    """The whole report of progress."""

    name: str
    data_version: int
    as_of: str
    as_of_text: str
    known_by: str
    lines: list[str]
    line: str
    structures: int
    plan_text: str
    physical_text: str
    forecast: list[str]
    windows: list[str]
    #: What was taken for want of a declaration.
    taken: list[str]
    counts: list[StepCount]
    mile_word: str
    miles: list[Mile]
    sections: list[Section]
    curve: Curve
    crews: list[Crew]
    rework: list[Rework]
    charts: list[Chart]
    caution: str


class Quantity(BaseModel):
    """What one crew did of one step in the period, and how many have it to date."""

    crew: str
    words: str
    count: int
    to_date: int
    list: list[Place]


class PeriodNote(BaseModel):
    """Something written to a record of the period."""

    line: str
    number: str
    words: str


class Period(BaseModel):
    """The report of a day or a period."""

    name: str
    first: str
    last: str
    known_by: str
    quantities: list[Quantity]
    rework: list[str]
    repeats: list[str]
    notes: list[PeriodNote]
    #: Records of the period that came in after its last day.
    came_late: int
    not_recorded: str
    caution: str
