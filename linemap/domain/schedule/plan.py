"""The job's working days, and its plan: how many structures were to have a step by the end of each week.

Which days of the week are worked is a setting of the job; Mon-Thu tens are common practice, no source. A plan
is frozen when it is agreed. One made anew is a baseline of its own beside the old one; nothing that was
measured against the old one moves.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Annotated, Self

from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import LINE

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_WORD = re.compile(r"(mon|tue|wed|thu|fri|sat|sun)[a-z]*")
_RANGE = re.compile(r"\s*(?:to|thru|through|-|–)\s*")
#: Time without work after which none is looked for any more.
_LONGEST_REST = timedelta(days=3660)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Which days are worked.

    Raises
    ------
    ValueError
        If no day of the week is worked, or a day is not 1 (Monday) to 7.
    """

    #: Days of the week that are worked, 1 = Monday.
    weekdays: frozenset[int]
    #: Days that are not worked although their day of the week is.
    holidays: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if not self.weekdays or not self.weekdays <= frozenset(range(1, 8)):
            raise ValueError(f"the work week {sorted(self.weekdays)} names no days from 1 (Monday) to 7")

    @classmethod
    def from_text(cls, text: str, *, holidays: frozenset[date] = frozenset()) -> Self:
        """Read a work week: "Monday to Thursday", "Mon-Fri", "Mon, Tue, Sat".

        Raises
        ------
        ValueError
            If a word is no day of the week.

        >>> sorted(Calendar.from_text("Monday to Thursday").weekdays)
        [1, 2, 3, 4]
        """
        days: set[int] = set()
        for part in re.split(r"[,;+/]|\band\b", text.casefold()):
            ends = [_weekday(word) for word in _RANGE.split(part.strip())]
            span = (ends[-1] - ends[0]) % 7 if len(ends) == 2 else 0
            if len(ends) > 2:
                raise ValueError(f"{part.strip()!r} is no range of days; write Mon-Thu")
            days |= {(ends[0] - 1 + step) % 7 + 1 for step in range(span + 1)}
        return cls(weekdays=frozenset(days), holidays=holidays)

    @property
    def words(self) -> str:
        """The worked days of the week, "Mon-Thu" when they follow each other.

        >>> MON_THU.words
        'Mon-Thu'
        """
        days = sorted(self.weekdays)
        if len(days) > 2 and days[-1] - days[0] == len(days) - 1:
            return f"{_DAYS[days[0] - 1]}-{_DAYS[days[-1] - 1]}"
        return ", ".join(_DAYS[day - 1] for day in days)

    def works(self, day: date) -> bool:
        """Say whether a day is worked.

        >>> MON_THU.works(date(2026, 5, 14)), MON_THU.works(date(2026, 5, 15))
        (True, False)
        """
        return day.isoweekday() in self.weekdays and day not in self.holidays

    def after(self, day: date) -> Iterator[date]:
        """Give the worked days after a day, without end.

        Raises
        ------
        ValueError
            If holidays fill ten years.

        >>> next(MON_THU.after(date(2026, 8, 15))).isoformat()
        '2026-08-17'
        """
        last = day
        while day - last <= _LONGEST_REST:
            day += timedelta(days=1)
            if self.works(day):
                last = day
                yield day
        raise ValueError(f"no day is worked in ten years from {last.isoformat()}; correct the holidays")

    def workdays(self, first: date, last: date) -> tuple[date, ...]:
        """Return the worked days from the first to the last day, both included.

        >>> len(MON_THU.workdays(date(2026, 4, 20), date(2026, 5, 15)))
        16
        """
        days = (first + timedelta(days=step) for step in range((last - first).days + 1))
        return tuple(filter(self.works, days))


def _weekday(word: str) -> int:
    match = _WORD.fullmatch(word.strip().rstrip("."))
    if match is None:
        raise ValueError(f"{word.strip()!r} is no day of the week; write it like Mon-Thu")
    return _DAYS.index(match[1].capitalize()) + 1


def week_of(day: date) -> date:
    """Return the Monday of a day's week.

    >>> week_of(date(2026, 5, 15)).isoformat()
    '2026-05-11'
    """
    return day - timedelta(days=day.isoweekday() - 1)


def day_words(day: date) -> str:
    """Print a day as people on a job say it, the same in every locale.

    >>> day_words(date(2026, 8, 17))
    'Mon 17 Aug 2026'
    """
    return f"{day:%a} {day.day} {day:%b} {day.year}"


