"""How many units a day the record shows: the window a forecast stands on."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from linemap.domain.schedule.workdays import Calendar

__all__ = ["Rates", "recent_rates"]

#: Fewer worked days on record than this say nothing of a range. Common practice, no source.
FEWEST_DAYS = 4


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


def recent_rates(done: Iterable[date], *, as_of: date, calendar: Calendar, weeks: int = 4) -> Rates:
    """Return the units of each worked day of the last weeks.

    Parameters
    ----------
    done : iterable of date
        Day of each unit, each once.
    as_of : date
        Last day of the window.
    calendar : Calendar
        Units of a day that is not worked count to the worked day before it, or to the first of the window.
    weeks : int
        Length of the window; it does not begin before the first unit on record.

    >>> from linemap.domain.schedule.workdays import MON_THU
    >>> rates = recent_rates([date(2026, 5, 11)] * 4 + [date(2026, 5, 15)], as_of=date(2026, 5, 15),
    ...                      calendar=MON_THU)
    >>> rates.counts, rates.per_week
    ((4, 0, 0, 1), 5.0)
    """
    past = sorted(day for day in done if day <= as_of)
    if not past:
        return Rates(days=(), counts=(), days_a_week=len(calendar.weekdays))
    begin = max(as_of - timedelta(days=7 * weeks - 1), past[0])
    days = calendar.workdays(begin, as_of) or (begin,)
    counts = [0] * len(days)
    for day in past:
        if day >= begin:
            counts[max(bisect_right(days, day) - 1, 0)] += 1
    return Rates(days=days, counts=tuple(counts), days_a_week=len(calendar.weekdays))
