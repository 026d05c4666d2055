"""The contractor's plan: structures to be set by the end of each week, frozen before the first was set."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from route import LINE
from tables import write_csv

__all__ = ["PLANNED_SET", "write_planned"]

#: Structures set by the end of each week, from the week of `_FIRST_WEEK` on.
PLANNED_SET = (4, 11, 20, 30, 40, 50, 59, 68, 77, 86, 95, 104, 112, 118, 121)
_FIRST_WEEK = date(2026, 3, 23)
_FROZEN_ON = "2026-03-02"


def write_planned(folder: Path) -> None:
    """Write planned.csv."""
    rows = [
        (LINE, "set", (_FIRST_WEEK + timedelta(weeks=place)).isoformat(), count, "0", _FROZEN_ON)
        for place, count in enumerate(PLANNED_SET)
    ]
    write_csv(
        folder / "planned.csv",
        [("line", "step", "week of", "planned cumulative", "revision", "frozen on"), *rows],
    )