#: Four tens, Monday to Thursday. Common practice, no source.
MON_THU = Calendar(weekdays=frozenset({1, 2, 3, 4}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """One frozen plan of one step.

    Raises
    ------
    ValueError
        If it has no row, some rows have a week and others none, or a week or count runs backwards.
    """

    #: Line name, "" = the whole job.
    line: Annotated[str, LINE] = ""
    #: Code of the planned step.
    step: Annotated[str, Cell("step activity task work")] = "set"
    #: Revision of the plan, "0" for the first.
    revision: Annotated[str, Cell("revision rev baseline baselinerevision planrevision")] = "0"
    #: Day it was agreed; None = not given.
    frozen_on: Annotated[
        date | None, Cell("frozenon frozen baselinedate agreedon freezedate", label="day of freezing")
    ] = None
    #: Monday of each week, ascending; () = the plan gives no dates.
    weeks: Annotated[tuple[date, ...], Cell()] = ()
    #: Structures that have the step by the end of each week, never falling.
    planned: Annotated[tuple[int, ...], Cell()]

    def __post_init__(self) -> None:
        if not self.planned:
            raise ValueError(f"{self.words} has no row; give it one for each week")
        if self.weeks and len(self.weeks) != len(self.planned):
            raise ValueError(f"{self.words} has {len(self.weeks)} weeks and {len(self.planned)} counts")
        for back, ahead in pairwise(self.weeks):
            if ahead <= back:
                raise ValueError(f"{self.words} has the week {ahead} after {back}; put the weeks in order")
        for before, after in zip((0, *self.planned), self.planned, strict=False):
            if after < before:
                raise ValueError(f"{self.words} falls from {before} to {after}; give cumulative counts")

    @property
    def words(self) -> str:
        """Name the plan with its step, its revision and the day it was frozen.

        >>> Baseline(planned=(4,), frozen_on=date(2026, 3, 2)).words
        'baseline plan of the step "set", revision 0, frozen 2026-03-02'
        """
        return f'baseline plan of the step "{self.step}", {self.revision_words}'

    @property
    def revision_words(self) -> str:
        """Name the revision and the day it was frozen, where the step is said already.

        >>> Baseline(planned=(4,), revision="2").revision_words
        'revision 2, day of freezing not given'
        """
        when = f"frozen {self.frozen_on.isoformat()}" if self.frozen_on else "day of freezing not given"
        return f"revision {self.revision}, {when}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """One week of the curve of planned against actual."""

    #: Monday of the week.
    week: date
    #: Planned by the end of the week; None = outside the plan.
    planned: int | None
    #: Done by the end of the week, or by the day of the report; None = the week has not begun by then.
    actual: int | None


def baselines_on(
    baselines: Iterable[Baseline], *, step: str, on: date, line: str = "", revision: str = ""
) -> tuple[Baseline, ...]:
    """Return the baselines of a step that were frozen by a day: the one that slip is measured against first.

    `baselines` are in the order they came. Slip is measured against the declared `revision`, without one
    against the first that came: a plan that is made anew stands beside it and takes no slip away. Plans of
    the line go before those of the whole job; one without a day counts as frozen.
    """
    known = [
        baseline
        for baseline in baselines
        if baseline.step == step
        and baseline.line in {"", line}
        and (baseline.frozen_on is None or baseline.frozen_on <= on)
    ]
    return tuple(sorted(known, key=lambda each: (each.revision != revision, each.line != line)))


def planned_by(baseline: Baseline, day: date, *, calendar: Calendar) -> float:
    """Return how many were planned by the end of a day: within a week by its worked days.

    Raises
    ------
    ValueError
        If the plan gives no dates.

    >>> plan = Baseline(weeks=(date(2026, 5, 4), date(2026, 5, 11)), planned=(59, 68))
    >>> [planned_by(plan, date(2026, 5, day), calendar=MON_THU) for day in (3, 10, 12, 15)]
    [0.0, 59.0, 63.5, 68.0]
    """
    if not baseline.weeks:
        raise ValueError(f"{baseline.words} gives no dates; load it with the week of each count")
    before = 0
    for week, planned in zip(baseline.weeks, baseline.planned, strict=True):
        if day < week:
            return float(before)
        if week_of(day) == week_of(week):
            return before + (planned - before) * _share_of_week(week_of(week), day, calendar)
        before = planned
    return float(before)


def _share_of_week(monday: date, day: date, calendar: Calendar) -> float:
    worked = calendar.workdays(monday, monday + timedelta(days=6))
    return sum(one <= day for one in worked) / len(worked) if worked else 1.0


def curve(days: Iterable[date], baseline: Baseline | None, *, as_of: date) -> tuple[CurvePoint, ...]:
    """Return planned and actual counts week by week, from the first to the last week of either.

    `days` has the day of each unit that is done, each once; those after `as_of` are not counted, and weeks
    that begin after it have no actual. A baseline without dates counts as none.

    >>> plan = Baseline(weeks=(date(2026, 3, 23),), planned=(4,))
    >>> curve([date(2026, 3, 25), date(2026, 3, 26)], plan, as_of=date(2026, 3, 27))[0].actual
    2
    """
    done = sorted(day for day in days if day <= as_of)
    planned = dict(zip(map(week_of, baseline.weeks), baseline.planned, strict=False)) if baseline else {}
    weeks = sorted({*planned, *map(week_of, done[:1]), *([week_of(as_of)] if done else [])})
    if not weeks:
        return ()
    points: list[CurvePoint] = []
    week, latest = weeks[0], None
    while week <= weeks[-1]:
        latest = planned.get(week, latest)
        shown = latest if planned and min(planned) <= week <= max(planned) else None
        ends = week + timedelta(days=6)
        points.append(
            CurvePoint(
                week=week,
                planned=shown,
                actual=bisect_right(done, ends) if week <= as_of else None,
            )
        )
        week += timedelta(days=7)
    return tuple(points)
