"""Planned against actual: the invented line's plan of fifteen weeks, and plans that lack something."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.schedule.plan import (
    MON_THU,
    Baseline,
    Calendar,
    baselines_on,
    curve,
    day_words,
    planned_by,
    week_of,
)

PLANNED = (4, 11, 20, 30, 40, 50, 59, 68, 77, 86, 95, 104, 112, 118, 121)
ACTUAL = (2, 7, 15, 24, 33, 43, 51, 59)
FIRST = dt.date(2026, 3, 23)
WEEKS = tuple(FIRST + dt.timedelta(weeks=place) for place in range(len(PLANNED)))
PLAN = Baseline(weeks=WEEKS, planned=PLANNED, frozen_on=dt.date(2026, 3, 2))
TODAY = dt.date(2026, 5, 15)


def days_done() -> list[dt.date]:
    """Days of 59 units that make the actual weekly counts: all of a week on its Tuesday."""
    steps = [after - before for before, after in zip((0, *ACTUAL), ACTUAL, strict=False)]
    return [
        week + dt.timedelta(days=1) for week, step in zip(WEEKS, steps, strict=False) for _ in range(step)
    ]


def test_68_were_planned_by_15_may_and_not_the_59_that_are_done() -> None:
    assert planned_by(PLAN, TODAY, calendar=MON_THU) == 68.0


def test_within_a_week_the_plan_runs_with_its_worked_days() -> None:
    """Tuesday 12 May: half of the week's 9 are due, 59 + 4.5; by days of seven it would be 61.6."""
    assert planned_by(PLAN, dt.date(2026, 5, 12), calendar=MON_THU) == 63.5
    assert planned_by(PLAN, dt.date(2026, 5, 10), calendar=MON_THU) == 59.0


def test_before_and_after_the_plan() -> None:
    assert planned_by(PLAN, dt.date(2026, 3, 22), calendar=MON_THU) == 0.0
    assert planned_by(PLAN, dt.date(2027, 1, 1), calendar=MON_THU) == 121.0


def test_curve_gives_both_series_week_by_week() -> None:
    points = curve(days_done(), PLAN, as_of=TODAY)
    assert tuple(point.planned for point in points) == PLANNED
    assert tuple(point.actual for point in points[:8]) == ACTUAL
    assert [point.actual for point in points[8:]] == [None] * 7, "weeks to come have no actual, not 0"


def test_events_before_the_plan_are_shown_without_a_planned_count() -> None:
    early = dt.date(2026, 3, 10)
    points = curve([early, *days_done()], PLAN, as_of=TODAY)
    assert [(point.week, point.planned, point.actual) for point in points[:3]] == [
        (dt.date(2026, 3, 9), None, 1),
        (dt.date(2026, 3, 16), None, 1),
        (FIRST, 4, 3),
    ]


def test_without_a_plan_the_curve_is_the_record_and_without_both_there_is_none() -> None:
    points = curve(days_done(), None, as_of=TODAY)
    assert tuple(point.actual for point in points) == ACTUAL
    assert all(point.planned is None for point in points)
    assert curve([], None, as_of=TODAY) == ()


