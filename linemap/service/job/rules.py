"""What a person declares about lines, read from text: combined factor, side of pole A, start station."""

from __future__ import annotations

import numpy as np

from linemap.domain.design.line import PoleASide
from linemap.domain.design.structure import Structures
from linemap.domain.record.workflow import WORKFLOWS, Workflow
from linemap.domain.schedule.workdays import Calendar
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection, combined_factor, elevation_factor
from linemap.geometry.station import parse_station

#: Word for a factor that is computed from grid scale and elevations.
AUTO = "auto"


def read_declared_factor(text: str) -> float | None:
    """Read a combined factor that may be "auto"; "auto" and "" give None.

    Raises
    ------
    InputRefused
        If it is neither a factor nor "auto".

    >>> read_declared_factor("Auto"), read_declared_factor("0.9995")
    (None, 0.9995)
    """
    return None if text.strip().casefold() == AUTO else read_factor(text)


def read_blocks_owned(text: str) -> int | None:
    """Read how many stringing blocks the job owns; "" gives None.

    Raises
    ------
    InputRefused
        If it is no whole number.

    >>> read_blocks_owned("280"), read_blocks_owned("")
    (280, None)
    """
    if not text.strip():
        return None
    if text.strip().isascii() and text.strip().isdigit():
        return int(text)
    raise InputRefused.at("--blocks-owned", text, "is no count of blocks", "give a whole number like 280")


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
        raise InputRefused.at(
            "--combined-factor",
            text,
            "is no combined factor",
            "give grid length / ground length, a number near 1 like 0.999217, or auto",
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
    raise InputRefused.at("--pole-a", text, "is no side", "say left or right, looking ahead along the line")


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
        raise InputRefused.at("--start-station", text, str(error)) from None


def read_workflow(text: str) -> Workflow:
    """Read the order of the work by its name.

    Raises
    ------
    InputRefused
        If it is no name of one.

    >>> read_workflow("Framed aloft").chain
    ('staked', 'spotted', 'dug', 'set', 'framed')
    """
    found = WORKFLOWS.get(" ".join(text.casefold().split()))
    if found is None:
        raise InputRefused.at(
            "--workflow", text, "no order of the work that is known", f"write one of {', '.join(WORKFLOWS)}"
        )
    return found


def read_work_week(text: str) -> Calendar | None:
    """Read the days of the week that are worked; "" gives None.

    Raises
    ------
    InputRefused
        If it names no days.

    >>> read_work_week("Mon-Thu").words
    'Mon-Thu'
    """
    if not text.strip():
        return None
    try:
        return Calendar.from_text(text)
    except ValueError as error:
        raise InputRefused.at("--work-week", text, str(error), "write it like Mon-Thu") from None


def mean_factor(name: str, structures: Structures, projection: Projection) -> float:
    """Return the mean of grid scale times elevation factor over a line's structures with an elevation.

    Elevations are taken as heights above the ellipsoid: a geoid height of -60 ft left out changes the factor
    by 3 parts in a million, which is why a vertical datum must be declared with it.

    Parameters
    ----------
    name : str
        Line name.
    structures : Structures
        Of all lines.
    projection : Projection

    Raises
    ------
    InputRefused
        If no structure of the line has an elevation.
    """
    mine = np.array([line.casefold() == name.casefold() for line in structures.line], dtype=np.bool_)
    known = mine & np.isfinite(structures.elevation)
    if not known.any():
        raise InputRefused.at(
            "--combined-factor",
            AUTO,
            f"needs the ground elevation of structures, and line {name} has none",
            "add an elevation column, or give the factor as a number",
            file=structures.source_file,
        )
    scale, _ = projection.factors_at(structures.easting[known], structures.northing[known])
    height = elevation_factor(structures.elevation[known], projection.unit)
    return float(np.mean(combined_factor(scale, height)))
