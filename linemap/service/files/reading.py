"""Read one file to be loaded: by its headings or by what a person says, and by the reader of its kind."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from linemap.domain.design.line import PoleASide
from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.record.declared_work import part_steps, workflow_of
from linemap.errors import InputRefused, Problem
from linemap.geometry.projection import Projection
from linemap.io.cells.dates import DateOrder
from linemap.io.cells.shape import Answers, shape_key
from linemap.io.cells.table import Loaded, RawTable, Source
from linemap.io.design.pi_list import read_pi_list
from linemap.io.design.poles import read_poles
from linemap.io.design.rows import read_rows
from linemap.io.design.structures import read_structures
from linemap.io.design.surroundings import read_context
from linemap.io.records.records import read_records
from linemap.io.source.read import call_of, read_source, recognise
from linemap.io.source.sandbox import Progress, call_all
from linemap.io.survey.shots import read_shot_order, read_shots
from linemap.kinds.registry import KINDS
from linemap.store.files import KeptAnswer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReaderContext:
    """What readers must know of the job before they can read anything."""

    projection: Projection
    #: Line of rows that name none.
    line_default: str
    #: Names of the lines that the job has, or that come with the files.
    lines: frozenset[str] = frozenset()
    pole_a: PoleASide = "left"
    #: Structures of the job's lists as they write them, and the owner's words for poles.
    naming: Naming = UNNAMED
    #: The job's settings; defaults for lines that files bring.
    settings: Mapping[str, Any]

    @property
    def line_of_shots(self) -> str:
        """Line of shots that name none; "" = whichever has their structure, where none is called so."""
        names = self.lines or {self.settings.get("line")}
        return self.line_default if self.line_default in names else ""

    @property
    def combined_factor(self) -> float | None:
        """The one combined factor declared for the job; None when none is, or it is taken by structure."""
        try:
            return float(str(self.settings.get("combined_factor", "")))
        except ValueError:
            return None


def understand(
    table: RawTable,
    kind: Kind,
    declared: ReaderContext,
    *,
    shot_order: str = "pnezd",
    answers: Answers | None = None,
    now: dt.datetime,
) -> Loaded[Any]:
    """Read a table as the kind it is; `answers` say what dates mean, the table knows its named columns.

    `InputRefused` carries every problem of the table.
    """
    projection, unit = declared.projection, declared.projection.unit
    named: dict[str, Any] = {"line_default": declared.line_default, "naming": declared.naming}
    said = {**named, "order": answers.date_order if answers else None}
    readers: Mapping[Kind, Callable[[], Loaded[Any]]] = {
        "centreline": lambda: read_pi_list(
            table,
            projection=projection,
            line_default=declared.line_default,
            combined_factor=declared.combined_factor,
        ),
        "structures": lambda: read_structures(table, projection=projection, pole_a=declared.pole_a, **said),
        "poles": lambda: read_poles(table, unit=unit, **said),
        "shots": lambda: read_shots(
            table,
            projection=projection,
            line_default=declared.line_of_shots,
            naming=declared.naming,
            order=read_shot_order(shot_order),
        ),
        "records": lambda: read_records(
            table,
            received_at=now,
            zone=now.tzinfo or dt.UTC,
            part_steps=part_steps(workflow_of(declared.settings)),
            **said,
        ),
        "context": lambda: read_context(table, projection=projection),
    }
    if kind not in readers:
        return read_rows(table, KINDS[kind], unit=unit, projection=projection, **said)
    return readers[kind]()


#: Column order of point files without headings when nobody says another.
USUAL_SHOT_ORDER = "pnezd"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the person who loads files says about them."""

    #: What all the files are; None = told by their headings.
    kind: Kind | None = None
    #: Name of a file -> what it is, before what is said of all.
    kinds: Mapping[str, Kind] = field(default_factory=dict)
    #: Field -> heading, or number of the column.
    columns: Mapping[str, str | int] = field(default_factory=dict)
    #: Field -> unit of its column.
    units: Mapping[str, str] = field(default_factory=dict)
    shot_order: str = USUAL_SHOT_ORDER
    date_order: DateOrder | None = None
    #: Coordinate reference of the files' coordinates, "job" = the job's own; "" = as each declares.
    crs_of_file: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FileRead:
    """A file with its meaning, or with the reasons it has none."""

    name: str
    kind: Kind | None
    source: Source | None = None
    table: RawTable | None = None
    loaded: Loaded[Any] | None = None
    refused: tuple[Problem, ...] = ()
    #: Who confirmed the columns and when, in words; "" = read by its headings alone.
    confirmed: str = ""
    #: What was said about it now, to be remembered for files of these shapes; None = nothing.
    answers: Answers | None = None
    shapes: tuple[str, ...] = ()


