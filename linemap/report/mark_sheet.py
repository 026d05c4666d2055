"""The as-set table with red marks as plain texts, ready for a workbook or for paper.

Every number is text as it is to be read, so that no program rounds it, takes it for a date or a formula, or
shows a mean as if it were a measurement.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MarkSheet", "MarkedDecision", "MarkedPole", "MarkedShot", "MarkedStructure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedPole:
    """One pole: design, as set, and the difference in the structure's own frame. "" = not available."""

    letter: str
    #: Grid coordinates, CRS unit.
    design_north: str
    design_east: str
    set_north: str
    set_east: str
    #: As set minus design, ground unit: ahead +, right +.
    ahead: str
    right: str
    #: Standard deviation of one shot, per axis, ground unit.
    sigma: str
    #: "1 shot", "mean of 2 shots", "2 shots, not used", "not shot".
    measured: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedStructure:
    """One structure, surveyed or not."""

    line: str
    number: str
    station: str
    verdict: str
    #: True when a person must look: anything but a pass or a structure nobody surveyed.
    marked: bool
    #: (name, value with sigma) of the frame's residuals.
    residuals: tuple[tuple[str, str], ...]
    #: What was found there, in sentences.
    findings: tuple[str, ...]
    #: The likely cause in words, "" = none.
    cause: str
    #: Answer that stands, with its note; "" = none.
    decision: str
    #: Person and day of the answer.
    decided_by: str
    #: Instrument or method as recorded; "" = not known.
    method: str
    #: Day or days of the shots.
    surveyed_on: str
    #: Files and rows of the shots.
    source: str
    poles: tuple[MarkedPole, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedShot:
    """One shot as observed, before any correction."""

    line: str
    structure: str
    pole: str
    point: str
    north: str
    east: str
    elevation: str
    sigma: str
    observed_on: str
    file: str
    row: str
    description: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkedDecision:
    """One decision as it was taken; later ones may undo it."""

    at: str
    who: str
    answer: str
    cause: str
    subject: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkSheet:
    """Everything on the sheets of one job at one data version."""

    job: str
    #: Line with its ends and its revisions, one text a line.
    lines: tuple[str, ...]
    data_version: int
    #: Day whose end the data are shown for, ISO.
    data_date: str
    #: What is declared about the coordinates, in one sentence.
    declared: str
    #: Ground unit of differences, "ft" or "m".
    unit: str
    caution: str
    #: Counts by verdict in words.
    counts: str
    structures: tuple[MarkedStructure, ...]
    shots: tuple[MarkedShot, ...]
    decisions: tuple[MarkedDecision, ...]
    #: One sentence for each correction in force.
    corrections: tuple[str, ...]
