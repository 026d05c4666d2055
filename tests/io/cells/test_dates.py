from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, timezone

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.io.cells.dates import at_noon, parse_clock, parse_moments

DAY = date(2026, 5, 13)


@pytest.mark.parametrize(
    "text",
    [
        "2026-05-13", "5/13/2026", "13.5.2026", "13/5/26", "13 May 2026", "13-May-26", "May 13, 2026",
        "Wed 13 May 2026", "20260513",
    ],
)  # fmt: skip
def test_written_dates(text: str) -> None:
    assert parse_moments([text]).values == [DAY]


@pytest.mark.parametrize(
    "text", ["2026-05-13 14:05", "2026-05-13T14:05:00", "5/13/2026 2:05 PM", "13 May 2026 14:05"]
)
def test_written_moments(text: str) -> None:
    assert parse_moments([text]).values == [datetime(2026, 5, 13, 14, 5)]  # noqa: DTZ001


def test_an_offset_is_kept() -> None:
    moment = parse_moments(["2026-05-13T14:05:00-06:00"]).values[0]
    assert moment == datetime(2026, 5, 13, 14, 5, tzinfo=timezone(timedelta(hours=-6)))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("5/6/2026", "both ways"),
        ("5/13", "not a date"),
        ("tomorrow", "not a date"),
        ("31 Feb 2026", "no such day"),
        ("31/31/2026", "no such day"),
        ("13 Mai 2026 x", "not a date"),
    ],
)
def test_doubtful_dates_are_never_guessed(text: str, words: str) -> None:
    assert words in parse_moments([text]).faults[0]


def test_one_plain_cell_tells_the_order_of_the_column() -> None:
    assert parse_moments(["5/6/2026", "13/5/2026"]).values[0] == date(2026, 6, 5)
    assert parse_moments(["5/6/2026", "5/13/2026"]).values[0] == date(2026, 5, 6)
    both = parse_moments(["5/6/2026", "13/5/2026", "5/13/2026"])
    assert sorted(both.faults) == [0, 1, 2] or 0 in both.faults
    assert parse_moments(["5/6/2026"], order="dmy").values == [date(2026, 6, 5)]
    assert parse_moments(["6/6/2026"]).values == [date(2026, 6, 6)]


def test_numbers_are_no_dates_and_date_cells_are() -> None:
    moments = parse_moments([46155.0, DAY, datetime(2026, 5, 13, 7, tzinfo=UTC), None, ""])
    assert moments.values == [None, DAY, datetime(2026, 5, 13, 7, tzinfo=UTC), None, None]
    assert sorted(moments.faults) == [0]


@pytest.mark.parametrize("text", ["25:00", "2 pm", "13:00 pm", "noon", ""])
def test_wrong_times_of_day(text: str) -> None:
    with pytest.raises(ValueError, match=r"time of day|hour"):
        parse_clock(text)


def test_noon_stands_for_a_missing_time() -> None:
    assert at_noon(DAY, clock=None, zone=UTC).hour == 12
    assert at_noon(DAY, clock=time(7, 30), zone=UTC).minute == 30
    moment = datetime(2026, 5, 13, 9, 15)  # noqa: DTZ001
    assert at_noon(moment, clock=None, zone=UTC).isoformat() == "2026-05-13T09:15:00+00:00"


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)))
@settings(max_examples=examples(60))
def test_unambiguous_forms_read_back(day: date) -> None:
    forms = [day.isoformat(), f"{day:%d %b %Y}", f"{day:%B %d, %Y}", f"{day:%d-%b-%y}"]
    assert parse_moments(forms).values == [day] * 4
    assert parse_moments([f"{day:%m/%d/%Y}"], order="mdy").values == [day]


@pytest.mark.parametrize("cell", [0, 0.0, False, 45000.0])
def test_no_number_is_a_blank_date(cell: float) -> None:
    assert parse_moments([cell]).faults == {0: "not a date; format the cell as a date"}


def test_blank_cells_are_no_faults() -> None:
    assert parse_moments([None, "", " \u00a0"]).values == [None, None, None]
    assert parse_moments(["  2026-05-13 ", "2026-05-13\u00a008:00Z"]).values == [
        date(2026, 5, 13),
        datetime(2026, 5, 13, 8, tzinfo=UTC),
    ]
