"""Forecasts: the naive answer, the right one, what the last date hangs on, and when nothing can be said."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import islice

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew.hold import Hold
from linemap.domain.schedule.forecast import Forecast, Task, Unavailable, forecast, naive_week
from linemap.domain.schedule.plan import MON_THU, Calendar
from linemap.domain.schedule.rates import Rates, play_mean, play_often, recent_rates

TODAY = dt.date(2026, 5, 15)
#: Structures set from Monday to Thursday in the four weeks to 15 May.
COUNTS = (3, 3, 3, 0, 3, 3, 3, 1, 3, 3, 2, 0, 4, 3, 1, 0)
DAYS = MON_THU.workdays(dt.date(2026, 4, 20), TODAY)
RATES = Rates(days=DAYS, counts=COUNTS, days_a_week=4)
NEST = Hold(id="HN-1", structures=("14/2",), to_date=dt.date(2026, 8, 15), restricted=True)
SECTION = "section 3 (13/2-16/4)"


def tasks(count: int, *, held: dict[int, Hold] | None = None) -> list[Task]:
    holds = held or {}
    return [
        Task(number=f"1/{k}", sections=(SECTION,), holds=(holds[k],) if k in holds else ())
        for k in range(count)
    ]


def the_demo() -> Forecast:
    """62 remain, eight of them held, the last to 15 August."""
    ends = [(29, 5), (29, 5), (22, 5), (31, 5), (31, 5), (31, 5), (12, 6)]
    held = {k: Hold(id=f"H-{k}", to_date=dt.date(2026, month, day)) for k, (day, month) in enumerate(ends)}
    answer = forecast(tasks(62, held={**held, 12: NEST}), RATES, step="set", as_of=TODAY, calendar=MON_THU)
    assert isinstance(answer, Forecast)
    return answer


def test_rate_of_the_last_four_weeks() -> None:
    done = [day for day, count in zip(DAYS, COUNTS, strict=True) for _ in range(count)]
    earlier = [dt.date(2026, 4, 2)] * 24
    rates = recent_rates([*earlier, *done], as_of=TODAY, calendar=MON_THU)
    assert rates.counts == COUNTS
    assert (rates.total, rates.per_week) == (35, 8.75)


def test_naive_answer_is_the_week_of_6_july_and_wrong() -> None:
    assert naive_week(62, per_week=8.75, as_of=TODAY) == dt.date(2026, 7, 6)
    answer = the_demo()
    assert answer.naive_week == dt.date(2026, 7, 6)
    assert answer.finish is not None
    assert answer.finish.early > answer.naive_week + dt.timedelta(days=30)


def test_all_but_one_about_2_july_and_the_last_not_before_17_august() -> None:
    answer = the_demo()
    assert (len(answer.remaining), len(answer.workable), len(answer.held)) == (62, 54, 8)
    assert (answer.bulk, answer.bulk_about) == (61, dt.date(2026, 7, 2))
    assert answer.bulk_range is not None
    assert answer.bulk_range.early < dt.date(2026, 7, 2) < answer.bulk_range.late
    (late,) = answer.late
    assert late.structures == ("1/12",)
    assert late.not_before == dt.date(2026, 8, 17)
    assert [hold.id for hold in late.holds] == ["HN-1"]
    assert late.sections == (SECTION,)


def test_same_record_gives_the_same_range() -> None:
    assert the_demo() == the_demo()


def test_a_hold_that_ends_while_others_are_worked_holds_nothing_up() -> None:
    soon = Hold(id="H", to_date=dt.date(2026, 5, 22))
    answer = forecast(tasks(62, held={5: soon}), RATES, step="set", as_of=TODAY, calendar=MON_THU)
    assert isinstance(answer, Forecast)
    assert answer.late == ()
    assert answer.bulk == 62


def test_a_hold_without_a_last_day_gives_no_end() -> None:
    never = Hold(id="HQ-1")
    answer = forecast(tasks(10, held={5: never}), RATES, step="set", as_of=TODAY, calendar=MON_THU)
    assert isinstance(answer, Forecast)
    assert [task.number for task in answer.undated] == ["1/5"]
    assert answer.finish is None
    assert answer.sections == {SECTION: None}
    assert answer.bulk == 9
    assert answer.bulk_about is not None


def test_everything_held_without_a_last_day() -> None:
    answer = forecast(
        tasks(2, held={0: Hold(id="H"), 1: Hold(id="H")}), RATES, step="set", as_of=TODAY, calendar=MON_THU
    )
    assert isinstance(answer, Forecast)
    assert (answer.bulk, answer.bulk_about, answer.bulk_range, answer.finish) == (0, None, None, None)


def test_a_hold_that_begins_later_stops_what_is_not_done_by_then() -> None:
    """One structure, held from the first worked day on: today's free day is over before work begins."""
    later = Hold(id="H", from_date=dt.date(2026, 5, 18), to_date=dt.date(2026, 6, 30))
    answer = forecast(tasks(1, held={0: later}), RATES, step="set", as_of=TODAY, calendar=MON_THU)
    assert isinstance(answer, Forecast)
    assert len(answer.workable) == 1
    assert answer.finish is not None
    assert answer.finish.early >= dt.date(2026, 7, 1)


