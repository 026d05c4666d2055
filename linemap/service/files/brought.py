"""Files brought for a job that is still to be made: how each reads, and where its coordinates lie.

Nothing is guessed of the coordinate reference, and nothing is stored.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from linemap.answers.change import ReadFile
from linemap.answers.office import LookedAt
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.cells.meaning import parse_heading
from linemap.io.cells.table import JOB
from linemap.io.source.container import companions
from linemap.io.source.sandbox import Progress
from linemap.service.files.load_report import FilesRead, file_as_read, read_answer
from linemap.service.files.lying import (
    AS_WRITTEN,
    Lying,
    drawing_of,
    lying_of,
    place_words,
    reference_words,
)
from linemap.service.files.reading import FileRead, ReaderContext, Said, read_files

#: As what a file is drawn, one after the other, while nobody has said which of them it is.
_TRIED: Sequence[Kind] = ("structures", "centreline", "shots", "context")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _AsRead:
    """A file as it is shown, the projected reference it declares, and its points."""

    answer: ReadFile
    crs: str
    lying: Lying | None


class FilesBrought:
    """The files of a folder; each is read once for a reference and what it is said to be."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._read: dict[tuple[object, ...], _AsRead] = {}
        #: Points as they are written.
        self._lying: Sequence[Lying] = ()

    def look(
        self,
        crs: str,
        kinds: Mapping[str, Kind],
        *,
        now: dt.datetime,
        progress: Progress,
        cancelled: Callable[[], bool],
    ) -> LookedAt:
        """Read what was not read yet, in child processes, and say where all of it lies.

        Parameters
        ----------
        crs : str
            Projected reference that is tried; "" = none. One that cannot be used is told, and not used.
        kinds : mapping
            Name of a file -> what a person says it is.
        now, progress, cancelled
            As `read_files` takes them.

        Raises
        ------
        Cancelled
            When `cancelled` said so.
        """
        chosen, wrong = _reference(crs)
        if chosen is not None and not self._lying:
            self.look("", kinds, now=now, progress=progress, cancelled=cancelled)
        files = sorted(path for path in self.folder.iterdir() if path.is_file())
        parts = {part for path in files for part in companions(path)}
        keys = {
            path: (_state(path), kinds.get(path.name), chosen and chosen.text)
            for path in files
            if path not in parts
        }
        new = [path for path, key in keys.items() if key not in self._read]
        reader = _Reader(chosen or Projection.from_text(AS_WRITTEN), chosen is not None, now, cancelled)
        for path, read in zip(new, reader.read(new, kinds, progress), strict=True):
            self._read[keys[path]] = read
        found = [self._read[key] for key in keys.values()]
        lying = [each.lying for each in found if each.lying is not None]
        if chosen is None:
            self._lying = lying
        drawing = drawing_of(lying)
        return LookedAt(
            state="ready",
            share=1.0,
            files=[each.answer for each in found],
            drawn=drawing.files,
            crs=next((each.crs for each in found if each.crs), ""),
            unit=drawing.unit,
            where=wrong if chosen is None else place_words(lying, chosen),
        )

    def lies(self, crs: str) -> str:
        """Say where a reference would put the files, by the middle of their points; "" = there are none."""
        try:
            there = [each for each in self._lying if (self.folder / each.name).is_file()]
            return reference_words(there, Projection.from_text(crs))
        except InputRefused as refusal:
            return refusal.problems[0].reason


def _reference(crs: str) -> tuple[Projection | None, list[str]]:
    try:
        return (Projection.from_text(crs.strip()) if crs.strip() else None), []
    except InputRefused as refusal:
        problem = refusal.problems[0]
        return None, [f"{problem.value} {problem.reason}; {problem.remedy}."]


def _state(path: Path) -> object:
    """Return what tells a file, its companions included, from another brought under its name."""
    stats = [(each.name, each.stat()) for each in (path, *companions(path))]
    return tuple((name, stat.st_mtime_ns, stat.st_size) for name, stat in stats)


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads files in one reference; those it must ask about are read again, to be drawn all the same."""

    projection: Projection
    chosen: bool
    now: dt.datetime
    cancelled: Callable[[], bool]

    def read(self, paths: Sequence[Path], kinds: Mapping[str, Kind], progress: Progress) -> Iterator[_AsRead]:
        found = self._files(paths, Said(kinds=kinds), progress)
        for path, file in zip(paths, found, strict=True):
            drawn = file
            for said in _other_ways(file):
                if drawn.loaded is None:
                    drawn = self._files([path], said)[0]
            yield _AsRead(
                answer=self._answer(file, path.stat().st_size),
                crs="" if drawn.table is None else _projected(drawn.table.crs),
                lying=lying_of(drawn, self.projection, chosen=self.chosen, joined=file.loaded is not None),
            )

    def _answer(self, file: FileRead, size: int) -> ReadFile:
        """Return a file as it is shown: columns are named in the review, a unit nobody said is none yet."""
        answer = read_answer(file_as_read(file), FilesRead(files=[file]))
        columns = [
            each if self.chosen or parse_heading(each.named).unit else replace(each, heading=each.named)
            for each in answer.columns
        ]
        unread = [replace(each, near=()) for each in answer.unread]
        return replace(answer, size=size, fields=(), columns=columns, unread=unread)

    def _files(self, paths: Sequence[Path], said: Said, progress: Progress | None = None) -> list[FileRead]:
        declared = ReaderContext(projection=self.projection, line_default="line", settings={})
        how = {"now": self.now, "progress": progress, "cancelled": self.cancelled}
        return read_files(paths, said, declared, (), **how)  # type: ignore[arg-type] # by their names


def _other_ways(file: FileRead) -> Iterator[Said]:
    """Give what may be said of a file that is asked about: what it is, or that it is as the job is."""
    may_be = {kind for problem in file.refused for kind in problem.may_be}
    asked = [kind for kind in _TRIED if kind in may_be]
    for crs in ("", JOB):
        yield from (Said(kind=kind, crs_of_file=crs) for kind in asked)
    if file.kind is not None and any(problem.column == "geometry" for problem in file.refused):
        yield Said(kind=file.kind, crs_of_file=JOB)


def _projected(text: str) -> str:
    try:
        return Projection.from_text(text).text if text else ""
    except InputRefused:
        return ""
