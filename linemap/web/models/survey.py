"""Shapes of the answers of the surveyor's page and of the page of files; texts carry their units."""

from __future__ import annotations

from typing import Annotated, Literal
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from linemap.io.cells.table import Kind

__all__ = ["AnswerKept", "AnswerRequest", "DecisionAnswer", "DecisionRequest", "FileList", "Survey"]

AnswerWord = Literal["accepted", "rejected", "needs evidence", "withdrawn"]
#: One line of text that holds more than blanks and no control signs.
_Named = Annotated[
    str, StringConstraints(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*[^\x00-\x20\x7f\s][^\x00-\x1f\x7f]*$")
]
_Line = Annotated[str, StringConstraints(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$")]
_Note = Annotated[str, StringConstraints(max_length=2000, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f]*$")]


class DeclaredDatum(BaseModel):
    """What is declared about the job's coordinates; "" = not declared. `missing` withholds verdicts."""

    crs: str
    unit: str
    combined_factor: str
    base_point: str
    vertical_datum: str
    source: str
    missing: list[str]
    words: str
    #: How work is judged: each tolerance and evidence rule in a sentence, with its source.
    rules: list[str]


class StandingDecision(BaseModel):
    """The answer that stands for a cause. `at` is ISO 8601 with its offset."""

    id: str
    answer: AnswerWord
    who: str
    at: str
    note: str


class SurveyCause(BaseModel):
    """One explanation of exceptions, proposed and never applied unasked."""

    code: str
    subject: str
    line: str
    structures: list[str]
    words: str
    evidence: list[str]
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


class SurveyShot(BaseModel):
    """Where one shot came from; `note` names the decisions that corrected it."""

    file: str
    row: int
    point: str
    pole: str
    note: str


class SurveyException(BaseModel):
    """One structure that needs the surveyor; residuals as text with their sigma, "" = not available."""

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
    findings: list[str]
    #: What second evidence comes to; "" where nothing is exchanged and no fact is recorded.
    second_evidence: str
    #: Index into the causes.
    cause: int | None
    shots: list[SurveyShot]


class SettledCause(BaseModel):
    """A decision that stands for a cause the survey no longer shows."""

    cause: str
    subject: str
    line: str
    structures: list[str]
    #: What its correction did, in one sentence; "" = nothing.
    words: str
    decision: StandingDecision


class DecisionRecord(StandingDecision):
    """One decision as it was taken."""

    cause: str
    subject: str
    line: str


class Survey(BaseModel):
    """Everything the surveyor's page shows."""

    name: str
    data_version: int
    as_of: str
    caution: str
    declared: DeclaredDatum
    verdicts: dict[str, int]
    causes: list[SurveyCause]
    exceptions: list[SurveyException]
    settled: list[SettledCause]
    notes: list[str]
    history: list[DecisionRecord]


class DecisionRequest(BaseModel):
    """An answer to a cause. Its correction is taken from the server's current cause."""

    model_config = ConfigDict(extra="forbid")

    #: Made by the caller; sending it again records nothing new.
    id: UUID
    cause: _Named
    subject: _Named
    line: _Line = ""
    answer: AnswerWord
    who: _Named
    note: _Note = ""


class VerdictChange(BaseModel):
    """One structure whose verdict a decision changed."""

    line: str
    structure: str
    before: str
    after: str


class DecisionAnswer(BaseModel):
    """What a decision changed."""

    id: str
    #: False when it was recorded before.
    recorded: bool
    data_version: int
    #: Counts by verdict.
    before: dict[str, int]
    after: dict[str, int]
    changed: list[VerdictChange]


class FileProblem(BaseModel):
    """One thing wrong, or worth a look, in one place of a file; `row` null = the whole file."""

    row: int | None
    column: str
    value: str
    reason: str
    remedy: str
    severity: Literal["refused", "left out", "noted"]


class FileColumn(BaseModel):
    """A field and the heading it was read from."""

    field: str
    heading: str


class StandingAnswer(BaseModel):
    """What a person said about the columns of files of one shape."""

    by: str
    at: str
    kind: str
    fields: dict[str, str]


class LoadedFile(BaseModel):
    """One file as it was loaded. `size` is in bytes."""

    id: int
    name: str
    kind: str
    size: int
    sha256: str
    loaded_at: str
    loaded_by: str
    #: How the kept bytes are read: encoding, delimiter, sheet and heading row, in words; "" = not known.
    read_as: str
    headings: list[str]
    mapping: list[FileColumn]
    #: Rows of the job that came from this file; null = the kind keeps no rows.
    rows_kept: int | None
    problems: list[FileProblem]
    #: What stands for the next file of the same shape.
    answer: StandingAnswer | None


class AnswerRequest(BaseModel):
    """What the columns of files of this shape are: field -> heading, or number of the column from 1."""

    model_config = ConfigDict(extra="forbid")

    by: _Named
    kind: Kind
    fields: dict[_Named, Annotated[int, Field(ge=1, le=9999)] | _Named]


class AnswerKept(BaseModel):
    """Whether the answer was new; the next file of the same shape is read by it, nothing is read again."""

    recorded: bool
    data_version: int


class FileList(BaseModel):
    """Every file ever loaded, the latest first."""

    name: str
    data_version: int
    files: list[LoadedFile]