def test_a_condition_lets_work_go_on_and_is_told() -> None:
    monitor = Hold(id="HC-1", condition="monitor named")
    task = Task(number="1/1", conditions=(monitor,))
    answer = forecast([task], RATES, step="set", as_of=TODAY, calendar=MON_THU)
    assert isinstance(answer, Forecast)
    assert (answer.workable, answer.conditional, answer.held) == ((task,), (task,), ())


def test_nothing_remains_is_not_a_date() -> None:
    answer = forecast([], RATES, step="set", as_of=TODAY, calendar=MON_THU)
    assert str(answer) == "not available: nothing remains"


@pytest.mark.parametrize(
    ("rates", "reason"),
    [
        (Rates(days=(), counts=(), days_a_week=4), "nothing is recorded"),
        (Rates(days=DAYS, counts=(0,) * 16, days_a_week=4), "nothing is recorded"),
        (Rates(days=DAYS[:3], counts=(3, 3, 3), days_a_week=4), "only 3 worked days"),
    ],
)
def test_a_record_that_tells_nothing_gives_no_date(rates: Rates, reason: str) -> None:
    answer = forecast(tasks(3), rates, step="set", as_of=TODAY, calendar=MON_THU)
    assert isinstance(answer, Unavailable)
    assert reason in answer.reason


def test_an_end_beyond_all_sense_is_not_given() -> None:
    slow = Rates(days=DAYS, counts=(1,) + (0,) * 15, days_a_week=4)
    answer = forecast(tasks(400), slow, step="set", as_of=TODAY, calendar=MON_THU)
    assert isinstance(answer, Unavailable)
    assert "more than 1,500 worked days ahead" in answer.reason


def test_window_does_not_begin_before_the_record() -> None:
    rates = recent_rates([dt.date(2026, 5, 12)], as_of=TODAY, calendar=MON_THU)
    assert rates.days == MON_THU.workdays(dt.date(2026, 5, 12), TODAY)
    assert recent_rates([], as_of=TODAY, calendar=MON_THU).unusable
    assert recent_rates([dt.date(2026, 5, 20)], as_of=TODAY, calendar=MON_THU).unusable


def test_work_on_a_day_off_counts_to_the_worked_day_before() -> None:
    friday = recent_rates([dt.date(2026, 5, 11), TODAY, TODAY], as_of=TODAY, calendar=MON_THU)
    assert friday.counts == (1, 0, 0, 2)
    saturday = dt.date(2026, 5, 16)
    assert recent_rates([saturday], as_of=saturday, calendar=MON_THU).counts == (1,)


def test_one_even_day_after_another_gives_one_date() -> None:
    """Two a day, ten to do: the fifth worked day, and no range around it."""
    even = Rates(days=DAYS[:4], counts=(2, 2, 2, 2), days_a_week=4)
    answer = forecast(tasks(10), even, step="set", as_of=TODAY, calendar=MON_THU)
    assert isinstance(answer, Forecast)
    fifth = list(islice(MON_THU.after(TODAY), 5))[-1]
    assert answer.bulk_about == fifth
    assert answer.finish is not None
    assert answer.finish.early == answer.finish.middle == answer.finish.late == fifth