def test_a_plan_made_anew_stands_beside_the_first() -> None:
    """Re-baselined on 1 June: slip is measured against the first plan until a person says otherwise."""
    later = replace(PLAN, revision="1", frozen_on=dt.date(2026, 6, 1), planned=tuple(n // 2 for n in PLANNED))
    after = dt.date(2026, 6, 2)
    assert baselines_on([PLAN, later], step="set", on=TODAY) == (PLAN,)
    assert baselines_on([PLAN, later], step="set", on=after) == (PLAN, later)
    assert baselines_on([later, PLAN], step="set", on=after) == (later, PLAN), "the first that came"
    assert baselines_on([PLAN, later], step="set", on=after, revision="1") == (later, PLAN)
    assert baselines_on([PLAN, later], step="framed", on=TODAY) == ()
    assert baselines_on([PLAN], step="set", on=dt.date(2026, 3, 1)) == ()


def test_a_plan_of_one_line_is_not_that_of_another() -> None:
    north = replace(PLAN, line="North")
    assert baselines_on([north], step="set", on=TODAY, line="North") == (north,)
    assert baselines_on([PLAN, north], step="set", on=TODAY, line="North") == (north, PLAN)
    assert baselines_on([north], step="set", on=TODAY, line="South") == ()


def test_plan_without_dates_is_kept_and_gives_no_number() -> None:
    plan = Baseline(planned=PLANNED)
    with pytest.raises(ValueError, match="gives no dates"):
        planned_by(plan, TODAY, calendar=MON_THU)
    assert all(point.planned is None for point in curve(days_done(), plan, as_of=TODAY))


@pytest.mark.parametrize(
    ("weeks", "planned", "reason"),
    [
        ((), (), "has no row"),
        (WEEKS[:2], (4,), "2 weeks and 1 counts"),
        ((WEEKS[1], WEEKS[0]), (4, 5), "put the weeks in order"),
        (WEEKS[:2], (5, 4), "give cumulative counts"),
    ],
)
def test_plans_that_run_backwards_are_refused(
    weeks: tuple[dt.date, ...], planned: tuple[int, ...], reason: str
) -> None:
    with pytest.raises(ValueError, match=reason):
        Baseline(weeks=weeks, planned=planned)


@given(
    steps=st.lists(st.integers(0, 9), min_size=1, max_size=12),
    days=st.lists(st.dates(dt.date(2026, 3, 1), dt.date(2026, 7, 1)), max_size=40),
    as_of=st.dates(dt.date(2026, 3, 1), dt.date(2026, 7, 1)),
)
def test_curves_never_fall_and_end_at_what_is_done(
    steps: list[int], days: list[dt.date], as_of: dt.date
) -> None:
    counts = tuple(sum(steps[: place + 1]) for place in range(len(steps)))
    plan = Baseline(weeks=WEEKS[: len(counts)], planned=counts)
    points = curve(days, plan, as_of=as_of)
    for name in ("planned", "actual"):
        values = [value for point in points if (value := getattr(point, name)) is not None]
        assert values == sorted(values)
    actual = [point.actual for point in points if point.actual is not None]
    done = sum(day <= as_of for day in days)
    assert (actual[-1] if actual else 0) == done
    by_day = [planned_by(plan, WEEKS[0] + dt.timedelta(days=k), calendar=MON_THU) for k in range(90)]
    assert by_day == sorted(by_day)
    assert by_day[-1] == counts[-1]


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
    assert next(MON_THU.after(dt.date(2026, 8, 15))) == dt.date(2026, 8, 17)
    assert day_words(dt.date(2026, 8, 17)) == "Mon 17 Aug 2026"


def test_four_weeks_of_tens_have_sixteen_days() -> None:
    assert len(MON_THU.workdays(dt.date(2026, 4, 20), dt.date(2026, 5, 15))) == 16


def test_twenty_eighth_worked_day_after_15_may_is_2_july() -> None:
    assert list(islice(MON_THU.after(dt.date(2026, 5, 15)), 28))[-1] == dt.date(2026, 7, 2)


def test_holidays_are_not_worked() -> None:
    memorial = dt.date(2026, 5, 25)
    calendar = Calendar(weekdays=MON_THU.weekdays, holidays=frozenset({memorial}))
    assert not calendar.works(memorial)
    assert next(calendar.after(dt.date(2026, 5, 22))) == dt.date(2026, 5, 26)


def test_ten_years_of_holidays_are_refused_rather_than_searched_for_ever() -> None:
    first = dt.date(2026, 1, 1)
    every = frozenset(first + dt.timedelta(days=step) for step in range(4000))
    with pytest.raises(ValueError, match="ten years"):
        next(Calendar(weekdays=MON_THU.weekdays, holidays=every).after(first))


@given(calendar=CALENDARS, day=DAYS)
def test_the_next_worked_day_is_worked_and_nothing_between_is(calendar: Calendar, day: dt.date) -> None:
    found = next(calendar.after(day))
    assert calendar.works(found)
    assert calendar.workdays(day + dt.timedelta(days=1), found) == (found,)


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
