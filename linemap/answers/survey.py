"""What the survey found, what was decided of it, what is staked; residuals as text with their sigma."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from linemap.domain.causes.cause import Answer


@dataclass(frozen=True, kw_only=True)
class FindingEntry:
    """One finding with the sentence made of it. Values are numbers, texts, lists; None = not known."""

    #: Name that stays as long as code, place and part do.
    id: str
    code: str
    #: Pole, guy, step or file row within the structure; "" = all of it.
    part: str
    #: "note", "cannot tell", "wrong" or "stops work".
    severity: str
    #: Who is asked to look at it.
    asks: str
    #: What closes it, and who.
    closes: str
    #: Day it is so since, ISO 8601; None = not known.
    since: str | None
    values: Mapping[str, Any]
    words: str
    #: Codes of the steps it stops, and the sentence that says so with what to do first; most stop none.
    stops: Sequence[str]
    in_the_way: str


@dataclass(frozen=True, kw_only=True)
class DeclaredDatum:
    """What is declared about the job's coordinates; "" = not declared. `missing` withholds verdicts."""

    crs: str
    unit: str
    combined_factor: str
    base_point: str
    vertical_datum: str
    source: str
    missing: Sequence[str]
    words: str
    #: How work is judged: each tolerance and evidence rule in a sentence, with its source.
    rules: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class StandingDecision:
    """The answer that stands for a cause. `at` is ISO 8601 with its offset."""

    id: str
    answer: Answer
    who: str
    at: str
    note: str


@dataclass(frozen=True, kw_only=True)
class SurveyCause:
    """One explanation of exceptions, proposed and never applied unasked."""

    #: Name that stays when other causes are decided.
    id: str
    code: str
    subject: str
    line: str
    structures: Sequence[str]
    words: str
    evidence: Sequence[str]
    would_change: str
    #: 1 = costs most if left, 5 = least.
    cost_rank: int
    moment: str
    asks_for: str
    #: True when accepting it corrects shots.
    correctable: bool
    #: True when accepting it takes a note that names the second evidence.
    needs_note: bool
    decision: StandingDecision | None


@dataclass(frozen=True, kw_only=True)
class SurveyShot:
    """Where one shot came from; `note` names the decisions that corrected it."""

    file: str
    row: int
    point: str
    pole: str
    note: str
    #: Grid coordinates as they count, as observed, and what accepted corrections added; "" = nothing.
    east: str
    north: str
    observed_east: str
    observed_north: str
    correction: str


@dataclass(frozen=True, kw_only=True)
class SurveyedStructure:
    """One structure as surveyed; residuals as text with their sigma, "" = not available.

    Or what is said of a file, a line or a structure in no list: these have neither station nor verdict.
    """

    line: str
    structure: str
    station: str
    verdict: str
    reversed: bool
    rotation: str
    along: str
    across: str
    spacing: str
    probability: float | None
    findings: Sequence[str]
    #: The same findings by code.
    ledger: Sequence[FindingEntry]
    #: What second evidence comes to; "" where nothing is exchanged and no fact is recorded.
    second_evidence: str
    #: "by control" or "against its own base", with the check-ins; "" = no shot, or no control is listed.
    held: str


@dataclass(frozen=True, kw_only=True)
class SurveyCheckIn:
    """One shot on a control point: measured minus known, as observed and as corrected, on the ground."""

    #: The session it holds, in words.
    session: str
    control: str
    #: Found by "number", by "place", or "assigned" by a person.
    how: str
    file: str
    row: int
    point: str
    description: str
    #: As texts in the ground unit; "" = no height is known.
    observed_east: str
    observed_north: str
    east: str
    north: str
    up: str
    sigma: str
    #: True where it lies farther from its point than a good survey puts it.
    off: bool


@dataclass(frozen=True, kw_only=True)
class CheckedStructure(SurveyedStructure):
    """One structure that a check lists."""

    #: The likely cause in words; "" = none is found.
    cause: str


@dataclass(frozen=True, kw_only=True)
class SurveyException(SurveyedStructure):
    """One structure that needs the surveyor; residuals as text with their sigma, "" = not available."""

    #: Index into the causes.
    cause: int | None
    #: What the owner calls its poles, in the order of A, B and C.
    pole_words: Sequence[str]
    shots: Sequence[SurveyShot]


@dataclass(frozen=True, kw_only=True)
class SettledCause:
    """A decision that stands for a cause the survey no longer shows."""

    #: Name the cause had and keeps.
    id: str
    cause: str
    subject: str
    line: str
    structures: Sequence[str]
    #: What its correction did, in one sentence; "" = nothing.
    words: str
    decision: StandingDecision


@dataclass(frozen=True, kw_only=True)
class DecisionRecord(StandingDecision):
    """One decision as it was taken."""

    cause: str
    subject: str
    line: str


@dataclass(frozen=True, kw_only=True)
class Survey:
    """Everything the surveyor's page shows."""

    name: str
    data_version: int
    as_of: str
    #: The other time it is of, in words; "" = now.
    when: str
    caution: str
    declared: DeclaredDatum
    verdicts: Mapping[str, int]
    #: What the owner calls the poles of a structure of two, in the order of A and B.
    pole_words: Sequence[str]
    causes: Sequence[SurveyCause]
    exceptions: Sequence[SurveyException]
    #: What is said of lines, files and structures in no list; "" = of none.
    beside: Sequence[SurveyedStructure]
    #: Shots on control points, by file and row; none where no control is listed.
    check_ins: Sequence[SurveyCheckIn]
    settled: Sequence[SettledCause]
    notes: Sequence[str]
    history: Sequence[DecisionRecord]


@dataclass(frozen=True, kw_only=True)
class VerdictChange:
    """One structure whose verdict a decision changed."""

    line: str
    structure: str
    before: str
    after: str


@dataclass(frozen=True, kw_only=True)
class VerdictChanges:
    """Verdicts before and after a decision."""

    #: Counts by verdict.
    before: Mapping[str, int]
    after: Mapping[str, int]
    changed: Sequence[VerdictChange]


@dataclass(frozen=True, kw_only=True)
class DecisionAnswer(VerdictChanges):
    """What a decision changed."""

    id: str
    #: False when it was recorded before.
    recorded: bool
    data_version: int


@dataclass(frozen=True, kw_only=True)
class Decided(VerdictChanges):
    """Who answered which cause how, and what that changed."""

    answer: Answer
    cause: str
    subject: str
    who: str


@dataclass(frozen=True, kw_only=True)
class FactChanges:
    """What a recorded fact changes at its structure."""

    #: False when it was seen after the day the job is shown for.
    counted: bool
    #: One sentence each.
    changes: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class FactAnswer(FactChanges):
    """What was recorded and what it changes."""

    #: False when the very same fact was recorded before.
    recorded: bool
    data_version: int
