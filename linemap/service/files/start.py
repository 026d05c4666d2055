"""Before there is a job: what files seem to be, what can be declared, and the job made of it all."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path

from linemap.answers.office import LookedAt, Opened, Start
from linemap.domain.record.person import Person
from linemap.errors import InputRefused, Problem
from linemap.geometry.projection import Projection
from linemap.io.source.read import SUFFIXES, call_of, read_source, recognise
from linemap.io.source.sandbox import call_all
from linemap.service.files.proposal import add_proposal_file, begin
from linemap.service.job.declarations import described
from linemap.service.job.job import DeclarationRefused, create_job
from linemap.service.job.registry import SETTINGS
from linemap.service.job.setting import Known
from linemap.store.database import open_job

_JOB = ".linemap"
_Look = tuple[str, str, str]


def start_answer(place: Path, files: Sequence[LookedAt]) -> Start:
    """Return what a page shows where a job may be made: at a path that is free, or in a folder."""
    jobs = sorted(path.name for path in place.glob(f"*{_JOB}")) if place.is_dir() else []
    nothing, here = Known(settings={}), Person.at_the_machine()
    settings = [described(each, nothing, here) for each in SETTINGS.values() if each.when_made]
    return Start(place=str(place), folder=place.is_dir(), jobs=jobs, files=files, settings=settings)


def look_at(folder: Path) -> list[LookedAt]:
    """Say what each file of a folder seems to be, by its headings; each is read in a child process."""
    paths = sorted(path for path in folder.iterdir() if path.is_file())
    lists = [path for path in paths if path.suffix.lower() in SUFFIXES]
    seen: list[_Look | InputRefused] = call_all([call_of(path, partial(look, path)) for path in lists])
    found = dict(zip(lists, seen, strict=True))
    return [_looked(path, found.get(path)) for path in paths]


def look(path: Path) -> _Look:
    """Return kind ("" = not told), words and coordinate reference of a file, in this process."""
    source = read_source(path)
    table = source.tables[0]
    count = sum(len(each.rows) for each in source.tables)
    rows = "1 row" if count == 1 else f"{count:,} rows"
    try:
        kind = source.kind or recognise(table)
    except InputRefused as refusal:
        return "", f"{rows}; {refusal.problems[0].reason}", ""
    return kind, rows, _projected(table.crs)


def _projected(text: str) -> str:
    try:
        return Projection.from_text(text).text if text else ""
    except InputRefused:
        return ""


def _looked(path: Path, seen: _Look | InputRefused | None) -> LookedAt:
    kind, words, crs = "", "goes with another file of its name, or is no list", ""
    if isinstance(seen, InputRefused):
        words = str(seen.problems[0])
    elif seen is not None:
        kind, words, crs = seen
    return LookedAt(name=path.name, size=path.stat().st_size, kind=kind, words=words, crs=crs)


def make_job(
    place: Path, texts: Mapping[str, str], folder: Path, *, who: str, now: dt.datetime
) -> tuple[Path, Opened]:
    """Make a job at a place, and a proposal of the files of a folder; return its path.

    In a folder the file is named after the job. Nothing is made when a text cannot be read
    (`DeclarationRefused`) or something is there already (`Conflict`).
    """
    path = place
    if place.is_dir():
        name = re.sub(r"[^\w-]+", " ", texts.get("name", "")).strip()
        if not name:
            remedy = "write it like North rebuild"
            problem = Problem(file="", column="--name", reason="is needed to name the file", remedy=remedy)
            raise DeclarationRefused([("name", problem)])
        path = place / f"{name}{_JOB}"
    create_job(str(path), texts, now=now, who=who)
    files = sorted(each for each in folder.iterdir() if each.is_file())
    with open_job(str(path)) as database:
        proposal = begin(database, who=who, now=now) if files else ""
        for each in files:
            add_proposal_file(database, proposal, each.name, each.read_bytes())
    return path, Opened(name=path.name, proposal=proposal)
