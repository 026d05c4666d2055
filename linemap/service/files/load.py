"""Load files into a job: all of them or none, with what was understood and what was wrong."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, replace

from sqlalchemy import Connection

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.structure import Structures
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.kind.kind import Keeps
from linemap.domain.record.change import Done, FileTaken
from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.source.sandbox import Progress
from linemap.kinds.registry import DECLARED
from linemap.service.files import reading
from linemap.service.files.beside_job import (
    evidence_of,
    late_plans,
    of_another_job,
    read_crs_of_file,
    replaced_since,
    structures_not_there,
    there_already,
)
from linemap.service.files.edit import Applied, taken_away
from linemap.service.files.keep import ListChange, keep
from linemap.service.files.load_report import FilesRead, LoadedFile, LoadRequest, file_as_read
from linemap.service.files.reading import FileRead, ReaderContext
from linemap.service.job.naming import with_listed
from linemap.service.job.naming_now import naming_in
from linemap.store.changes import newest_state, states_after
from linemap.store.database import Database
from linemap.store.files import add_file, save_answer, standing_answers
from linemap.store.job import load_job
from linemap.store.lines import list_lines, load_lines
from linemap.store.lists import not_named as find_not_named
from linemap.store.structures import load_structures

#: Files are stored in the order of their kinds, whatever order they are named in.
_ORDER = list(DECLARED)


#: Kinds that name no structure of a list, or are the list.
_BEFORE_NUMBERS: frozenset[Kind | None] = frozenset(
    {None, "structures", "centreline", "equations", "context", "types", "framing", "tolerances", "plan"}
)


def read_files(
    database: Database,
    request: LoadRequest,
    *,
    now: dt.datetime,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> FilesRead:
    """Read files, in the order in which they are stored; a refusal is in what comes back.

    `progress` and `cancelled` are those of `io.source.sandbox.call_all`.
    """
    with database.reading() as connection:
        declared = declared_rules(connection)
        kept = standing_answers(connection)
        line_is_open = not (declared.settings.get("line") or list_lines(connection))
    said = _checked(request)
    read = reading.read_files(
        request.paths, said, declared, kept, now=now, progress=progress, cancelled=cancelled
    )
    brought = [file.loaded.value for file in read if file.kind == "structures" and file.loaded is not None]
    naming = with_listed(declared.naming, brought)
    line = _only_line(brought) if line_is_open else ""
    if brought:
        # what the files that came with a list name is written as that list writes it; shots are read by it
        lines = declared.lines.union(*(structures.line.tolist() for structures in brought))
        declared = replace(
            declared, naming=naming, line_default=line or declared.line_default, lines=frozenset(lines)
        )
        all_anew = line or not naming.listed.is_plain or any(file.refused for file in read)
        others = [
            place
            for place, file in enumerate(read)
            if file.kind == "shots" or (all_anew and file.kind not in _BEFORE_NUMBERS)
        ]
        paths = [request.paths[place] for place in others]
        again = reading.read_files(paths, said, declared, kept, now=now, cancelled=cancelled)
        for place, file in zip(others, again, strict=True):
            read[place] = file
    return FilesRead(files=sorted(read, key=_rank), declared=declared)


def _only_line(brought: Iterable[Structures]) -> str:
    """Return the one line of all lists of structures that come; "" = they are of several."""
    names = {name for structures in brought for name in structures.line.tolist()}
    return names.pop() if len(names) == 1 else ""


def apply_load(
    connection: Connection,
    read: Sequence[FileRead],
    request: LoadRequest,
    declared: ReaderContext,
    *,
    now: dt.datetime,
    looks: bool = False,
) -> Applied:
    """Put files that were read into the job in an open transaction; say what that does and takes away.

    Raises
    ------
    InputRefused
        If any file is refused; of who only `looks`, what is wrong is in the files.
    """
    refused = [problem for file in read for problem in file.refused]
    if refused and not looks:
        raise InputRefused(refused)
    _check_ends(read, request)
    newest = newest_state(connection)
    kept = [_store(connection, file, request, declared, now=now, looks=looks) for file in read]
    _remember(connection, read, request, now=now)
    files = _judge_together(connection, [each.file for each in kept], looks=looks)
    done = Done(
        files=[each.taken for each in kept if each.taken is not None],
        states=states_after(connection, newest),
        again=[each.again for each in kept if each.again],
        words=[
            f"{file.name}: {file.rows_used:,} row{'s' * (file.rows_used != 1)} as {file.kind}"
            for file in files
            if file.kind
        ],
    )
    changes = [change for each in kept for change in each.changes]
    return Applied(
        files=tuple(files),
        done=done,
        taken=taken_away(connection, changes),
        not_named=_named_by_none(each for each in kept if each.taken is not None),
    )


def _check_ends(read: Sequence[FileRead], request: LoadRequest) -> None:
    """Refuse several files of a list of which unnamed records end: each would end what the others bring."""
    for kind, count in Counter(file.kind for file in read if file.kind in request.ends).items():
        if count > 1:
            reason = f"{count} files of {kind} come together, and each would end what the others name"
            remedy = "load them without ending any, or as one file"
            raise InputRefused.at("--removes", str(kind), reason, remedy)


def _named_by_none(kept: Iterable[_Stored]) -> dict[Kind, tuple[str, ...]]:
    """Return the records of lists kept by key that no file names, by kind; () is left out."""
    found: dict[Kind, tuple[str, ...]] = {}
    for each in kept:
        if each.taken is not None:
            kind = each.taken.kind
            before = found.get(kind, each.not_named)
            found[kind] = tuple(name for name in before if name in set(each.not_named))
    return {kind: names for kind, names in found.items() if names}


def declared_rules(connection: Connection) -> ReaderContext:
    """Return what the job declares and readers need: projection, default line, side of pole A."""
    record = load_job(connection)
    names = tuple(line.name for line in list_lines(connection))
    default = names[0] if len(names) == 1 else str(record.settings.get("line") or record.name)
    return ReaderContext(
        projection=Projection.from_text(str(record.settings["crs"])),
        line_default=default,
        lines=frozenset(names),
        pole_a=record.settings.get("pole_a", "left"),
        naming=naming_in(connection),
        settings=record.settings,
    )


def _rank(file: FileRead) -> tuple[int, str]:
    return (_ORDER.index(file.kind) if file.kind is not None else len(_ORDER), file.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stored:
    """What became of one file."""

    file: LoadedFile
    #: None = nothing of it was stored.
    taken: FileTaken | None = None
    #: A file set aside before whose rows count again; 0 = none.
    again: int = 0
    changes: tuple[ListChange, ...] = ()
    #: Records of a list kept by key that it does not name.
    not_named: tuple[str, ...] = ()


def _store(
    connection: Connection,
    file: FileRead,
    request: LoadRequest,
    declared: ReaderContext,
    *,
    now: dt.datetime,
    looks: bool,
) -> _Stored:
    if file.loaded is None or file.source is None or file.kind is None or file.table is None:
        return _Stored(file=file_as_read(file))
    there = there_already(connection, file, request)
    if there is not None:
        read = replace(file_as_read(file), rows_used=0, problems=(there.problem,))
        return _Stored(file=file_as_read(file) if there.again else read, again=there.again)
    evidence = evidence_of(connection, file, declared)
    problems = (
        *file.loaded.problems,
        *of_another_job(connection, file, request),
        *structures_not_there(connection, file, request),
        *evidence.problems,
        *replaced_since(connection, file),
        *late_plans(connection, file, now=now),
    )
    loaded = replace(file_as_read(file), problems=problems, evidence=evidence.words)
    if any(problem.severity is Severity.REFUSED for problem in problems):
        if looks:
            return _Stored(file=replace(loaded, rows_used=0))
        raise InputRefused(problem for problem in problems if problem.severity is Severity.REFUSED)
    file_id = add_file(
        connection,
        name=file.name,
        content=file.source.data,
        sha256=file.source.sha256,
        kind=file.kind,
        loaded_by=request.loaded_by,
        now=now,
        mapping={name: asdict(read) for name, read in file.loaded.mapping.items()},
        problems=problems,
    )
    keyed = DECLARED[file.kind].keeps is Keeps.KEYED
    unnamed = find_not_named(connection, DECLARED[file.kind], evidence.value) if keyed else ()
    changes = keep(
        connection,
        file.kind,
        evidence.value,
        declared,
        file=(file_id, file.name),
        label=request.label,
        now=now,
        ends=file.kind in request.ends,
        true_from=request.true_from,
    )
    return _Stored(
        file=replace(loaded, changes=tuple(change.words for change in changes)),
        taken=FileTaken(file_id, file.name, file.kind, loaded.rows_used),
        changes=changes,
        not_named=unnamed,
    )


def _checked(request: LoadRequest) -> LoadRequest:
    """Return what is asked for; columns named for several files, or an answer of nobody's, are refused."""
    if len(request.paths) > 1 and request.columns:
        raise InputRefused.at(
            "--column", "", "columns are named and several files given", "load that file alone"
        )
    if request.remember and not request.loaded_by.strip():
        raise InputRefused.at("--remember", "", "nobody is named who confirms the columns", "add --by NAME")
    return replace(request, crs_of_file=read_crs_of_file(request.crs_of_file))


def _remember(
    connection: Connection, read: Sequence[FileRead], request: LoadRequest, *, now: dt.datetime
) -> None:
    if not request.remember:
        return
    for file in read:
        if file.answers is not None:
            for shape in file.shapes:
                save_answer(connection, shape, file.answers.as_dict(), who=request.loaded_by, at=now)


def _judge_together(connection: Connection, stored: Sequence[LoadedFile], *, looks: bool) -> list[LoadedFile]:
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
        if not looks:
            raise
        last = stored[-1]
        return [*stored[:-1], replace(last, problems=(*last.problems, *refusal.problems))]
    return list(stored)