def test_far_structures_are_reached_in_order() -> None:
    """More in one day than the crews' next ones that are looked at first."""
    always = [np.ones(1000, dtype=bool)] * 3
    day = play_often(np.array([400, 400]), always, size=1000, runs=3, seed=1)
    assert day[:, [0, 399, 400, 799, 800, 999]].tolist() == [[0, 0, 1, 1, 2, 2]] * 3
    assert play_mean(400.0, always, size=1000)[0].tolist() == day[0].tolist()


def test_holidays_move_the_end() -> None:
    off = Calendar(weekdays=MON_THU.weekdays, holidays=frozenset({dt.date(2026, 5, 18)}))
    even = Rates(days=DAYS[:4], counts=(1, 1, 1, 1), days_a_week=4)
    answer = forecast(tasks(1), even, step="set", as_of=TODAY, calendar=off)
    assert isinstance(answer, Forecast)
    assert answer.bulk_about == dt.date(2026, 5, 19)


#: A thinner record may have no end within the horizon, which is said instead of a date.
COUNT_LISTS = st.lists(st.integers(0, 5), min_size=4, max_size=16).filter(lambda each: sum(each) >= len(each))
HELD = st.dictionaries(st.integers(0, 19), st.dates(dt.date(2026, 5, 16), dt.date(2026, 9, 30)), max_size=5)


def test_one_structure_in_four_days_has_no_end_in_sight() -> None:
    rates = Rates(days=DAYS[:4], counts=(0, 0, 0, 1), days_a_week=4)
    answer = forecast(tasks(20), rates, step="set", as_of=TODAY, calendar=MON_THU, seed=0)
    assert str(answer) == "not available: at this rate the end lies more than 1,500 worked days ahead"


@given(counts=COUNT_LISTS, ends=HELD, seed=st.integers(0, 99))
@settings(max_examples=examples(12))
def test_laws_of_every_forecast(counts: list[int], ends: dict[int, dt.date], seed: int) -> None:
    rates = Rates(days=DAYS[: len(counts)], counts=tuple(counts), days_a_week=4)
    held = {k: Hold(id=f"H-{k}", to_date=end) for k, end in ends.items()}
    answer = forecast(tasks(20, held=held), rates, step="set", as_of=TODAY, calendar=MON_THU, seed=seed)
    assert isinstance(answer, Forecast)
    assert answer.finish is not None
    assert answer.finish.early <= answer.finish.middle <= answer.finish.late
    assert len(answer.workable) + len(answer.held) == 20
    assert answer.bulk + sum(len(late.structures) for late in answer.late) == 20
    assert answer.sections[SECTION] == answer.finish
    for day in (answer.finish.early, answer.finish.middle, answer.finish.late):
        assert MON_THU.works(day)
    if ends:
        assert answer.finish.early > max(ends.values()), "nothing is set while it is held"
    free = forecast(tasks(20), rates, step="set", as_of=TODAY, calendar=MON_THU, seed=seed)
    assert isinstance(free, Forecast)
    assert free.finish is not None
    assert free.finish.early <= answer.finish.early, "holds never bring the end forward"


def test_range_holds_the_end_about_four_times_in_five() -> None:
    """Forty jobs of independent days: between 65 and 95 % of the ends lie within the 80 % range."""
    generator = np.random.default_rng(3)
    days = list(islice(MON_THU.after(TODAY), 400))
    within = 0
    for job in range(40):
        counts = generator.poisson(generator.uniform(1.0, 4.0), size=416)
        rates = replace(RATES, counts=tuple(int(count) for count in counts[:16]))
        answer = forecast(tasks(60), rates, step="set", as_of=TODAY, calendar=MON_THU, seed=job)
        assert isinstance(answer, Forecast)
        assert answer.finish is not None
        end = days[int(np.searchsorted(counts[16:].cumsum(), 60))]
        within += answer.finish.early <= end <= answer.finish.late
    assert 0.65 * 40 <= within <= 0.95 * 40