def read_files(
    paths: Sequence[Path],
    said: Said,
    declared: ReaderContext,
    kept: Sequence[KeptAnswer],
    *,
    now: dt.datetime,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> list[FileRead]:
    """Read files in child processes of limited means (`io.source.sandbox.call_all`), in the order named.

    What ends a child is the refusal of the file it was reading.
    """
    # a child need not be where this process is now
    whole = [path.absolute() for path in paths]
    calls = [call_of(path, partial(read_file, path, said, declared, kept, now=now)) for path in whole]
    answers = call_all(calls, progress=progress, cancelled=cancelled)
    return [
        FileRead(name=path.name, kind=said.kind, refused=answer.problems)
        if isinstance(answer, InputRefused)
        else answer
        for path, answer in zip(paths, answers, strict=True)
    ]


def read_file(
    path: Path, said: Said, declared: ReaderContext, kept: Sequence[KeptAnswer], *, now: dt.datetime
) -> FileRead:
    """Read a file in this process, whatever it may take; a refusal is in what comes back. See `read_files`.

    Columns a person names go first, then the standing answer for files of its shape (`kept`), then its
    headings.
    """
    said = replace(said, kind=said.kinds.get(path.name, said.kind))
    found = FileRead(name=path.name, kind=said.kind)
    try:
        found = _opened(path, said, kept, declared.naming)
        table, kind = found.table, found.kind
        if table is None or kind is None:
            raise RuntimeError(f"{path.name} was opened without a table")
        answers = found.answers or Answers(kind=kind)
        table = replace(table, crs_said=said.crs_of_file or answers.crs)
        found = replace(found, table=table)
        order = said.shot_order if said.shot_order != USUAL_SHOT_ORDER else answers.shot_order
        loaded = understand(
            table, kind, declared, shot_order=order or USUAL_SHOT_ORDER, answers=answers, now=now
        )
    except InputRefused as refusal:
        return _without_cells(replace(found, refused=refusal.problems))
    return _without_cells(replace(found, loaded=loaded))


def _without_cells(found: FileRead) -> FileRead:
    """Let the cells go, which take much memory; how many rows there were stays of a refused file."""
    if found.table is None or found.source is None:
        return found
    rows = ((),) * len(found.table.rows) if found.loaded is None else ()
    table = replace(found.table, rows=rows, row_numbers=(), geometry=None)
    return replace(found, table=table, source=replace(found.source, tables=()))


def _opened(path: Path, said: Said, kept: Sequence[KeptAnswer], naming: Naming) -> FileRead:
    plain, refusal = _plain(path, said)
    if said.columns or said.units:
        return _by_word(path, said, plain, refusal)
    standing = _standing(path, said, plain, kept)
    if standing is not None:
        return standing
    if plain is None:
        raise refusal or RuntimeError(f"{path.name} was neither read nor refused")
    kind = said.kind or plain.kind or recognise(plain.tables[0], naming.listed.meant)
    return _read_by(path, plain, _answers(said, kind))


def _read_by(
    path: Path, source: Source, answers: Answers, *, shapes: Sequence[str] = (), confirmed: str = ""
) -> FileRead:
    table = source.table(answers.kind)
    return FileRead(
        name=path.name,
        kind=answers.kind,
        source=source,
        table=table,
        answers=answers,
        shapes=tuple(dict.fromkeys((shape_key(table), *shapes))),
        confirmed=confirmed,
    )


def _plain(path: Path, said: Said) -> tuple[Source | None, InputRefused | None]:
    """Read a file by its headings alone; a refusal may still be answered by a person's word."""
    try:
        return read_source(path, kind=said.kind), None
    except InputRefused as refusal:
        return None, refusal


def _answers(said: Said, kind: Kind) -> Answers:
    return Answers(
        kind=kind,
        fields=said.columns,
        units=said.units,
        shot_order="" if said.shot_order == USUAL_SHOT_ORDER else said.shot_order,
        date_order=said.date_order,
        crs=said.crs_of_file,
    )


def _by_word(path: Path, said: Said, plain: Source | None, refusal: InputRefused | None) -> FileRead:
    """Read a file whose columns are named now."""
    kind = said.kind or (plain.kind if plain else None)
    if kind is None:
        reasons = list(refusal.problems) if refusal else []
        asked = Problem(
            file=path.name,
            column="--column",
            reason="columns are named, but not what the file is",
            remedy="say it with --as KIND",
        )
        raise InputRefused([asked, *reasons])
    answers = _answers(said, kind)
    shapes = [shape_key(each) for each in plain.tables[:1]] if plain else []
    source = read_source(path, answers=answers)
    return _read_by(path, source, answers, shapes=shapes, confirmed="columns as said now")


def _standing(path: Path, said: Said, plain: Source | None, kept: Sequence[KeptAnswer]) -> FileRead | None:
    """Read a file as a person once said for files of its shape; None when nobody did."""
    shapes = {shape_key(table) for table in plain.tables} if plain else set()
    for answer in kept:
        if plain is not None and answer.shape not in shapes:
            continue
        answers = Answers.from_dict(answer.content)
        if said.kind not in {None, answers.kind}:
            continue
        found = _answered(path, answer, replace(answers, date_order=said.date_order or answers.date_order))
        if found is not None and answer.shape in {*shapes, *found.shapes}:
            return found
    return None


def _answered(path: Path, answer: KeptAnswer, answers: Answers) -> FileRead | None:
    words = f"columns as confirmed by {answer.who} on {answer.at.date().isoformat()}"
    try:
        return _read_by(path, read_source(path, answers=answers), answers, confirmed=words)
    except InputRefused:
        return None
