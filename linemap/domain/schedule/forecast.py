"""When the rest will be done: a range from the recorded days, the holds, and what the last date hangs on.

Remaining divided by rate ignores that a held structure cannot be worked at any rate. Here crews work in line
order on whatever is not held that day, and the structures whose release comes after all others are done are
named with the hold and the wire section that waits for them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from linemap.domain.crew.hold import Hold
from linemap.domain.schedule.plan import Calendar, week_of
from linemap.domain.schedule.rates import LONGEST, IntMatrix, Rates, last_day, play_mean, play_often

#: The range holds 80 % of the runs: from the 10th to the 90th hundredth.
_QUANTILES = (0.1, 0.5, 0.9)
_RUNS = 500
_CELLS = 200_000
_FEWEST_RUNS = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Unavailable:
    """A number that cannot be given, and why. Never shown as 0."""

    reason: str

    def __str__(self) -> str:
        """Print it for people.

        >>> str(Unavailable(reason="nothing is recorded"))
        'not available: nothing is recorded'
        """
        return f"not available: {self.reason}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One structure that lacks the step. Tasks are in the order of work."""

    number: str
    #: Names of the wire sections it belongs to, as `Section.words`.
    sections: tuple[str, ...] = ()
    #: Holds that stop the step or one before it and that only a release or a date lifts.
    holds: tuple[Hold, ...] = ()
    #: Holds on them that let work go on under a condition.
    conditions: tuple[Hold, ...] = ()

    def holds_on(self, day: date) -> tuple[Hold, ...]:
        """Return the holds in force on a day."""
        return tuple(hold for hold in self.holds if hold.active(day))


