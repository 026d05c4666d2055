"""Working days, read from words and counted by hand on the calendar of spring 2026."""

from __future__ import annotations

import datetime as dt
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.schedule.workdays import MON_THU, Calendar, day_words, days_between, week_of

DAYS = st.dates(dt.date(2020, 1, 1), dt.date(2035, 12, 31))
CALENDARS = st.builds(
    Calendar,
    weekdays=st.frozensets(st.integers(1, 7), min_size=1),
    holidays=st.frozensets(st.dates(dt.date(2026, 1, 1), dt.date(2026, 12, 31)), max_size=20),
)


@pytest.mark.parametrize(
    ("text", "days", "words"),
    [
        ("Monday to Thursday", {1, 2, 3, 4}, "Mon-Thu"),
        ("Mon-Fri", {1, 2, 3, 4, 5}, "Mon-Fri"),
        ("mon, tue and Sat", {1, 2, 6}, "Mon, Tue, Sat"),
        ("Thu thru Sun", {4, 5, 6, 7}, "Thu-Sun"),
        ("Sat to Mon", {6, 7, 1}, "Mon, Sat, Sun"),
        ("Wed", {3}, "Wed"),
    ],
)
def test_work_weeks_are_read_as_people_write_them(text: str, days: set[int], words: str) -> None:
    calendar = Calendar.from_text(text)
    assert calendar.weekdays == days
    assert calendar.words == words


@pytest.mark.parametrize("text", ["tens", "", "Mon-Tue-Wed", "1-4"])
def test_words_that_name_no_day_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"day of the week|range of days"):
        Calendar.from_text(text)


def test_a_week_without_a_worked_day_is_refused() -> None:
    with pytest.raises(ValueError, match="names no days"):
        Calendar(weekdays=frozenset())
    with pytest.raises(ValueError, match="names no days"):
        Calendar(weekdays=frozenset({0, 1}))


def test_saturday_hold_ends_on_a_monday() -> None:
    """A buffer to Sat 15 August 2026 is over on Sun 16; the first worked day is Mon 17."""
    assert MON_THU.next_workday(dt.date(2026, 8, 16)) == dt.date(2026, 8, 17)
    assert day_words(dt.date(2026, 8, 17)) == "Mon 17 Aug 2026"


def test_four_weeks_of_tens_have_sixteen_days() -> None:
    assert len(MON_THU.workdays(dt.date(2026, 4, 20), dt.date(2026, 5, 15))) == 16


def test_twenty_eighth_worked_day_after_15_may_is_2_july() -> None:
    assert list(islice(MON_THU.after(dt.date(2026, 5, 15)), 28))[-1] == dt.date(2026, 7, 2)


def test_holidays_are_not_worked() -> None:
    memorial = dt.date(2026, 5, 25)
    calendar = Calendar(weekdays=MON_THU.weekdays, holidays=frozenset({memorial}))
    assert not calendar.works(memorial)
    assert calendar.next_workday(memorial) == dt.date(2026, 5, 26)


def test_ten_years_of_holidays_are_refused_rather_than_searched_for_ever() -> None:
    first = dt.date(2026, 1, 1)
    every = frozenset(days_between(first, first + dt.timedelta(days=4000)))
    with pytest.raises(ValueError, match="ten years"):
        Calendar(weekdays=MON_THU.weekdays, holidays=every).next_workday(first)


@given(calendar=CALENDARS, day=DAYS)
def test_next_workday_is_worked_and_nothing_between_is(calendar: Calendar, day: dt.date) -> None:
    found = calendar.next_workday(day)
    assert calendar.works(found)
    assert not any(calendar.works(other) for other in days_between(day, found - dt.timedelta(days=1)))


@given(calendar=CALENDARS, first=DAYS, length=st.integers(0, 60))
def test_workdays_of_two_halves_are_those_of_the_whole(
    calendar: Calendar, first: dt.date, length: int
) -> None:
    last = first + dt.timedelta(days=length)
    middle = first + dt.timedelta(days=length // 2)
    halves = calendar.workdays(first, middle) + calendar.workdays(middle + dt.timedelta(days=1), last)
    assert halves == calendar.workdays(first, last)


@given(day=DAYS)
def test_week_begins_on_its_monday(day: dt.date) -> None:
    monday = week_of(day)
    assert monday.isoweekday() == 1
    assert dt.timedelta() <= day - monday < dt.timedelta(days=7)
