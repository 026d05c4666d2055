"""From when to when a hold or a ticket is in force, by calendar and clock of the job's zone, and in words.

Phones date what they took along by the same rule (`js/field/when.js`); a test holds the two together.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Literal

from linemap.domain.finding.phrase import date_words

#: How a term stands at a moment.
Standing = Literal["to come", "in force", "over"]
#: What begins or ended within so many days is told beside what is in force. Common practice, no source.
NEAR_DAYS = 7
#: Signs of a day in ISO form.
_DAY = 10
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """A first and a last day, both included, each with the time of day where the list gives one.

    With times it runs from the first moment on, and is over at the last one.
    """

    first: date | None = None
    first_time: time | None = None
    last: date | None = None
    last_time: time | None = None

    def standing(self, at: date) -> Standing:
        """Say how it stands on a day, at any time of it, or at a moment (a `datetime` by the job's clock).

        >>> day = date(2026, 9, 14)
        >>> outage = Term(first=day, first_time=time(7), last=day, last_time=time(15))
        >>> [outage.standing(datetime(2026, 9, 14, hour)) for hour in (6, 7, 15)]
        ['to come', 'in force', 'over']
        >>> outage.standing(day)
        'in force'
        """
        now = _iso(day_of(at), at.time() if isinstance(at, datetime) else None)
        if (begins := self.begins) and _cut(begins, now) > _cut(now, begins):
            return "to come"
        if not (ends := self.ends):
            return "in force"
        timed = min(len(ends), len(now)) > _DAY
        over = now >= ends if timed else now[:_DAY] > ends[:_DAY]
        return "over" if over else "in force"

    @property
    def begins(self) -> str:
        """The first day in ISO form, with its time where it has one; "" = not given."""
        return _iso(self.first, self.first_time)

    @property
    def ends(self) -> str:
        """The last day in ISO form, with its time where it has one; "" = open."""
        return _iso(self.last, self.last_time)

    def is_near(self, at: date) -> bool:
        """Say whether it begins within `NEAR_DAYS` of a day or moment."""
        return self.first is not None and (self.first - day_of(at)).days <= NEAR_DAYS

    def from_words(self, at: date) -> str:
        """Say when it begins, as `moment_words` does."""
        return "" if self.first is None else moment_words(self.first, self.first_time, at)


def day_of(at: date) -> date:
    """Return the day of a moment; a day is its own."""
    return at.date() if isinstance(at, datetime) else at


def moment_words(day: date, clock: time | None, at: date) -> str:
    """Say a day, with its time where it has one, as people at a day or moment do.

    >>> now = datetime(2026, 6, 2, 18)
    >>> [moment_words(date(2026, 6, each), None, now) for each in (1, 2, 3, 4, 9)]
    ['yesterday', 'today', 'tomorrow', 'Thu', '9 June 2026']
    >>> moment_words(date(2026, 6, 4), time(6), now)
    'Thu 06:00'
    """
    apart = (day - day_of(at)).days
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}.get(apart)
    words = near or (_WEEKDAYS[day.weekday()] if 1 < apart < NEAR_DAYS else date_words(day))
    return words if clock is None else f"{words} {clock:%H:%M}"


def dated(day: date, clock: time | None) -> str:
    """Say a day in full, with its time where it has one.

    >>> dated(date(2026, 9, 14), time(7))
    '14 September 2026 07:00'
    """
    return date_words(day) if clock is None else f"{date_words(day)} {clock:%H:%M}"


def _cut(text: str, other: str) -> str:
    """Return a moment in ISO form as finely as the other one is given."""
    return text[: len(other)]


def _iso(day: date | None, clock: time | None) -> str:
    if day is None:
        return ""
    return day.isoformat() if clock is None else f"{day.isoformat()}T{clock:%H:%M}"
