"""Load files into a job: all of them or none, with what was understood and what was wrong."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from linemap.domain.figures import figures
from linemap.errors import InputRefused, Problem, Severity
from linemap.geometry.geodesy import Projection
from linemap.io.read import read_source, recognise
from linemap.io.table import Kind, Loaded, RawTable, Source
from linemap.service.keep import keep
from linemap.service.understand import Declared, understand
from linemap.store.database import Database
from linemap.store.files import add_file, find_files
from linemap.store.job import load_job
from linemap.store.lines import list_lines, load_lines
from linemap.store.revisions import changes
from linemap.store.structures import load_structures

__all__ = ["LoadReport", "LoadRequest", "LoadedFile", "declared_rules", "load_files"]

#: Files are stored in this order, whatever order they are named in: lists stand on centrelines.
_ORDER: tuple[Kind, ...] = (
    "centreline",
    "equations",
    "types",
    "tolerances",
    "structures",
    "poles",
    "guys",
    "shots",
    "records",
    "holds",
    "crossings",
    "context",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRequest:
    """What to load and how."""

    paths: tuple[Path, ...]
    #: What all the files are; None = told by their headings.
    kind: Kind | None = None
    #: Revision label of lists, like "B".
    label: str = ""
    #: Column order of shot files without headings: "pnezd" or "penzd".
    shot_order: str = "pnezd"
    #: Read and judge everything, store nothing.
    dry_run: bool = False
    loaded_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadReport:
    """What a load did, or would do."""

    files: tuple[LoadedFile, ...]
    dry_run: bool
    #: Data version after the load; the version before when nothing was stored.
    data_version: int

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Problems of all files, in file order."""
        return tuple(problem for file in self.files for problem in file.problems)

    @property
    def refused(self) -> bool:
        """True when a real load would be refused."""
        return any(problem.severity is Severity.REFUSED for problem in self.problems)

    def as_dict(self) -> dict[str, Any]:
        """Return the report as plain lists and texts."""
        return {
            "dry_run": self.dry_run,
            "data_version": self.data_version,
            "files": [
                {
                    "name": file.name,
                    "kind": file.kind,
                    "understood": file.understood,
                    "mapping": dict(file.mapping),
                    "rows_in": file.rows_in,
                    "rows_used": file.rows_used,
                    "changes": list(file.changes),
                    "problems": [
                        {
                            "row": problem.row,
                            "column": problem.column,
                            "value": problem.value,
                            "reason": problem.reason,
                            "remedy": problem.remedy,
                            "severity": str(problem.severity),
                        }
                        for problem in file.problems
                    ],
                }
                for file in self.files
            ],
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Read:
    """A file with its meaning, or with the reasons it has none."""

    name: str
    kind: Kind | None
    source: Source | None = None
    table: RawTable | None = None
    loaded: Loaded[Any] | None = None
    refused: tuple[Problem, ...] = ()


class _NothingStored(Exception):  # noqa: N818 - ends a dry run, no error
    """Rolls a dry run back."""


def load_files(database: Database, request: LoadRequest, *, now: dt.datetime) -> LoadReport:
    """Load files into a job in one transaction.

    Parameters
    ----------
    database : Database
    request : LoadRequest
    now : datetime.datetime
        When the files are loaded.

    Returns
    -------
    LoadReport
        Of a dry run also when files would be refused; their problems are in it.

    Raises
    ------
    InputRefused
        If any file is refused and this is no dry run; the job is as it was.
    """
    with database.reading() as connection:
        declared = declared_rules(connection)
    read = sorted((_read(path, request, declared, now=now) for path in request.paths), key=_rank)
    refused = [problem for file in read for problem in file.refused]
    if refused and not request.dry_run:
        raise InputRefused(refused)
    stored: list[LoadedFile] = []
    try:
        with database.writing() as connection:
            stored += [_store(connection, file, request, declared, now=now) for file in read]
            stored = _judge_together(connection, stored, dry_run=request.dry_run)
            if request.dry_run:
                raise _NothingStored
    except _NothingStored:
        pass
    with database.reading() as connection:
        version = load_job(connection).data_version
    return LoadReport(files=tuple(stored), dry_run=request.dry_run, data_version=version)


def declared_rules(connection: Connection) -> Declared:
    """Return what the job declares and readers need: projection, default line, side of pole A."""
    record = load_job(connection)
    names = tuple(line.name for line in list_lines(connection))
    default = names[0] if len(names) == 1 else str(record.settings.get("line") or record.name)
    return Declared(
        projection=Projection.from_text(str(record.settings["crs"])),
        line_default=default,
        pole_a=record.settings.get("pole_a", "left"),
        settings=record.settings,
    )


def _rank(file: _Read) -> tuple[int, str]:
    return (_ORDER.index(file.kind) if file.kind is not None else len(_ORDER), file.name)


def _read(path: Path, request: LoadRequest, declared: Declared, *, now: dt.datetime) -> _Read:
    kind: Kind | None = request.kind
    source = table = None
    try:
        source = read_source(path, kind=request.kind)
        kind = request.kind or source.kind or recognise(source.tables[0])
        table = source.table(kind)
        loaded = understand(table, kind, declared, shot_order=request.shot_order, now=now)
    except InputRefused as refusal:
        return _Read(name=path.name, kind=kind, source=source, table=table, refused=refusal.problems)
    return _Read(name=path.name, kind=kind, source=source, table=table, loaded=loaded)


def _store(
    connection: Connection, file: _Read, request: LoadRequest, declared: Declared, *, now: dt.datetime
) -> LoadedFile:
    if file.loaded is None or file.source is None or file.kind is None:
        return _told(file)
    again = find_files(connection, file.source.sha256)
    if again and file.kind == "shots":
        when = again[0].loaded_at.date().isoformat()
        words = Problem(
            file=file.name,
            reason=f"the same shots were loaded on {when} as {again[0].name}",
            remedy="nothing to do: they are not loaded twice",
            severity=Severity.NOTED,
        )
        return replace(_told(file), rows_used=0, problems=(words,))
    file_id = add_file(
        connection,
        name=file.name,
        content=file.source.data,
        sha256=file.source.sha256,
        kind=file.kind,
        loaded_by=request.loaded_by,
        now=now,
        mapping=file.loaded.mapping,
        problems=file.loaded.problems,
    )
    made = keep(
        connection,
        file.kind,
        file.loaded.value,
        declared,
        file=(file_id, file.name),
        label=request.label,
        now=now,
    )
    told = [
        f"{recorded.change.number} {recorded.change.words}"
        for line, revisions in made.items()
        for recorded in changes(connection, line, revisions=revisions)
    ]
    return replace(_told(file), changes=tuple(told))


def _told(file: _Read) -> LoadedFile:
    table, loaded = file.table, file.loaded
    return LoadedFile(
        name=file.name,
        kind=file.kind or "",
        understood=_words(table) if table is not None else "",
        mapping=loaded.mapping if loaded is not None else {},
        rows_in=loaded.rows_in if loaded is not None else len(table.rows) if table is not None else 0,
        rows_used=loaded.rows_used if loaded is not None else 0,
        problems=loaded.problems if loaded is not None else file.refused,
    )


def _words(table: RawTable) -> str:
    """Say how a table was read: sheet, encoding, delimiter, heading row, coordinate reference."""
    separators = {"\t": "tab", " ": "blanks"}
    parts = []
    if table.sheet:
        parts.append(f"sheet or layer {table.sheet}")
    if table.encoding:
        parts.append(table.encoding)
    if table.delimiter:
        parts.append(f"cells apart by {separators.get(table.delimiter, table.delimiter)}")
    if table.geometry is None:
        parts.append(f"headings in row {table.header_row}" if table.header_row else "no headings")
    if table.crs:
        parts.append(f"declares {table.crs}")
    return ", ".join(parts)


def _judge_together(
    connection: Connection, stored: Sequence[LoadedFile], *, dry_run: bool
) -> list[LoadedFile]:
    """Refuse lists that do not fit their centrelines: every structure names a line and stands near it."""
    if not {file.kind for file in stored} & {"centreline", "structures"}:
        return list(stored)
    structures = load_structures(connection)
    lines = load_lines(connection)
    if not len(structures) or not lines:
        return list(stored)
    try:
        figures(lines, structures, projection=Projection.from_text(lines[0].crs))
    except InputRefused as refusal:
        if not dry_run:
            raise
        last = stored[-1]
        return [*stored[:-1], replace(last, problems=(*last.problems, *refusal.problems))]
    return list(stored)
