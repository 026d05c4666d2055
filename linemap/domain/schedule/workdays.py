"""The job's working days: which days of the week are worked, which days are not, and how days are printed.

Mon-Thu tens are common practice, no source; the work week is a setting of the job.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Self

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_WORD = re.compile(r"(mon|tue|wed|thu|fri|sat|sun)[a-z]*")
_RANGE = re.compile(r"\s*(?:to|thru|through|-|–)\s*")


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

    def next_workday(self, day: date) -> date:
        """Return the first worked day on or after a day.

        Raises
        ------
        ValueError
            If holidays fill the ten years that follow.

        >>> MON_THU.next_workday(date(2026, 8, 16)).isoformat()
        '2026-08-17'
        """
        for step in range(3660):
            if self.works(day + timedelta(days=step)):
                return day + timedelta(days=step)
        raise ValueError(f"no day is worked in ten years from {day.isoformat()}; correct the holidays")

    def after(self, day: date) -> Iterator[date]:
        """Give the worked days after a day, without end."""
        while True:
            day = self.next_workday(day + timedelta(days=1))
            yield day

    def workdays(self, first: date, last: date) -> tuple[date, ...]:
        """Return the worked days from the first to the last day, both included.

        >>> len(MON_THU.workdays(date(2026, 4, 20), date(2026, 5, 15)))
        16
        """
        return tuple(day for day in days_between(first, last) if self.works(day))


def _weekday(word: str) -> int:
    match = _WORD.fullmatch(word.strip().rstrip("."))
    if match is None:
        raise ValueError(f"{word.strip()!r} is no day of the week; write it like Mon-Thu")
    return _DAYS.index(match[1].capitalize()) + 1


def days_between(first: date, last: date) -> Iterator[date]:
    """Give every day from the first to the last, both included; nothing when the last comes first.

    >>> len(list(days_between(date(2026, 5, 11), date(2026, 5, 17))))
    7
    """
    for step in range((last - first).days + 1):
        yield first + timedelta(days=step)


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
    return f"{_DAYS[day.isoweekday() - 1]} {day.day} {_MONTHS[day.month - 1]} {day.year}"


#: Four tens, Monday to Thursday. Common practice, no source.
MON_THU = Calendar(weekdays=frozenset({1, 2, 3, 4}))
