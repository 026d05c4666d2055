"""Make a job, and open one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from linemap.domain.design.declaration import Declaration
from linemap.geometry.geodesy import Projection
from linemap.service.job.rules import (
    read_blocks_owned,
    read_declared_factor,
    read_pole_a,
    read_start_station,
    read_work_week,
    read_workflow,
)
from linemap.store.database import Database, open_job
from linemap.store.job import change_settings, load_job
from linemap.store.lines import declare_factor

__all__ = ["JobRules", "create_job", "declare", "open_job"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRules:
    """What is declared about a job's lines before any file is loaded. Texts as given by a person."""

    crs: str
    name: str = ""
    #: Name of the line when the files name none.
    line: str = ""
    back_end: str = ""
    ahead_end: str = ""
    #: Grid = ground x factor, or "auto"; "" = not declared.
    combined_factor: str = ""
    start_station: str = "0+00"
    pole_a: str = "left"
    #: Point the coordinates were scaled about, "none" for plain grid coordinates; "" = not declared.
    base_point: str = ""
    vertical_datum: str = ""
    #: Document the declarations come from.
    source: str = ""
    #: Day the records are complete to; None = today.
    data_date: dt.date | None = None
    #: Stringing blocks the job owns; "" = not declared.
    blocks_owned: str = ""
    #: Days of the week that are worked, like "Mon-Thu"; "" = not declared.
    work_week: str = ""


def create_job(target: str, rules: JobRules, *, now: dt.datetime) -> None:
    """Make an empty job at a path or PostgreSQL URL.

    Raises
    ------
    InputRefused
        If a rule cannot be read; nothing is made then.
    Conflict
        If something is there already.
    """
    Projection.from_text(rules.crs)
    read_declared_factor(rules.combined_factor)
    read_pole_a(rules.pole_a)
    read_start_station(rules.start_station)
    read_blocks_owned(rules.blocks_owned)
    read_work_week(rules.work_week)
    settings: dict[str, Any] = {
        **asdict(rules),
        "data_date": rules.data_date.isoformat() if rules.data_date is not None else "",
    }
    with (
        open_job(target, create=True, name=rules.name, now=now) as database,
        database.writing() as connection,
    ):
        change_settings(connection, settings)


def declare(database: Database, changes: Mapping[str, str]) -> Declaration:
    """Declare something about a job's coordinates after it was made; return what is declared now.

    Parameters
    ----------
    database : Database
    changes : mapping
        Any of "combined_factor", "base_point", "vertical_datum", "source", "workflow", "blocks_owned"; a
        factor is set on every line.

    Raises
    ------
    InputRefused
        If the factor is no factor, or the workflow is none linemap knows.
    """
    read_blocks_owned(changes.get("blocks_owned", ""))
    with database.writing() as connection:
        if "workflow" in changes:
            read_workflow(changes["workflow"])
        if "combined_factor" in changes:
            declare_factor(connection, read_declared_factor(changes["combined_factor"]))
        change_settings(connection, dict(changes))
        record = load_job(connection)
    return record.declaration(Projection.from_text(str(record.settings["crs"])).unit)