@dataclass(frozen=True, slots=True, kw_only=True)
class DateRange:
    """When something will be done: 10, 50 and 90 of 100 runs had it done by these days."""

    early: date
    middle: date
    late: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """Structures whose release comes after all others are done."""

    structures: tuple[str, ...]
    not_before: date
    #: Holds they wait for.
    holds: tuple[Hold, ...]
    #: Sections that wait for them.
    sections: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What the record and the holds say of the rest."""

    step: str
    as_of: date
    rates: Rates
    remaining: tuple[Task, ...]
    #: Of the remaining, those not held now.
    workable: tuple[Task, ...]
    held: tuple[Task, ...]
    #: Of the workable, those that go on only under a condition.
    conditional: tuple[Task, ...]
    #: Of the held, those whose hold has no last day: no date can be given for them.
    undated: tuple[Task, ...]
    #: Monday of the week that remaining divided by rate gives; shown to be compared, not to be promised.
    naive_week: date
    #: Structures that are not late, and when the last of them is done: at the mean rate, and as a range.
    bulk: int
    bulk_about: date | None
    bulk_range: DateRange | None
    #: Structures that hold up the end, the latest last.
    late: tuple[Late, ...]
    #: When everything is done; None while a hold has no last day.
    finish: DateRange | None
    #: When the last structure of each section has the step, by section name; None as `finish`.
    sections: Mapping[str, DateRange | None]


def naive_week(remaining: int, *, per_week: float, as_of: date) -> date:
    """Return the Monday of the week in which remaining / rate would end: what ignores holds and sections.

    >>> naive_week(62, per_week=8.75, as_of=date(2026, 5, 15)).isoformat()
    '2026-07-06'
    """
    weeks = max(int(np.ceil(remaining / per_week - 1e-9)), 1)
    return week_of(as_of) + timedelta(days=7 * weeks)


def forecast(
    tasks: Sequence[Task], rates: Rates, *, step: str, as_of: date, calendar: Calendar, seed: int = 115
) -> Forecast | Unavailable:
    """Forecast when the tasks are done, or say why that cannot be said.

    Tasks are in the order of work, which begins on the first worked day after `as_of`; the step is named in
    the answer. By the `seed` of the draws the same record gives the same range.
    """
    if not tasks:
        return Unavailable(reason="nothing remains")
    if rates.unusable:
        return Unavailable(reason=rates.unusable)
    if len(tasks) > rates.per_day * LONGEST:
        return _too_far()
    runs = _run(tasks, rates, days=tuple(islice(calendar.after(as_of), LONGEST)), seed=seed)
    everything = np.ones(len(runs.tasks), dtype=np.bool_)
    if (last_day(runs.often, everything) < 0).mean() > 1.0 - _QUANTILES[-1]:
        return _too_far()
    late = runs.late()
    bulk = runs.before(late)
    held = tuple(task for task in tasks if task.holds_on(as_of))
    free = tuple(task for task in tasks if not task.holds_on(as_of))
    return Forecast(
        step=step,
        as_of=as_of,
        rates=rates,
        remaining=tuple(tasks),
        workable=free,
        held=held,
        conditional=tuple(task for task in free if any(h.active(as_of) for h in task.conditions)),
        undated=runs.undated,
        naive_week=naive_week(len(tasks), per_week=rates.per_week, as_of=as_of),
        bulk=int(bulk.sum()),
        bulk_about=runs.about(bulk),
        bulk_range=runs.range(bulk),
        late=late,
        finish=None if runs.undated else runs.range(everything),
        sections=runs.by_section(),
    )


def _too_far() -> Unavailable:
    return Unavailable(reason=f"at this rate the end lies more than {LONGEST:,} worked days ahead")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Runs:
    """The remaining work as it was played."""

    #: Tasks that a day ahead is open for, the columns of what was played.
    tasks: tuple[Task, ...]
    #: Tasks whose hold has no last day.
    undated: tuple[Task, ...]
    #: First worked day, by index, on which nothing holds each task.
    released: NDArray[np.int64]
    often: IntMatrix
    once: IntMatrix
    days: tuple[date, ...]

    def about(self, columns: NDArray[np.bool_]) -> date | None:
        """Return the day some tasks end at the mean rate."""
        index = int(last_day(self.once, columns)[0]) if columns.any() else -1
        return self.days[index] if index >= 0 else None

    def range(self, columns: NDArray[np.bool_]) -> DateRange | None:
        """Return the range of days some tasks end."""
        if not columns.any():
            return None
        ends = last_day(self.often, columns)
        ends = np.where(ends < 0, len(self.days) - 1, ends)
        marks = np.quantile(ends, _QUANTILES, method="inverted_cdf").astype(int).tolist()
        early, middle, late = (self.days[mark] for mark in marks)
        return DateRange(early=early, middle=middle, late=late)

    def late(self) -> tuple[Late, ...]:
        """Return the groups released after all others are done in nine of ten runs, the latest last."""
        found: list[Late] = []
        for index in sorted(set(self.released.tolist()) - {0}, reverse=True):
            others = self.released < index
            ends = last_day(self.often, others)
            if not others.any() or np.quantile(ends, _QUANTILES[-1], method="inverted_cdf") >= index:
                break
            group = [
                task for task, day in zip(self.tasks, self.released.tolist(), strict=True) if day == index
            ]
            found.insert(0, _late_group(group, not_before=self.days[index], held_on=self.days[index - 1]))
        return tuple(found)

    def before(self, late: Sequence[Late]) -> NDArray[np.bool_]:
        """Return which tasks are released before the late ones."""
        first = min((self.days.index(group.not_before) for group in late), default=len(self.days))
        return self.released < first

    def by_section(self) -> dict[str, DateRange | None]:
        """Return the range of each section; None where a task of it has no day."""
        names = dict.fromkeys(name for task in (*self.tasks, *self.undated) for name in task.sections)
        waiting = {name for task in self.undated for name in task.sections}
        return {
            name: None
            if name in waiting
            else self.range(np.array([name in task.sections for task in self.tasks], dtype=np.bool_))
            for name in names
        }


def _run(tasks: Sequence[Task], rates: Rates, *, days: tuple[date, ...], seed: int) -> _Runs:
    release = [_release(task, days) for task in tasks]
    dated = tuple(task for task, index in zip(tasks, release, strict=True) if index is not None)
    return _Runs(
        tasks=dated,
        undated=tuple(task for task, index in zip(tasks, release, strict=True) if index is None),
        released=np.array([index for index in release if index is not None], dtype=np.int64),
        often=play_often(
            np.asarray(rates.counts, dtype=np.int64),
            _workable(dated, days),
            size=len(dated),
            runs=min(_RUNS, max(_CELLS // max(len(dated), 1), _FEWEST_RUNS)),
            seed=seed,
        ),
        once=play_mean(rates.per_day, _workable(dated, days), size=len(dated)),
        days=days,
    )


def _release(task: Task, days: Sequence[date]) -> int | None:
    """Return the first worked day on which nothing holds the task; None = no day ahead."""
    if not task.holds:
        return 0
    return next((index for index, day in enumerate(days) if not task.holds_on(day)), None)


def _workable(tasks: Sequence[Task], days: Sequence[date]) -> Iterator[NDArray[np.bool_]]:
    held = [(column, task) for column, task in enumerate(tasks) if task.holds]
    for day in days:
        may = np.ones(len(tasks), dtype=np.bool_)
        for column, task in held:
            may[column] = not task.holds_on(day)
        yield may


def _late_group(group: Sequence[Task], *, not_before: date, held_on: date) -> Late:
    holds = {hold.id: hold for task in group for hold in task.holds_on(held_on)}
    sections = dict.fromkeys(name for task in group for name in task.sections)
    return Late(
        structures=tuple(task.number for task in group),
        not_before=not_before,
        holds=tuple(holds.values()),
        sections=tuple(sections),
    )
