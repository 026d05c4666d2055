"""Weight spans against printed sags: where a sag is printed, the low point of half the span is known."""

from __future__ import annotations

import math

import pytest

from linemap.geometry.span import weight_spans

#: Catenary constant, distance of the low point from the higher support, its height above it, and how far the
#: printed digits let the low point lie.
PRINTED = [
    # T. Gonen, Electric Power Transmission System Engineering, 2nd ed., example 13.1: c 1600 ft, span 500 ft,
    # sag 19.6 ft
    (1600.0, 250.0, 19.6, 0.35),
    # S. Chapra, Numerical Methods (2006), problem 6.17: w 10, y0 5, y(50) = 15; T = 1266.3244
    (126.63244, 50.0, 10.0, 1e-4),
]


@pytest.mark.parametrize(("constant", "run", "sag", "near"), PRINTED)
def test_the_low_point_lies_at_the_lower_support(
    constant: float, run: float, sag: float, near: float
) -> None:
    low, high = weight_spans([math.nan, run], [run, math.nan], [0.0, sag], constant)
    assert low == pytest.approx(0.0, abs=near)
    assert high == pytest.approx(run, abs=near)


@pytest.mark.parametrize(("constant", "run", "sag", "near"), PRINTED)
def test_of_two_such_spans_the_middle_carries_nothing_or_both(
    constant: float, run: float, sag: float, near: float
) -> None:
    back, ahead = [math.nan, run, run], [run, run, math.nan]
    assert weight_spans(back, ahead, [sag, 0.0, sag], constant)[1] == pytest.approx(0.0, abs=2 * near)
    assert weight_spans(back, ahead, [0.0, sag, 0.0], constant)[1] == pytest.approx(2 * run, abs=2 * near)


def test_level_supports_share_the_span_of_the_example() -> None:
    assert weight_spans([math.nan, 500.0], [500.0, math.nan], [0.0, 0.0], 1600.0).tolist() == [250.0, 250.0]
