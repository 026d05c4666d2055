"""How the files of a proposal were understood, for those who review it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from linemap.answers.change import ReadFile, UnreadColumn
from linemap.answers.lists import FileColumn
from linemap.domain.kind.compare import does_of
from linemap.kinds.registry import DECLARED
from linemap.service.files.load_report import LoadedFile, problem_answer
from linemap.service.files.reading import FileRead, ReaderContext


@dataclass(frozen=True, slots=True, kw_only=True)
class FilesRead:
    """Files as they were read, and what readers were told of the job; none for an undo."""

    files: Sequence[FileRead] = ()
    declared: ReaderContext | None = None


def read_answer(file: LoadedFile, read: FilesRead) -> ReadFile:
    """Return how a file was understood, for pages and programs."""
    found = next(each for each in read.files if each.name == file.name)
    columns = found.loaded.mapping if found.loaded is not None else {}
    return ReadFile(
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
        unread=[
            UnreadColumn(heading=each.heading, filled=each.rows, near=each.near, words=str(each))
            for each in file.unread
        ],
        rows_in=file.rows_in,
        rows_used=file.rows_used,
        problems=[problem_answer(file.kind, problem) for problem in file.problems],
    )
