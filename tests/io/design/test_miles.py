"""In which line mile a row lies: how the list counts shows in the numbers that were left alone."""

from __future__ import annotations

import numpy as np
import pytest

from linemap.io.design.miles import distance_along, mile_candidates, station_values
from linemap.units import LengthUnit

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
