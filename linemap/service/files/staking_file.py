"""The staking table as a file: one row a point, with the set-up of its structure in front."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from linemap.domain.staking.stakeout import StakePlan
from linemap.io.output.write import write_table
from linemap.service.survey.stakeout import staking_table
from linemap.service.view.view import JobView

_OF_STRUCTURE = (
    "line",
    "structure",
    "station_text",
    "deflection_text",
    "ground_text",
    "backsight",
    "backsight_bearing_text",
    "backsight_magnetic_text",
    "backsight_distance_text",
    "check",
    "check_circle_text",
    "check_distance_text",
)
_OF_POINT = (
    "point",
    "kind",
    "pole",
    "description",
    "northing",
    "easting",
    "elevation",
    "circle_text",
    "distance_text",
)


def write_staking_table(
    view: JobView,
    path: Path,
    *,
    rows: Sequence[int] | None = None,
    plan: StakePlan | None = None,
    compass_on: dt.date | None = None,
) -> None:
    """Write the staking table of structures to a .xlsx or .csv file.

    Parameters
    ----------
    view : JobView
    path : Path
        Target; replaced whole when it exists.
    rows, plan, compass_on
        As in `linemap.service.survey.stakeout.staking_table`.

    Raises
    ------
    InputRefused
        If the suffix is another, or the file cannot be written.
    """
    entries = staking_table(view, rows=rows, plan=plan, compass_on=compass_on)
    flat = [(entry, point) for entry in entries for point in entry.points]
    columns = {
        **{name: _column([getattr(entry, name) for entry, _ in flat]) for name in _OF_STRUCTURE},
        **{name: _column([getattr(point, name) for _, point in flat]) for name in _OF_POINT},
        "notes": _column(["; ".join([*entry.notes, *entry.holds]) for entry, _ in flat]),
        "caution": _column([entry.caution for entry, _ in flat]),
    }
    write_table(columns, path, title="staking", length_note=f"unit {view.projection.unit.word}")


def _column(values: list[Any]) -> Any:
    column = np.empty(len(values), dtype=object)
    column[:] = values
    return column
