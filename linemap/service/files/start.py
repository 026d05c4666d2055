"""Before there is a job: what can be declared, and the job made of it and of the files brought."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from pathlib import Path

from linemap.answers.office import Opened, Start
from linemap.domain.record.person import Person
from linemap.errors import Problem
from linemap.service.files.proposal import add_proposal_file, begin
from linemap.service.job.job import DeclarationRefused, create_job, described
from linemap.service.job.registry import SETTINGS
from linemap.service.job.setting import Known
from linemap.store.database import open_job

_JOB = ".linemap"


def start_answer(place: Path) -> Start:
    """Return what a page shows where a job may be made: at a path that is free, or in a folder."""
    jobs = sorted(path.name for path in place.glob(f"*{_JOB}")) if place.is_dir() else []
    nothing, here = Known(settings={}), Person.at_the_machine()
    settings = [described(each, nothing, here) for each in SETTINGS.values() if each.when_made]
    return Start(place=str(place), folder=place.is_dir(), jobs=jobs, settings=settings)


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
