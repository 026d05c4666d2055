from datetime import UTC, datetime

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.number import same_number
from linemap.io.design.structure_numbers import (
    distance_along,
    looks_like_date,
    mile_candidates,
    parse_set,
    read_numbers,
    station_values,
)
from linemap.units import LengthUnit


@pytest.mark.parametrize(
    "text",
    ["2-Jan", "02-Jan-26", "Jan-02", "Jan 2", "5 Oct 2026", "1/2/2026", "2026-01-02", "2026-01-02 00:00:00"],
)
def test_dates_made_by_spreadsheets_are_known(text: str) -> None:
    assert looks_like_date(text)
    assert "turned into a date" in read_numbers([text, "1/3"]).faults[0]


@pytest.mark.parametrize("text", ["1/2", "12/3A", "9-06", "12/3.5", "47", "STR 9/6", "Bay 2", "T-14"])
def test_numbers_are_no_dates(text: str) -> None:
    assert not looks_like_date(text)
    assert read_numbers([text]).faults == {}


def test_a_date_cell_is_named_as_a_spreadsheet_shows_it() -> None:
    faults = read_numbers([datetime(2026, 1, 2, tzinfo=UTC)]).faults
    assert faults[0].startswith("2-Jan looks like a structure number")


def test_day_counts_are_known_among_numbers_with_a_slash() -> None:
    assert sorted(read_numbers(["1/1", 45294.0, "45294"]).faults) == [1, 2]
    assert read_numbers([45294.0, 45295.0]).faults == {}


def test_numbers_come_in_one_spelling() -> None:
    column = read_numbers([" str 9-06", 47.0, "12/3a", None, "TOTAL 121", "Bay  2"])
    assert column.numbers == ["9/6", "47", "12/3A", "", "TOTAL 121", "Bay 2"]
    assert column.unusual == {4, 5}


@pytest.mark.parametrize(
    ("text", "numbers", "first", "last"),
    [
        ("9/2", ("9/2",), "", ""),
        ("7/3, 7/4", ("7/3", "7/4"), "", ""),
        ("7/3+7/4", ("7/3", "7/4"), "", ""),
        ("14/1 and 14/3", ("14/1", "14/3"), "", ""),
        ("14/1; 14/3 & 14/4", ("14/1", "14/3", "14/4"), "", ""),
        ("22/2 thru 22/5", (), "22/2", "22/5"),
        ("11/4\u201311/6", (), "11/4", "11/6"),
        ("11/4-11/6", (), "11/4", "11/6"),
        ("17/10-18/12", (), "17/10", "18/12"),
        ("11/4 - 11/6", (), "11/4", "11/6"),
        ("4 to 7", (), "4", "7"),
        ("12-3", ("12/3",), "", ""),
    ],
)
def test_cells_name_structures_one_by_one_or_as_a_range(
    text: str, numbers: tuple[str, ...], first: str, last: str
) -> None:
    named = parse_set(text)
    assert (named.numbers, named.first, named.last) == (numbers, first, last)


@pytest.mark.parametrize("text", ["2-Jan", "the bay", "7/3, 11/4-11/6", "1/2 or so"])
def test_other_texts_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"structure number|mixes"):
        parse_set(text)


@given(st.lists(st.tuples(st.integers(1, 300), st.integers(1, 40)), min_size=1, max_size=6))
@settings(max_examples=examples(50))
def test_lists_written_with_commas_read_back(numbers: list[tuple[int, int]]) -> None:
    written = tuple(f"{mile}/{sequence}" for mile, sequence in numbers)
    assert parse_set(", ".join(written)).numbers == written


@given(st.from_regex(r"[0-9]{1,6}[/-][0-9]{1,7}[A-C]?", fullmatch=True))
def test_a_number_reads_alike_in_a_column_and_in_a_set(text: str) -> None:
    known = same_number(text)
    column = read_numbers([text])
    assert column.numbers == [known]
    assert column.unusual or parse_set(text).numbers == (known,)


FOOT = LengthUnit.FOOT


def test_miles_are_counted_as_the_undamaged_numbers_are() -> None:
    distance = np.array([0.0, 3000.0, 8000.0, 13_000.0])
    from_one = mile_candidates(distance, {0: ["1/1"], 1: ["1/3", "3/1"], 2: ["2/2"], 3: ["3/1"]}, unit=FOOT)
    from_nought = mile_candidates(distance, {0: ["0/1"], 1: ["0/3"], 2: ["1/2"], 3: ["2/1"]}, unit=FOOT)
    assert from_one[1] == {1}
    assert from_nought[1] == {0}


def test_kilometres_are_known_on_metric_lines() -> None:
    distance = np.arange(12) * 400.0
    choices = {index: [f"{1 + int(at // 1000)}/{index}"] for index, at in enumerate(distance.tolist())}
    found = mile_candidates(distance, choices, unit=LengthUnit.METRE)
    assert found[7] == {3}


def test_a_row_near_the_end_of_a_mile_may_lie_in_either() -> None:
    found = mile_candidates(np.array([0.0, 5200.0]), {0: ["1/1"], 1: ["1/6", "6/1"]}, unit=FOOT)
    assert found[1] == {1, 2}


def test_a_list_counted_otherwise_tells_nothing() -> None:
    choices = {index: [f"{40 - index}/1"] for index in range(10)}
    assert mile_candidates(np.arange(10) * 5280.0, choices, unit=FOOT) == {}


def test_rows_without_a_station_or_a_mile_tell_nothing() -> None:
    found = mile_candidates(np.array([np.nan, 100.0, -5.0]), {0: ["1/1"], 1: ["47"], 2: ["1/2"]}, unit=FOOT)
    assert found == {}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("118+40", 11840.0),
        (" 118 + 40", 11840.0),
        ("11840", 11840.0),
        ("118+40.00 BK", 11840.0),
        ("see", np.nan),
    ],
)
def test_stations_of_every_kind(text: str, value: float) -> None:
    assert station_values([text.strip()], unit=FOOT)[0] == pytest.approx(value, nan_ok=True)


def test_metric_stations_have_three_digits() -> None:
    assert station_values(["1+234.560", "12+34"], unit=LengthUnit.METRE)[0] == pytest.approx(1234.56)


def test_the_distance_passes_over_rows_without_coordinates() -> None:
    along = distance_along(np.array([0.0, np.nan, 3.0, 6.0]), np.array([0.0, 1.0, 4.0, 8.0]))
    assert along.tolist() == pytest.approx([0.0, np.nan, 5.0, 10.0], nan_ok=True)
    assert np.isnan(distance_along(np.array([np.nan]), np.array([1.0]))).all()
