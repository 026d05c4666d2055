"""A file that was read, beside the job it comes to: whose it is, where it lies, what came before it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection

from linemap.domain.crew.reach import Coverage
from linemap.domain.design.number import number_form
from linemap.domain.kind.compare import name_of
from linemap.domain.kind.kind import Keeps, Kind, columns_of
from linemap.errors import Problem, Severity
from linemap.geometry.crs import read_crs
from linemap.io.cells.table import JOB
from linemap.io.design.result_table import completed, is_result_table
from linemap.kinds.registry import DECLARED, PLANS
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.reading import FileRead, ReaderContext
from linemap.service.view.coordinate_meaning import PlacedFile
from linemap.service.view.evidence import Evidence, judge_points
from linemap.store.changes import set_aside
from linemap.store.files import FileRecord, find_files
from linemap.store.job import load_job
from linemap.store.lines import load_lines
from linemap.store.lists import load_list
from linemap.store.states import ListState, list_states
from linemap.store.structures import load_structures
from linemap.store.times import begun_on

#: Structures of a file that are told one by one.
_NAMED = 3
#: Kinds whose rows stand somewhere.
_PLACED = {"centreline", "structures", "shots", "context", "control"}


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


def structures_not_there(connection: Connection, file: FileRead, request: LoadRequest) -> list[Problem]:
    """Note the structures a list names that the job has not, and ask about a list that names no other.

    Saying what it is takes it. Nothing is said while the job has no structures, nor of shots: they say where
    they lie.
    """
    if file.loaded is None or file.kind is None or file.kind == "shots":
        return []
    kind = DECLARED[file.kind]
    columns = [each for each in columns_of(kind) if each.way in {"structure", "reach", "end"}]
    records = file.loaded.value if columns else ()
    structures = load_structures(connection)
    standing = list(zip(structures.line.tolist(), structures.number.tolist(), strict=True))
    known = {(line, number_form(number)) for own, number in standing for line in (own, "")}
    there, strange = 0, dict[str, list[Any]]()
    for record in records:
        for column in columns:
            said = getattr(record, column.name)
            for number in filter(None, said if column.way == "reach" else (said,)):
                if (record.line, number_form(number)) in known:
                    there += 1
                else:
                    strange.setdefault(number, []).append(record)
    if not (standing and strange):
        return []
    ranges = Coverage(records) if any(each.way == "reach" for each in columns) else None
    if there or (ranges is not None and any(ranges.at(*each) for each in standing)):
        return [_not_there(file, kind, number, named) for number, named in strange.items()]
    said = request.kind is not None
    words = Problem(
        file=file.name,
        column="structure",
        value=", ".join([*strange][:_NAMED]),
        reason="the job has none of the structures that the file names; it may be of another job",
        remedy="" if said else f"say --as {file.kind} if it is meant for this one",
        severity=Severity.NOTED if said else Severity.REFUSED,
    )
    return [words]


def _not_there(file: FileRead, kind: Kind[Any], number: str, named: Sequence[Any]) -> Problem:
    more = f" and {len(named) - 1:,} more" if len(named) > 1 else ""
    verb = "name" if more else "names"
    return Problem(
        file=file.name,
        column="structure",
        value=number,
        reason=f"the job has no structure {number}, which {name_of(kind, named[0])}{more} {verb}",
        remedy="correct it, or load the list that has it",
        severity=Severity.NOTED,
    )


def evidence_of(connection: Connection, file: FileRead, declared: ReaderContext) -> Evidence:
    """Return where the points of a file lie, among the lines and structures the job has by now.

    What a result table of linemap does not say of its structures is what the job's own list says.
    """
    if file.loaded is None or file.table is None or file.kind not in _PLACED:
        return Evidence(value=None if file.loaded is None else file.loaded.value)
    loaded = file.loaded
    if file.kind == "structures" and is_result_table(file.table):
        loaded = replace(loaded, value=completed(loaded.value, load_structures(connection)))
    place = PlacedFile(
        loaded=loaded, table=file.table, projection=declared.projection, factor=declared.combined_factor
    )
    return judge_points(place, lines=load_lines(connection), structures=lambda: load_structures(connection))


def read_crs_of_file(text: str) -> str:
    """Return what is said of the files' reference; `InputRefused` if it is none."""
    said = text.strip()
    if said and said.casefold() != JOB:
        read_crs(said, column="--crs-of-file")
    return JOB if said.casefold() == JOB else said


