"""Plans: how many structures are to have a step by the end of each week, one row a week."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from linemap.domain.record.workflow import match_step
from linemap.domain.schedule.plan import Baseline
from linemap.io.cells.sheet import Ledger

_Row = tuple[int, dict[str, Any]]


def baselines_of_rows(ledger: Ledger, rows: Sequence[_Row]) -> Iterator[Baseline]:
    """Give a baseline for each line, step and revision.

    A plan without any week is kept and noted: it gives no curve. Counts that fall and weeks out of order are
    refused at the last row of their baseline.
    """
    if all(row["week"] is None for _, row in rows):
        ledger.note(None, "week", "the plan gives no dates, so there is no curve", "add the week of each row")
    series: dict[tuple[str, ...], list[_Row]] = {}
    for index, row in rows:
        row["step"] = match_step(row["step"]) or row["step"].casefold()
        series.setdefault((row["line"], row["step"], row["revision"]), []).append((index, row))
    for mine in series.values():
        values = [row for _, row in mine]
        try:
            yield Baseline(
                **{name: values[0][name] for name in ("line", "step", "revision")},
                frozen_on=next((row["frozen_on"] for row in values if row["frozen_on"]), None),
                weeks=tuple(row["week"] for row in values if row["week"]),
                planned=tuple(row["planned"] for row in values),
            )
        except ValueError as error:
            ledger.refuse(mine[-1][0], "planned", str(error), "correct the plan")
