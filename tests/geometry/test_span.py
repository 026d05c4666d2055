"""Spans, sections and ruling spans."""

from __future__ import annotations

import math

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from linemap.geometry.span import ruling_spans, sections, spans, weight_spans, wind_spans

Floats = NDArray[np.float64]
NAN = math.nan


def test_spans_of_two_lines() -> None:
    back, ahead = spans([0.0, 3.0, 3.0, 10.0, 10.0], [0.0, 4.0, 16.0, 0.0, 8.0], [7, 7, 7, 2, 2])
    np.testing.assert_array_equal(back, [NAN, 5.0, 12.0, NAN, 8.0])
    np.testing.assert_array_equal(ahead, [5.0, 12.0, NAN, 8.0, NAN])


def test_ground_spans_divide_by_the_factor() -> None:
    _, one = spans([0.0, 999.217], [0.0, 0.0], [0, 0], combined_factor=0.999217)
    assert one[0] == pytest.approx(1000.0, abs=1e-9)
    _, two = spans([0.0, 999.5], [0.0, 0.0], [0, 0], combined_factor=[0.999, 1.0])
    assert two[0] == pytest.approx(1000.0, abs=1e-9)


def test_no_structures_and_one_structure() -> None:
    for count in (0, 1):
        back, ahead = spans([0.0] * count, [0.0] * count, [0] * count)
        assert back.size == ahead.size == count
        assert np.isnan(back).all()
        assert np.isnan(ahead).all()
        assert sections([True] * count, [0] * count).tolist() == [0] * count
        assert np.isnan(ruling_spans(ahead, [True] * count, [0] * count)).all()
        assert np.isnan(weight_spans(back, ahead, [0.0] * count, 4000.0)).all()


def test_lengths_that_do_not_match() -> None:
    with pytest.raises(ValueError, match="2 line numbers for 3 structures"):
        spans([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], [0, 0])
    with pytest.raises(ValueError, match="3 eastings and 2 northings"):
        spans([0.0, 1.0, 2.0], [0.0, 1.0], [0, 0, 0])


def test_wind_span_is_half_of_what_exists() -> None:
    wind = wind_spans([NAN, 800.0, 600.0, NAN], [800.0, 600.0, NAN, NAN])
    np.testing.assert_array_equal(wind, [400.0, 700.0, 300.0, NAN])


def test_sections_are_counted_in_each_line() -> None:
    breaks = [True, False, True, True, False, False, True, False]
    route = [0, 0, 0, 0, 0, 1, 1, 1]
    assert sections(breaks, route).tolist() == [1, 1, 2, 3, 3, 1, 2, 2]


def test_a_break_at_the_last_structure_starts_no_section() -> None:
    assert sections([False, False, True], [0, 0, 0]).tolist() == [1, 1, 1]


def test_ruling_spans_by_section() -> None:
    ahead = [300.0, 400.0, 600.0, 800.0, 700.0, NAN]
    found = ruling_spans(ahead, [True, False, True, False, False, True], [0] * 6)
    np.testing.assert_allclose(found, [360.555, 360.555, 714.143, 714.143, 714.143, 714.143], atol=5e-4)


def test_an_unknown_span_makes_only_its_section_unknown() -> None:
    found = ruling_spans([300.0, NAN, 500.0, NAN], [True, False, True, True], [0] * 4)
    np.testing.assert_array_equal(found, [NAN, NAN, 500.0, 500.0])


def test_a_section_without_length_has_no_ruling_span() -> None:
    assert np.isnan(ruling_spans([0.0, NAN], [True, True], [0, 0])).all()


def test_lines_do_not_share_a_ruling_span() -> None:
    found = ruling_spans([300.0, NAN, 500.0, NAN], [False] * 4, [0, 0, 1, 1])
    np.testing.assert_allclose(found, [300.0, 300.0, 500.0, 500.0])


def test_weight_span_leans_to_the_lower_side() -> None:
    back, ahead = spans([0.0, 800.0, 1600.0], [0.0] * 3, [0] * 3)
    low, high, low_again = weight_spans(back, ahead, [100.0, 180.0, 100.0], 4000.0)
    assert low == low_again < 400.0
    assert high > 800.0
    uplift = weight_spans(back, ahead, [300.0, 100.0, 300.0], 4000.0)[1]
    assert uplift < 0.0


def test_unknown_constant_leaves_both_neighbours_unknown() -> None:
    back, ahead = spans([0.0, 800.0, 1600.0, 2400.0], [0.0] * 4, [0] * 4)
    found = weight_spans(back, ahead, [0.0] * 4, [4000.0, NAN, 4000.0, NAN])
    np.testing.assert_allclose(found, [400.0, NAN, NAN, 400.0])


def test_a_constant_that_is_no_length() -> None:
    with pytest.raises(ValueError, match="catenary constant -1 is not above zero"):
        weight_spans([NAN, 1.0], [1.0, NAN], [0.0, 0.0], [4000.0, -1.0])