@dataclass(frozen=True, slots=True, kw_only=True)
class There:
    """A file that is there already."""

    problem: Problem
    #: Its identifier when it was set aside and its rows count again now; 0 = it was not.
    again: int = 0


def there_already(connection: Connection, file: FileRead, request: LoadRequest) -> There | None:
    """Say that the very bytes of a file are what the job holds; if they were set aside, they count again.

    None = they are not, or they come under another label, for another day, with something said of their
    columns, or to end what they do not name.
    """
    again = _same_bytes(connection, file)
    if not again or file.kind is None:
        return None
    before = again[-1]
    when = before.loaded_at.date().isoformat()
    if DECLARED[file.kind].keeps is Keeps.GROWS:
        if before.aside:
            set_aside(connection, [before.id], aside=False)
        words = f"the same {file.kind} were loaded on {when} as {before.name}"
        return There(problem=_nothing_to_do(file, words), again=before.id if before.aside else 0)
    states = _states_of(connection, before)
    said = request.columns or request.units or request.date_order or request.crs_of_file
    differs = bool(said) or request.true_from is not None or file.kind in request.ends
    labels = {"", *(each.label for each in states)}
    if differs or request.label not in labels or not states or not all(each.is_current for each in states):
        return None
    return There(problem=_nothing_to_do(file, f"the list stands as this very file made it on {when}"))


def replaced_since(connection: Connection, file: FileRead) -> Iterator[Problem]:
    """Give what is noted of a list that comes once more after another took its place."""
    for before in _same_bytes(connection, file)[-1:]:
        states = _states_of(connection, before)
        later = [each for each in list_states(connection, file.kind) if each.is_current]
        if states and later and not any(each.is_current for each in states):
            yield Problem(
                file=file.name,
                reason=f"this very list was loaded on {before.loaded_at.date().isoformat()}, and "
                f"{later[-1].source_file} took its place on {later[-1].loaded_at.date().isoformat()}",
                remedy="load it only if the older one is to hold again",
                severity=Severity.NOTED,
            )


def late_plans(connection: Connection, file: FileRead, *, now: dt.datetime) -> Iterator[Problem]:
    """Give what is noted of plans that say they were frozen before they come: nobody knew them until then.

    The first plan of a job may be older than the job: on the day on which that begins it is not late.
    """
    if file.kind != "plan" or file.loaded is None:
        return
    begun = begun_on(list_states(connection, "structures"))
    there = {(plan.line, plan.step) for plan in load_list(connection, PLANS)}
    for plan in file.loaded.value:
        first = begun in {None, now.date()} and (plan.line, plan.step) not in there
        if plan.frozen_on is not None and plan.frozen_on < now.date() and not first:
            yield Problem(
                file=file.name,
                column="frozen on",
                value=plan.frozen_on.isoformat(),
                reason=f"revision {plan.revision} of {plan.step} comes in on {now.date().isoformat()}, later",
                remedy="it counts as known from the day it came; slip stays measured against the first plan",
                severity=Severity.NOTED,
            )


def _same_bytes(connection: Connection, file: FileRead) -> list[FileRecord]:
    found = find_files(connection, file.source.sha256) if file.source is not None else ()
    return [each for each in found if each.kind == file.kind]


def _states_of(connection: Connection, file: FileRecord) -> list[ListState]:
    return [each for each in list_states(connection) if each.file_id == file.id]


def _nothing_to_do(file: FileRead, reason: str) -> Problem:
    remedy = "nothing to do: they are not loaded twice"
    return Problem(file=file.name, reason=reason, remedy=remedy, severity=Severity.NOTED)
