"""Plans as files: weeks and counts, several series in one file, and what is refused."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import pytest

from linemap.domain.schedule.plan import Baseline
from linemap.errors import InputRefused
from linemap.io.cells.table import Loaded
from linemap.io.design.rows import read_rows
from linemap.io.source.read import read_source
from linemap.kinds.registry import PLANS

HEAD = "week of,planned cumulative,revision,frozen on"


def read(tmp_path: Path, rows: Sequence[str], head: str = HEAD) -> Loaded[tuple[Baseline, ...]]:
    path = tmp_path / "planned.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    source = read_source(path)
    assert source.kind == "plan"
    return read_rows(source.table("plan"), PLANS, line_default="North")


def test_demo_plan_is_read_whole(demo_files: Path) -> None:
    source = read_source(demo_files / "planned.csv")
    assert source.kind == "plan"
    (plan,) = read_rows(source.table("plan"), PLANS).value
    assert plan.planned == (4, 11, 20, 30, 40, 50, 59, 68, 77, 86, 95, 104, 112, 118, 121)
    assert (plan.weeks[0], plan.weeks[-1]) == (dt.date(2026, 3, 23), dt.date(2026, 6, 29))
    assert (plan.step, plan.revision, plan.frozen_on) == ("set", "0", dt.date(2026, 3, 2))


def test_two_revisions_and_two_steps_are_series_of_their_own(tmp_path: Path) -> None:
    head = "Activity,Week Beginning,Planned,Rev"
    rows = ["Setting,2026-03-23,4,0", "Framing,2026-03-23,6,0", "Setting,2026-03-23,3,1"]
    found = read(tmp_path, rows, head).value
    assert [(plan.step, plan.revision, plan.planned) for plan in found] == [
        ("set", "0", (4,)),
        ("framed", "0", (6,)),
        ("set", "1", (3,)),
    ]
    assert all(plan.line == "North" and plan.frozen_on is None for plan in found)


def test_plan_without_dates_is_kept_and_noted(tmp_path: Path) -> None:
    loaded = read(tmp_path, ["4,0,2026-03-02", "11,0,2026-03-02"], "planned cumulative,revision,frozen on")
    assert loaded.value[0].weeks == ()
    assert any("gives no dates" in problem.reason for problem in loaded.problems)


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("2026-03-30,3,0,2026-03-02", "give cumulative counts"),
        ("2026-03-16,5,0,2026-03-02", "put the weeks in order"),
        (",5,0,2026-03-02", "1 weeks and 2 counts"),
        ("soon,5,0,2026-03-02", "not a date"),
        ("2026-03-30,4.5,0,2026-03-02", "no whole count"),
        ("2026-03-30,-4,0,2026-03-02", "no whole count"),
        ("2026-03-30,many,0,2026-03-02", "number"),
    ],
)
def test_rows_that_are_no_plan_refuse_the_file(tmp_path: Path, row: str, reason: str) -> None:
    with pytest.raises(InputRefused, match=reason):
        read(tmp_path, ["2026-03-23,4,0,2026-03-02", row])
