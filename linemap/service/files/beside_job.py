"""A file that was read, beside the job it comes to: whose it is, and where its points lie."""

from __future__ import annotations

from dataclasses import replace

from sqlalchemy import Connection

from linemap.errors import Problem, Severity
from linemap.geometry.crs import read_crs
from linemap.io.cells.table import JOB
from linemap.io.design.result_table import completed, is_result_table
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.reading import FileRead, ReaderContext
from linemap.service.view.evidence import Evidence, judge_points
from linemap.store.job import load_job
from linemap.store.lines import load_lines
from linemap.store.structures import load_structures

#: Kinds whose rows stand somewhere.
_PLACED = {"centreline", "structures", "shots", "context"}


def of_another_job(connection: Connection, file: FileRead, request: LoadRequest) -> list[Problem]:
    """Ask about a file that says it was exported from another job; saying what it is takes it."""
    job = file.source.job if file.source is not None else ""
    if job in {"", load_job(connection).identity}:
        return []
    said = request.kind is not None
    words = Problem(
        file=file.name,
        value=job,
        reason="the file says it was exported from another job",
        remedy="" if said else f"say --as {file.kind} if its rows are to become this job's",
        severity=Severity.NOTED if said else Severity.REFUSED,
    )
    return [words]


def evidence_of(connection: Connection, file: FileRead, declared: ReaderContext) -> Evidence:
    """Return where the points of a file lie, among the lines and structures the job has by now.

    What a result table of linemap does not say of its structures is what the job's own list says.
    """
    if file.loaded is None or file.table is None or file.kind not in _PLACED:
        return Evidence(value=None if file.loaded is None else file.loaded.value)
    loaded = file.loaded
    if file.kind == "structures" and is_result_table(file.table):
        loaded = replace(loaded, value=completed(loaded.value, load_structures(connection)))
    return judge_points(
        loaded,
        file.table,
        projection=declared.projection,
        factor=declared.combined_factor,
        lines=load_lines(connection),
        structures=lambda: load_structures(connection),
    )


def read_crs_of_file(text: str) -> str:
    """Return what is said of the files' reference; `InputRefused` if it is none."""
    said = text.strip()
    if said and said.casefold() != JOB:
        read_crs(said, column="--crs-of-file")
    return JOB if said.casefold() == JOB else said
