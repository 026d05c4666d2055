"""How many units a day the record shows, and the rest of the work played many times over from such days.

Each run first draws how far the record can be trusted (weights of the recorded days from a Dirichlet
distribution, the Bayesian bootstrap: D. B. Rubin, The Annals of Statistics 9 (1981) 130-134) and then, day by
day, one of the recorded days by those weights. Held structures wait; a day on which nothing can be worked is
lost. The same seed gives the same answer.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from linemap.domain.schedule.plan import Calendar

#: Fewer worked days on record than this say nothing of a range. Common practice, no source.
FEWEST_DAYS = 4
#: From the first to the last day of the window of a rate: four weeks.
_WINDOW = timedelta(days=27)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Units on each worked day of a window. Days without any are in it, and with them the weather."""

    days: tuple[date, ...]
    counts: tuple[int, ...]
    #: Days worked in a week of the calendar.
    days_a_week: int

    @property
    def total(self) -> int:
        """Units in the window."""
        return sum(self.counts)

    @property
    def per_day(self) -> float:
        """Mean units a worked day."""
        return self.total / len(self.counts) if self.counts else 0.0

    @property
    def per_week(self) -> float:
        """Mean units a week of the calendar."""
        return self.per_day * self.days_a_week

    @property
    def unusable(self) -> str:
        """Why no forecast can stand on the window; "" when one can."""
        if not self.counts or self.total == 0:
            return "nothing is recorded as done in the window of the rate"
        if len(self.counts) < FEWEST_DAYS:
            return f"only {len(self.counts)} worked days are on record, a range needs {FEWEST_DAYS}"
        return ""


def recent_rates(done: Iterable[date], *, as_of: date, calendar: Calendar) -> Rates:
    """Return the units of each worked day of the last four weeks, `as_of` the last of them.

    The window does not begin before the first unit on record. Units of a day that is not worked count to the
    worked day before it, or to the first of the window. `done` has the day of each unit, each once.

    >>> from linemap.domain.schedule.plan import MON_THU
    >>> rates = recent_rates([date(2026, 5, 11)] * 4 + [date(2026, 5, 15)], as_of=date(2026, 5, 15),
    ...                      calendar=MON_THU)
    >>> rates.counts, rates.per_week
    ((4, 0, 0, 1), 5.0)
    """
    past = sorted(day for day in done if day <= as_of)
    if not past:
        return Rates(days=(), counts=(), days_a_week=len(calendar.weekdays))
    begin = max(as_of - _WINDOW, past[0])
    days = calendar.workdays(begin, as_of) or (begin,)
    counts = [0] * len(days)
    for day in past:
        if day >= begin:
            counts[max(bisect_right(days, day) - 1, 0)] += 1
    return Rates(days=days, counts=tuple(counts), days_a_week=len(calendar.weekdays))


#: No forecast looks farther ahead than this many worked days.
LONGEST = 1500
#: Parameter of the Dirichlet distribution. 1 is Rubin's; a record of few days, with lost days in spells, asks
#: for less. Chosen so that an 80 % range holds about 80 % of simulated ends (`python tests/benchmarks
#: calibration`).
_TRUST = 0.65
_NEVER = np.iinfo(np.int32).max
#: Structures looked at a time for the crews' next ones.
_REACH = 128

#: Worked day, counted from 0, on which each structure gets the step in each run: (runs, structures).
IntMatrix = NDArray[np.int32]


def last_day(day: IntMatrix, columns: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return the day the last of some structures gets the step, by run; -1 = not within `LONGEST`."""
    if not columns.any():
        return np.zeros(len(day), dtype=np.int64)
    last = day[:, columns].max(axis=1).astype(np.int64)
    return np.where(last == _NEVER, -1, last)


def play_often(
    counts: NDArray[np.int64], workable: Iterable[NDArray[np.bool_]], *, size: int, runs: int, seed: int
) -> IntMatrix:
    """Play the remaining work `runs` times from resampled days.

    `counts` (d,) are the units on each recorded day, not all 0. `workable` says for each worked day to come
    which of the structures (size,), in the order of work, may be worked.
    """
    generator = np.random.default_rng(seed)
    shares = generator.dirichlet(np.full(len(counts), _TRUST), size=runs).cumsum(axis=1)

    def draw() -> NDArray[np.int64]:
        chosen = (shares < generator.random((runs, 1))).sum(axis=1)
        drawn: NDArray[np.int64] = counts[np.minimum(chosen, len(counts) - 1)]
        return drawn

    return _play(draw, workable, size=size, runs=runs)


def play_mean(per_day: float, workable: Iterable[NDArray[np.bool_]], *, size: int) -> IntMatrix:
    """Play the remaining work once at an even rate, units a worked day.

    >>> play_mean(0.5, [np.ones(3, dtype=bool)] * 9, size=3).tolist()
    [[1, 3, 5]]
    """
    steps = _even_steps(per_day)
    return _play(lambda: np.array([next(steps)]), workable, size=size, runs=1)


def _even_steps(per_day: float) -> Iterator[int]:
    done = 0
    for day in range(1, LONGEST + 2):
        # a hair more than exact, so that 16 days of 35/16 are 35
        due = int(per_day * day + 1e-9)
        yield due - done
        done = due


def _play(
    draw: Callable[[], NDArray[np.int64]], workable: Iterable[NDArray[np.bool_]], *, size: int, runs: int
) -> IntMatrix:
    day = np.full((runs, size), _NEVER, dtype=np.int32)
    alive = np.arange(size)
    for today, may in enumerate(islice(workable, LONGEST)):
        if not alive.size:
            break
        _work(day, alive[may[alive]], draw(), today)
        if today % 4 == 3:
            alive = alive[(day[:, alive] == _NEVER).any(axis=0)]
    return day


def _work(day: IntMatrix, columns: NDArray[np.intp], units: NDArray[np.int64], today: int) -> None:
    """Give each run's first open structures the step, as many as the run's units of the day."""
    reach = _REACH
    while True:
        near = columns[:reach]
        is_open = day[:, near] == _NEVER
        place = is_open.cumsum(axis=1, dtype=np.int32)
        enough = len(near) == len(columns) or bool((place[:, -1] >= units).all())
        if enough or not len(near):
            break
        reach *= 4
    taken = is_open & (place <= units[:, None])
    day[:, near] = np.where(taken, np.int32(today), day[:, near])
