"""How often an 80 % range of the forecast holds the true end, over 200 simulated jobs.

Each job is built to its end by crews of its own: a rate, days lost to weather in spells, five holds. The
forecast sees the first four weeks of the record only. Where holds end early the rate decides the end, and the
range is put to the test; where they end late the release does, and the range is nearly one day.
"""

from __future__ import annotations

import datetime as dt
import time
from dataclasses import dataclass
from itertools import islice

import numpy as np
from rich.console import Console
from rich.table import Table

from linemap.domain.crew.hold import Hold
from linemap.domain.schedule.forecast import Forecast, Task, forecast
from linemap.domain.schedule.plan import MON_THU
from linemap.domain.schedule.rates import recent_rates

__all__ = ["Coverage", "coverage", "main"]

FIRST = dt.date(2026, 3, 2)
SEEN_DAYS = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """What became of the ranges of many jobs."""

    jobs: int
    #: Ends within the range, and before and after it.
    within: int
    early: int
    late: int
    #: Mean length of the ranges in worked days.
    width: float
    #: Ends by the date of remaining divided by rate.
    by_naive: int


def coverage(jobs: int = 200, *, latest_release: int = 12, seed: int = 7) -> Coverage:
    """Simulate jobs with holds of at most so many worked days; count how often the range held the end."""
    generator = np.random.default_rng(seed)
    within = early = late = naive = 0
    widths = []
    for job in range(jobs):
        true_end, answer = _job(generator, latest_release, seed=job)
        if answer.finish is None:
            raise RuntimeError("a simulated job has a hold without an end")
        first, last = answer.finish.early, answer.finish.late
        within += first <= true_end <= last
        early += true_end < first
        late += true_end > last
        naive += true_end <= answer.naive_week + dt.timedelta(days=6)
        widths.append(len(MON_THU.workdays(first, last)))
    return Coverage(
        jobs=jobs, within=within, early=early, late=late, width=float(np.mean(widths)), by_naive=naive
    )


def _job(generator: np.random.Generator, latest_release: int, *, seed: int) -> tuple[dt.date, Forecast]:
    days = list(islice(MON_THU.after(FIRST - dt.timedelta(days=1)), 1200))
    units = _units(generator, len(days))
    seen = [day for day, count in zip(days[:SEEN_DAYS], units, strict=False) for _ in range(count)]
    as_of = days[SEEN_DAYS - 1]
    tasks = _tasks(generator, days, latest_release, count=int(generator.integers(40, 90)))
    true_end = _built(tasks, days[SEEN_DAYS:], units[SEEN_DAYS:])
    rates = recent_rates(seen, as_of=as_of, calendar=MON_THU)
    answer = forecast(tasks, rates, step="set", as_of=as_of, calendar=MON_THU, seed=seed)
    if not isinstance(answer, Forecast):
        raise RuntimeError(f"a simulated job has no forecast: {answer}")
    return true_end, answer


def _units(generator: np.random.Generator, count: int) -> list[int]:
    """Return units a day: a rate of the job's own, and days lost one after another more often than alone."""
    rate, stays = generator.uniform(1.5, 3.5), generator.uniform(0.1, 0.5)
    found, lost = [], False
    for day in range(count):
        lost = generator.random() < (stays if lost else 0.12)
        # the first day is worked, so that the record begins with it
        found.append(max(int(generator.poisson(rate)), int(day == 0)) * (not lost or day == 0))
    return found


def _tasks(
    generator: np.random.Generator, days: list[dt.date], latest_release: int, *, count: int
) -> list[Task]:
    held = set(generator.choice(count, size=5, replace=False).tolist())
    ends = {row: days[SEEN_DAYS + int(generator.integers(3, latest_release))] for row in held}
    return [
        Task(
            number=f"1/{row}",
            holds=(Hold(id=f"H-{row}", to_date=ends[row]),) if row in held else (),
        )
        for row in range(count)
    ]


def _built(tasks: list[Task], days: list[dt.date], units: list[int]) -> dt.date:
    """Build the job structure by structure, a way of its own to reckon what the forecast reckons."""
    left = list(tasks)
    for day, count in zip(days, units, strict=True):
        for task in [task for task in left if not task.holds_on(day)][:count]:
            left.remove(task)
        if not left:
            return day
    raise RuntimeError("a simulated job did not end")


def main() -> None:
    """Print the table."""
    table = Table(title="80 % range of the end, 200 simulated jobs a row")
    headings = (
        "holds end within",
        "held the end",
        "before",
        "after",
        "worked days wide",
        "naive week kept",
        "s",
    )
    for heading in headings:
        table.add_column(heading, justify="right")
    for latest in (12, 60):
        start = time.perf_counter()
        found = coverage(latest_release=latest)
        taken = time.perf_counter() - start
        shares = [n / found.jobs for n in (found.within, found.early, found.late)]
        table.add_row(
            f"{latest} worked days",
            *(f"{share:.1%}" for share in shares),
            f"{found.width:.1f}",
            f"{found.by_naive / found.jobs:.1%}",
            f"{taken:.1f}",
        )
    Console().print(table)


if __name__ == "__main__":
    main()
