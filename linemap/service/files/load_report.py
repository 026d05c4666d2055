"""What a load is asked to do, and what it says: for every file how it was understood and what was wrong."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from linemap.answers import change as answer
from linemap.answers.lists import FileColumn, FileProblem
from linemap.domain.finding.wording.design import LOADING, loading_code
from linemap.domain.kind.compare import does_of
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import Problem
from linemap.io.cells.meaning import VOCABULARY
from linemap.io.cells.table import JOB, RawTable, UnreadColumn
from linemap.kinds.registry import DECLARED
from linemap.service.files.reading import FileRead, ReaderContext, Said


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRequest(Said):
    """What to load and how."""

    paths: tuple[Path, ...]
    #: Revision label of lists, like "B".
    label: str = ""
    #: Keep what is said about the columns for the next file of the same shape, in the name of `loaded_by`.
    remember: bool = False
    loaded_by: str = ""
    #: Lists kept by key whose records end that the files do not name.
    ends: frozenset[Kind] = frozenset()
    #: Day from which the lists are true; None = from the day they come in.
    true_from: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class LoadedFile:
    """How one file was understood."""

    name: str
    #: "" when the file could not be recognised.
    kind: str
    #: Encoding, delimiter, sheet and heading row, in words.
    understood: str
    #: Field -> heading and unit.
    mapping: Mapping[str, str]
    rows_in: int
    rows_used: int
    problems: tuple[Problem, ...]
    #: What a new revision changes against the one before, in words.
    changes: tuple[str, ...] = ()
    #: Coordinate reference and distance to the lines, in words.
    evidence: tuple[str, ...] = ()
    #: Columns that no field took.
    unread: tuple[UnreadColumn, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadReport:
    """What a load did."""

    files: tuple[LoadedFile, ...]
    #: Data version after the load.
    data_version: int

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Problems of all files, in file order."""
        return tuple(problem for file in self.files for problem in file.problems)

    def as_dict(self) -> dict[str, object]:
        """Return the report as plain lists and texts."""
        files = [
            vars(file) | {"problems": [problem_answer(file.kind, problem) for problem in file.problems]}
            for file in self.files
        ]
        return {"dry_run": False, "data_version": self.data_version, "files": files}


def problem_answer(kind: str, problem: Problem, *, standing: bool = True) -> FileProblem:
    """Return a problem of a file of a kind as pages and programs read it; the file is named beside it."""
    code = loading_code(kind, problem.severity, problem.column)
    return FileProblem(
        row=problem.row,
        column=problem.column,
        value=problem.value,
        reason=problem.reason,
        remedy=problem.remedy,
        severity=problem.severity,
        structure=problem.structure,
        code=code,
        asks=LOADING[code].asks,
        standing=standing,
    )


def file_as_read(file: FileRead) -> LoadedFile:
    """Return how a file was read, before anything of it is stored."""
    table, loaded = file.table, file.loaded
    return LoadedFile(
        name=file.name,
        kind=file.kind or "",
        understood=_words(table, file.confirmed) if table is not None else "",
        mapping={name: str(read) for name, read in loaded.mapping.items()} if loaded is not None else {},
        rows_in=loaded.rows_in if loaded is not None else len(table.rows) if table is not None else 0,
        rows_used=loaded.rows_used if loaded is not None else 0,
        problems=loaded.problems if loaded is not None else file.refused,
        unread=loaded.unread if loaded is not None else (),
    )


def _words(table: RawTable, confirmed: str) -> str:
    """Say how a table was read: sheet, encoding, delimiter, heading row, coordinate reference."""
    separators = {"\t": "tabs", " ": "blanks", ",": "commas", ";": "semicolons", "|": "bars"}
    parts = []
    if table.sheet:
        parts.append(f"sheet or layer {table.sheet}")
    if table.encoding:
        parts.append(table.encoding)
    if table.delimiter:
        parts.append(f"cells apart by {separators.get(table.delimiter, table.delimiter)}")
    if table.header_row or not table.headers:
        parts.append(f"headings in row {table.header_row}" if table.header_row else "no headings")
    if table.crs:
        parts.append(f"declares {table.crs}")
    if table.crs_said:
        said = "the reference of the job" if table.crs_said == JOB else table.crs_said
        parts.append(f"coordinates taken in {said}, as said")
    if confirmed:
        parts.append(confirmed)
    return ", ".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class FilesRead:
    """Files as they were read, and what readers were told of the job; none for an undo."""

    files: Sequence[FileRead] = ()
    declared: ReaderContext | None = None


def read_answer(file: LoadedFile, read: FilesRead) -> answer.ReadFile:
    """Return how a file was understood, for pages and programs."""
    found = next(each for each in read.files if each.name == file.name)
    columns = found.loaded.mapping if found.loaded is not None else {}
    return answer.ReadFile(
        name=file.name,
        size=0 if found.source is None else len(found.source.data),
        kind=file.kind,
        may_be=[kind for problem in file.problems for kind in problem.may_be],
        does="" if found.kind is None else does_of(DECLARED[found.kind]),
        read_as=file.understood,
        evidence=file.evidence,
        columns=[
            FileColumn(field=name, heading=str(each), named=each.heading) for name, each in columns.items()
        ],
        fields=[] if found.kind is None else list(VOCABULARY[found.kind]),
        unread=[
            answer.UnreadColumn(heading=each.heading, filled=each.rows, near=each.near, words=str(each))
            for each in file.unread
        ],
        rows_in=file.rows_in,
        rows_used=file.rows_used,
        problems=[problem_answer(file.kind, problem) for problem in file.problems],
    )


def said_by(choices: answer.Choices) -> Mapping[str, Any]:
    """Return the choices of a person as `LoadRequest` takes them, those that say nothing left out."""
    said: dict[str, Any] = {
        "kind": choices.kind,
        "kinds": choices.kinds,
        "label": choices.label,
        "shot_order": choices.shot_order,
        "date_order": choices.date_order,
        "crs_of_file": choices.crs_of_file,
        "ends": frozenset(choices.ends),
        "true_from": dt.date.fromisoformat(choices.true_from) if choices.true_from else None,
    }
    return {name: value for name, value in said.items() if value}
