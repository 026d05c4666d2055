"""Structure numbers turned into dates: restored where one reading fits, asked about where two do."""

from __future__ import annotations

from datetime import date, datetime

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.io.cells.dates import DateOrder
from linemap.io.cells.table import Cell
from linemap.io.design.date_numbers import Restored, date_readings, restore_numbers
from linemap.io.design.structure_numbers import mile_candidates, read_numbers
from linemap.units import LengthUnit


def restored(
    cells: list[Cell],
    *,
    stations: list[float] | None = None,
    order: DateOrder | None = None,
    unique: bool = True,
) -> Restored:
    column = read_numbers(cells)
    found = {index: date_readings(cells[index]) for index in column.faults}
    choices = {
        index: list(found[index].options) if index in found else [number]  # type: ignore[union-attr]
        for index, number in enumerate(column.numbers)
    }
    miles = {} if stations is None else mile_candidates(np.array(stations), choices, unit=LengthUnit.FOOT)
    lines = ["N"] * len(cells)
    return restore_numbers(cells, column, lines=lines, miles=miles, order=order, unique=unique)


@pytest.mark.parametrize(
    ("cell", "options"),
    [
        ("2-Jan", ("1/2", "2/1")),
        ("Jan-02", ("1/2", "2/1")),
        ("5 Oct 2026", ("10/5", "5/10")),
        ("13-Feb", ("2/13", "13/2")),
        (datetime(2026, 10, 5), ("10/5", "5/10")),  # noqa: DTZ001
        (date(2026, 3, 3), ("3/3",)),
        # 12/32 is no day of any month: it becomes the first of December 1932
        (date(1932, 12, 1), ("12/32",)),
        ("Dec-32", ("12/32",)),
        ("2026-01-02 00:00:00", ("1/2", "2/1")),
        ("1/2/2026", ("1/2", "2/1")),
        ("45293", ("1/2", "2/1")),
    ],
)
def test_a_date_says_what_it_may_have_been(cell: Cell, options: tuple[str, ...]) -> None:
    readings = date_readings(cell)
    assert readings is not None
    assert readings.options == options


@pytest.mark.parametrize("cell", ["bay", "12/3A", "47", "2-Foo", "", None])
def test_other_cells_are_no_dates(cell: Cell) -> None:
    assert date_readings(cell) is None


def mangled(numbers: list[str], order: DateOrder) -> list[Cell]:
    """Turn numbers into dates as a spreadsheet does that puts months or days first."""
    cells: list[Cell] = []
    for number in numbers:
        first, second = map(int, number.split("/"))
        month, day = (first, second) if order == "mdy" else (second, first)
        try:
            cells.append(date(2026, month, day))
        except ValueError:
            cells.append(number)
    return cells


@pytest.mark.parametrize("order", ["mdy", "dmy"])
def test_a_sheet_of_dates_is_restored_by_its_stations(order: DateOrder) -> None:
    numbers = ["1/1", "1/2", "1/3", "1/4", "1/5", "1/6", "3/4", "10/5"]
    stations = [0.0, 900.0, 1800.0, 2700.0, 3600.0, 4500.0, 14_000.0, 51_000.0]
    found = restored(mangled(numbers, order), stations=stations)
    assert found.numbers == numbers
    assert sorted(found.notes) == list(range(8))
    assert all(words.startswith("restored from date as ") for words in found.notes.values())
    assert not found.doubts


def test_neighbours_decide_where_no_station_is_written() -> None:
    cells: list[Cell] = ["2/6", date(2026, 3, 1), date(2026, 3, 2), "3/3A", date(2026, 3, 4), "3/5"]
    assert restored(cells).numbers == ["2/6", "3/1", "3/2", "3/3A", "3/4", "3/5"]


def test_a_descending_list_is_in_order_too() -> None:
    cells: list[Cell] = ["3/5", date(2026, 3, 4), "3/3"]
    assert restored(cells).numbers[1] == "3/4"


def test_a_list_in_no_order_tells_nothing_by_its_neighbours() -> None:
    found = restored(["9/1", "2/1", date(2026, 3, 4), "8/1", "1/1"])
    assert list(found.doubts) == [2]


def test_two_readings_that_fit_are_asked_about() -> None:
    reason, remedy = restored([date(2026, 3, 4), "10/1"]).doubts[0]
    assert "may be 3/4 or 4/3" in reason
    assert "--date-order mdy (3/4) or dmy (4/3)" in remedy


@pytest.mark.parametrize(("order", "number"), [("mdy", "3/4"), ("dmy", "4/3")])
def test_a_person_may_say_the_order(order: DateOrder, number: str) -> None:
    found = restored([date(2026, 3, 4), "10/1"], order=order)
    assert found.numbers[0] == number
    assert "was said" in found.notes[0]


def test_an_order_said_against_the_mile_is_not_believed() -> None:
    cells: list[Cell] = ["3/3", date(2026, 3, 4), "3/5"]
    found = restored(cells, stations=[11_500.0, 12_500.0, 13_500.0], order="dmy")
    assert "as 4/3 it does not lie in mile 3" in found.doubts[1][0]


def test_a_reading_that_is_taken_is_not_meant() -> None:
    assert restored(["4/3", date(2026, 3, 4)]).numbers[1] == "3/4"


def test_schedules_repeat_their_numbers() -> None:
    cells: list[Cell] = ["1/1", date(2026, 1, 2), date(2026, 1, 2), "1/3"]
    assert restored(cells, unique=False).numbers == ["1/1", "1/2", "1/2", "1/3"]


@settings(max_examples=examples(60))
@given(
    spans=st.lists(st.integers(700, 1500), min_size=1, max_size=120),
    order=st.sampled_from(["mdy", "dmy"]),
    start=st.integers(0, 200_000),
    shift=st.integers(-400, 400),
)
def test_what_is_restored_is_never_wrong(spans: list[int], order: DateOrder, start: int, shift: int) -> None:
    """Numbers by true mile, stations shifted as by an equation: restored as it was, or asked about."""
    true = np.cumsum([start, *spans])
    numbers, count = [], {}  # type: ignore[var-annotated]
    for distance in true.tolist():
        mile = 1 + distance // 5280
        count[mile] = count.get(mile, 0) + 1
        numbers.append(f"{mile}/{count[mile]}")
    cells = mangled(numbers, order)
    found = restored(cells, stations=(true + shift).tolist())
    for index, number in enumerate(numbers):
        assert found.numbers[index] == number or index in found.doubts
    if start == 0 and len(spans) > 12:
        assert not found.doubts
