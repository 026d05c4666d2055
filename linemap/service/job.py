"""Make a job, and open one."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from typing import Any

from linemap.domain.line import PoleASide
from linemap.errors import InputRefused, Problem
from linemap.geometry.geodesy import Projection
from linemap.geometry.station import parse_station
from linemap.store.database import open_job
from linemap.store.job import change_settings

__all__ = ["JobRules", "create_job", "open_job", "read_factor", "read_pole_a", "read_start_station"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRules:
    """What is declared about a job's lines before any file is loaded. Texts as given by a person."""

    crs: str
    name: str = ""
    #: Name of the line when the files name none.
    line: str = ""
    back_end: str = ""
    ahead_end: str = ""
    #: Grid = ground x factor; "" = not declared.
    combined_factor: str = ""
    start_station: str = "0+00"
    pole_a: str = "left"
    #: Day the records are complete to; None = today.
    data_date: dt.date | None = None


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
    read_factor(rules.combined_factor)
    read_pole_a(rules.pole_a)
    read_start_station(rules.start_station)
    settings: dict[str, Any] = {
        **asdict(rules),
        "data_date": rules.data_date.isoformat() if rules.data_date is not None else "",
    }
    with (
        open_job(target, create=True, name=rules.name, now=now) as database,
        database.writing() as connection,
    ):
        change_settings(connection, settings)


def read_factor(text: str) -> float | None:
    """Read a combined factor; "" gives None.

    Raises
    ------
    InputRefused
        If it is no number between 0.98 and 1.02, which is far more than any map zone has.

    >>> read_factor("0.999217"), read_factor("")
    (0.999217, None)
    """
    if not text.strip():
        return None
    try:
        factor = float(text)
    except ValueError:
        factor = float("nan")
    if not 0.98 < factor < 1.02:
        raise InputRefused(
            Problem(
                file="",
                column="--combined-factor",
                value=text,
                reason="is no combined factor",
                remedy="give grid length / ground length, a number near 1 like 0.999217, or auto",
            )
        )
    return factor


def read_pole_a(text: str) -> PoleASide:
    """Read the side of pole A.

    Raises
    ------
    InputRefused
        If it is neither left nor right.

    >>> read_pole_a("Left")
    'left'
    """
    side = text.strip().casefold()
    if side == "left":
        return "left"
    if side == "right":
        return "right"
    raise InputRefused(
        Problem(
            file="",
            column="--pole-a",
            value=text,
            reason="is no side",
            remedy="say left or right, looking ahead along the line",
        )
    )


def read_start_station(text: str) -> float:
    """Read the station of the route start.

    Raises
    ------
    InputRefused
        If it is no station.

    >>> read_start_station("10+50")
    1050.0
    """
    try:
        return parse_station(text).value
    except ValueError as error:
        raise InputRefused(
            Problem(file="", column="--start-station", value=text, reason=str(error))
        ) from None
