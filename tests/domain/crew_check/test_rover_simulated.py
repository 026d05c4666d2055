"""A small form of the simulated checks by rover: wrong passes and fails are rare, and what makes them."""

from __future__ import annotations

import pytest
from rover import ROWS, Row, rates

COUNT = 4_000


def found(words: str) -> dict[str, float]:
    (row,) = [each for each in ROWS if each.words == words]
    return rates(row, COUNT)


GOOD = (
    "a receiver good to 0.02 m in its words (GST)",
    "base off 0.3 ft, stakes occupied",
    "the same, 10 s at a place",
    "one stake in 50 kicked 0.5 ft, two stakes",
)


@pytest.mark.parametrize("words", GOOD)
def test_passes_are_right_and_most_good_frames_pass(words: str) -> None:
    rate = found(words)
    assert rate["wrong passes, % of passes"] <= 0.3
    assert rate["of bad"] <= 1.0
    assert rate["wrong fails, % of all"] <= 0.1
    assert rate["good passed"] >= 85.0


def test_a_base_that_is_off_fails_good_frames_where_no_stake_is_occupied() -> None:
    assert found("base off 0.3 ft, stakes not occupied")["wrong fails, % of all"] > 20.0


def test_the_root_of_n_would_pass_bad_frames() -> None:
    believed = found("noise 0.065 ft, by the root of n, no stakes")
    honest = found("noise 0.065 ft: the worst that is taken (0.03 m)")
    assert believed["of bad"] > 2.0 > 1.0 > honest["of bad"]


@pytest.mark.parametrize(
    "words", ["good to 0.15 m (68 %), were it taken", "a phone good to 15 ft, were it taken"]
)
def test_a_coarse_position_passes_nothing_even_if_it_were_taken(words: str) -> None:
    rate = found(words)
    assert rate["good passed"] == rate["wrong fails, % of all"] == 0.0


def test_rows_are_named_once() -> None:
    assert len({each.words for each in ROWS}) == len(ROWS) > 10
    assert all(isinstance(each, Row) for each in ROWS)
