import contextlib
import math

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.io.cells.numbers import decimal_mark, parse_number, parse_numbers, parse_yes
from linemap.io.cells.table import Cell


@pytest.mark.parametrize(
    ("text", "mark", "value", "unit"),
    [
        ("900499.4", ".", 900499.4, ""),
        ("900,499.4", ".", 900499.4, ""),
        ("2,250,000", ".", 2250000.0, ""),
        ("900499,4", ",", 900499.4, ""),
        ("900.499,4", ",", 900499.4, ""),
        ("900,499", ".", 900499.0, ""),
        ("900,499", ",", 900.499, ""),
        ("900.499", ",", 900499.0, ""),
        ("0,499", ".", 0.499, ""),
        ("900 499.4", ".", 900499.4, ""),
        ("900\u00a0499,4", ",", 900499.4, ""),
        (" 75' ", ".", 75.0, "'"),
        ("22.9m", ".", 22.9, "m"),
        ("12,5 m", ",", 12.5, "m"),
        ("\u221212.5", ".", -12.5, ""),
        ("1.5e3", ".", 1500.0, ""),
        ("46.7\u00b0", ".", 46.7, "\u00b0"),
        (".5", ".", 0.5, ""),
    ],
)
def test_reads_numbers_as_people_write_them(text: str, mark: str, value: float, unit: str) -> None:
    number = parse_number(text, mark=mark)
    assert number.value == pytest.approx(value, rel=1e-15)
    assert number.unit == unit


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("nan", "not a finite number"),
        ("-INF", "not a finite number"),
        ("1e400", "not a finite number"),
        ("#REF!", "spreadsheet error"),
        ("#N/A", "spreadsheet error"),
        ("12+34.56", "not a number"),
        ("1_000", "not a number"),
        ("12 13", "more than one number"),
        ("9,00,499.4", "thousands marks"),
        ("", "not a number"),
        ("9" * 400, "not a number"),
    ],
)
def test_refuses_what_is_no_finite_number(text: str, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        parse_number(text)


def test_a_doubtful_thousands_mark_is_refused_with_both_readings() -> None:
    with pytest.raises(ValueError, match=r"may be 900\.499 or 900499"):
        parse_number("900,499", mark="?")


@pytest.mark.parametrize(
    ("cells", "doubtful", "mark"),
    [
        (["900499,4", "2250948,7", "1073"], ".", ","),
        (["900,499.4", "12"], "?", "."),
        (["900,499", "12"], "?", "?"),
        (["900,499", "12"], ".", "."),
        (["1.234,5"], ".", ","),
        (["1,5", "2.5"], ".", "?"),
        (["moved 12,5 ft", None, 3.5], ".", "."),
        (["12.50"], "?", "."),
    ],
)
def test_decimal_mark_is_judged_from_cells_that_read_one_way(
    cells: list[str | float | None], doubtful: str, mark: str
) -> None:
    assert decimal_mark(cells, doubtful=doubtful) == mark


@given(st.floats(-1e12, 1e12, allow_nan=False).map(lambda value: round(value, 3)))
@settings(max_examples=examples(60))
def test_every_written_form_of_a_number_reads_the_same(value: float) -> None:
    english = f"{value:,.4f}"
    german = english.translate(str.maketrans(",.", ".,"))
    spaced = english.replace(",", " ")
    assert parse_number(english).value == pytest.approx(value, abs=1e-4)
    assert parse_number(german, mark=",").value == pytest.approx(value, abs=1e-4)
    assert parse_number(spaced).value == pytest.approx(value, abs=1e-4)


@given(st.text(max_size=20))
@settings(max_examples=examples(150))
def test_any_text_is_a_finite_number_or_a_value_error(text: str) -> None:
    for mark in ".,?":
        with contextlib.suppress(ValueError):
            assert math.isfinite(parse_number(text, mark=mark).value)


def test_a_column_keeps_blanks_faults_and_units_apart() -> None:
    numbers = parse_numbers(["1.5", "", None, "75'", "nan", True, 7, "  ", float("inf"), "1_0"])
    np.testing.assert_array_equal(np.isnan(numbers.values), [0, 1, 1, 0, 1, 1, 0, 1, 1, 1])
    assert numbers.units == {3: "'"}
    assert sorted(numbers.faults) == [4, 5, 8, 9]


def test_a_decimal_comma_column_never_reads_its_points_as_decimals() -> None:
    assert parse_numbers(["12.500", "1,5"], mark=",").values.tolist() == [12500.0, 1.5]


@given(
    st.lists(
        st.sampled_from(
            ["1", "2.5", "-.5", "+3", "", " 7", "1-2", ".", "12,5", "nan", "9" * 400, "1\n2", None, 4]
        )
    )
)
def test_a_column_reads_as_its_cells_do_one_by_one(cells: list[str | float | None]) -> None:
    column = parse_numbers(cells)
    singly = [parse_numbers([cell, "x"]) for cell in cells]
    np.testing.assert_array_equal(column.values, [one.values[0] for one in singly])
    assert column.faults == {index: one.faults[0] for index, one in enumerate(singly) if 0 in one.faults}


@pytest.mark.parametrize(
    ("cell", "answer"),
    [("YES", True), ("x", True), (True, True), (1.0, True),
     ("", False), (None, False), ("No", False), (0.0, False)],
)  # fmt: skip
def test_yes_and_no(cell: Cell, answer: bool) -> None:
    assert parse_yes(cell) is answer


@pytest.mark.parametrize("cell", ["maybe", "2", "ask the engineer"])
def test_anything_else_is_neither(cell: Cell) -> None:
    assert parse_yes(cell) is None