def test_coincident_structures_have_no_weight_between_them() -> None:
    assert weight_spans([NAN, 0.0], [0.0, NAN], [0.0, 5.0], 4000.0).tolist() == [0.0, 0.0]


def test_a_slack_span_overflows_nothing() -> None:
    found = weight_spans([NAN, 800.0], [800.0, NAN], [0.0, 5.0], 0.1)
    np.testing.assert_allclose(found, [400.0, 400.0])


chains = st.lists(st.tuples(st.floats(100.0, 2000.0), st.floats(-150.0, 150.0)), min_size=2, max_size=12)


def _columns(chain: list[tuple[float, float]]) -> tuple[Floats, Floats, Floats]:
    """Back spans, ahead spans and elevations of structures along one straight line."""
    length, height = np.array(chain).T
    east = np.concatenate(([0.0], np.cumsum(length[1:])))
    back, ahead = spans(east, np.zeros_like(east), np.zeros(east.size, dtype=int))
    return back, ahead, height


@given(chains, st.floats(1500.0, 9000.0))
@settings(max_examples=examples(60))
def test_weight_spans_share_out_the_line(chain: list[tuple[float, float]], constant: float) -> None:
    back, ahead, height = _columns(chain)
    weight = weight_spans(back, ahead, height, constant)
    assert weight.sum() == pytest.approx(np.nansum(ahead), rel=1e-9)
    assert wind_spans(back, ahead).sum() == pytest.approx(np.nansum(ahead), rel=1e-9)


@given(chains, st.floats(1500.0, 9000.0), st.floats(-100.0, 8000.0))
@settings(max_examples=examples(60))
def test_on_level_ground_weight_is_wind(
    chain: list[tuple[float, float]], constant: float, level: float
) -> None:
    back, ahead, height = _columns(chain)
    weight = weight_spans(back, ahead, np.full_like(height, level), constant)
    np.testing.assert_allclose(weight, wind_spans(back, ahead), atol=1e-9)


@given(chains, st.floats(1500.0, 9000.0))
@settings(max_examples=examples(60))
def test_a_line_read_backwards_has_the_same_weight_spans(
    chain: list[tuple[float, float]], constant: float
) -> None:
    back, ahead, height = _columns(chain)
    forward = weight_spans(back, ahead, height, constant)
    backward = weight_spans(ahead[::-1], back[::-1], height[::-1], constant)
    np.testing.assert_allclose(forward, backward[::-1], atol=1e-7)


@given(st.floats(100.0, 2000.0), st.floats(-150.0, 150.0), st.floats(1500.0, 9000.0))
@settings(max_examples=examples(60))
def test_the_catenary_through_the_low_point_joins_both_supports(
    span: float, rise: float, constant: float
) -> None:
    """y = c·cosh(x/c) measured from the low point must differ by the rise between the supports."""
    part = weight_spans([NAN, span], [span, NAN], [0.0, rise], constant)
    lift = constant * (np.cosh(part[1] / constant) - np.cosh(part[0] / constant))
    assert lift == pytest.approx(rise, abs=1e-6)


@given(chains, st.data())
@settings(max_examples=examples(60))
def test_ruling_span_lies_between_the_spans_of_its_section(
    chain: list[tuple[float, float]], data: st.DataObject
) -> None:
    _, ahead, _ = _columns(chain)
    size = ahead.size
    breaks = data.draw(st.lists(st.booleans(), min_size=size, max_size=size))
    route = np.zeros(size, dtype=int)
    ruling, number = ruling_spans(ahead, breaks, route), sections(breaks, route)
    for section in set(number.tolist()):
        inside = ahead[:-1][number[:-1] == section]
        here = ruling[number == section]
        assert np.ptp(here) == 0.0
        assert inside.min() * (1 - 1e-12) <= here[0] <= inside.max() * (1 + 1e-12)
        assert here[0] >= inside.mean() * (1 - 1e-12)


@given(chains, chains, st.floats(1500.0, 9000.0))
@settings(max_examples=examples(40))
def test_lines_together_are_lines_apart(
    one: list[tuple[float, float]], other: list[tuple[float, float]], constant: float
) -> None:
    parts = [_columns(one), _columns(other)]
    back, ahead, height = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    together = weight_spans(back, ahead, height, constant)
    apart = np.concatenate([weight_spans(*part, constant) for part in parts])
    np.testing.assert_array_equal(together, apart)
    route = np.repeat([0, 1], [len(one), len(other)])
    breaks = np.arange(ahead.size) % 3 == 0
    np.testing.assert_allclose(
        ruling_spans(ahead, breaks, route),
        np.concatenate(
            [
                ruling_spans(ahead[route == line], breaks[route == line], route[route == line])
                for line in (0, 1)
            ]
        ),
        rtol=1e-12,
    )
