"""From when to when: terms by day and by clock, and the words for what is to come."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.term import Term, moment_words

DAY = dt.date(2026, 9, 14)
EVENING = dt.datetime.combine(dt.date(2026, 5, 27), dt.time(18, 30))
OUTAGE = Term(first=DAY, first_time=dt.time(7), last=DAY, last_time=dt.time(15))
DAYS = st.dates(dt.date(2026, 5, 1), dt.date(2026, 5, 20))
CLOCKS = st.none() | st.times().map(lambda at: at.replace(second=0, microsecond=0))


@pytest.mark.parametrize(
    ("clock", "standing"),
    [
        (dt.time(6, 59), "to come"),
        (dt.time(7), "in force"),
        (dt.time(14, 59), "in force"),
        (dt.time(15), "over"),
    ],
)
def test_an_outage_is_in_force_from_its_first_to_its_last_moment(clock: dt.time, standing: str) -> None:
    assert OUTAGE.standing(dt.datetime.combine(DAY, clock)) == standing


def test_a_day_asked_for_as_a_whole_counts_when_any_time_of_it_does() -> None:
    days = [OUTAGE.standing(DAY + dt.timedelta(days=each)) for each in (-1, 0, 1)]
    assert days == ["to come", "in force", "over"]


def test_days_without_a_time_are_whole_days() -> None:
    whole = Term(first=DAY, last=DAY)
    assert whole.standing(dt.datetime.combine(DAY, dt.time(0))) == "in force"
    assert whole.standing(dt.datetime.combine(DAY, dt.time(23, 59))) == "in force"
    assert whole.standing(dt.datetime.combine(DAY + dt.timedelta(days=1), dt.time(0))) == "over"


def test_a_term_without_ends_is_always_in_force() -> None:
    assert Term().standing(DAY) == "in force"
    assert (Term().begins, Term().ends, Term().from_words(DAY)) == ("", "", "")


@settings(max_examples=examples(1000))
@given(
    first=DAYS,
    last=DAYS,
    clocks=st.tuples(CLOCKS, CLOCKS),
    at=st.builds(dt.datetime.combine, DAYS, st.times()),
)
def test_a_term_goes_through_its_standings_once(
    first: dt.date, last: dt.date, clocks: tuple[dt.time | None, dt.time | None], at: dt.datetime
) -> None:
    first, last = sorted((first, last))
    term = Term(first=first, first_time=clocks[0], last=last, last_time=clocks[1])
    begins = dt.datetime.combine(first, clocks[0] or dt.time())
    ends = (
        dt.datetime.combine(last, clocks[1])
        if clocks[1] is not None
        else dt.datetime.combine(last, dt.time()) + dt.timedelta(days=1)
    )
    at = at.replace(second=0, microsecond=0)
    assert term.standing(at) == ("to come" if at < begins else "over" if at >= ends else "in force")


def test_what_is_near_is_said_as_people_do() -> None:
    said = [moment_words(dt.date(2026, 5, day), None, EVENING) for day in (26, 27, 28, 29)]
    assert said == ["yesterday", "today", "tomorrow", "Fri"]
    assert moment_words(dt.date(2026, 6, 2), dt.time(6), EVENING) == "Tue 06:00"
    assert moment_words(dt.date(2026, 6, 3), None, EVENING) == "3 June 2026"


def test_a_hold_to_come_says_until_when_it_is_free() -> None:
    hold = Hold(id="HN-1", structures=("9/2",), from_date=dt.date(2026, 5, 28), reason="nest")
    assert hold.coming_words(EVENING) == "hold HN-1 from tomorrow"
    timed = replace(hold, from_time=dt.time(6))
    assert timed.coming_words(EVENING) == "free until tomorrow 06:00 by the records, then hold HN-1"
    assert timed.coming_words(EVENING, free=False) == "hold HN-1 from tomorrow 06:00"
    monitor = replace(timed, condition="monitor on site")
    assert monitor.coming_words(EVENING) == (
        "free until tomorrow 06:00 by the records, then only with monitor on site (HN-1)"
    )


def test_times_of_a_hold_stand_in_its_sentence() -> None:
    hold = Hold(
        id="HX-1",
        structures=("17/2",),
        activities=("wire",),
        from_date=DAY,
        from_time=dt.time(7),
        to_date=DAY,
        to_time=dt.time(15),
    )
    assert hold.sentence() == "no wire at 17/2 from 14 September 2026 07:00 until 14 September 2026 15:00"


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"from_time": dt.time(7)}, "without its day"),
        (
            {"to_date": DAY, "from_date": DAY, "from_time": dt.time(9), "to_time": dt.time(7)},
            "not after 09:00",
        ),
    ],
)
def test_times_that_cannot_be_are_refused(values: dict[str, dt.date | dt.time], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Hold(id="HX-1", **values)  # type: ignore[arg-type]
