"""X-braces: right triangles by hand, the worked cases of a 20 ft brace, and what holds for any of them."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from linemap.domain.framing.brace import (
    BraceMisfit,
    brace_misfit,
    brace_spread,
    rate_words,
    set_words,
    spread_rate,
)
from linemap.domain.framing.dig import Frame
from linemap.units import LengthUnit

lengths = st.floats(5.0, 40.0)
rakes = st.floats(-6.0, 6.0)


@pytest.mark.parametrize(
    ("brace", "spacing", "spread"),
    [
        (5.0, 3.0, 4.0),
        (5.0, 4.0, 3.0),
        (10.0, 6.0, 8.0),
        (13.0, 5.0, 12.0),
        (17.0, 8.0, 15.0),
        (7.0, 0.0, 7.0),
    ],
)
def test_right_triangles(brace: float, spacing: float, spread: float) -> None:
    assert brace_spread(brace, spacing) == pytest.approx(spread, abs=1e-12)


@pytest.mark.parametrize(("brace", "spacing"), [(5.0, 5.0), (5.0, 5.1), (12.0, 12.5)])
def test_a_brace_no_longer_than_the_spacing_does_not_fit(brace: float, spacing: float) -> None:
    with pytest.raises(BraceMisfit, match=f"a brace of {brace:.2f} does not fit poles {spacing:.2f} apart"):
        brace_spread(brace, spacing)


@pytest.mark.parametrize(
    ("brace", "spacing"),
    [(0.0, 3.0), (-5.0, 3.0), (5.0, -1.0), (math.nan, 3.0), (5.0, math.nan), (math.inf, 3.0)],
)
def test_what_is_no_brace(brace: float, spacing: float) -> None:
    with pytest.raises(BraceMisfit, match="is no brace"):
        brace_spread(brace, spacing)


def test_the_worked_case_of_twenty_feet() -> None:
    assert brace_spread(20.0, 15.5) == pytest.approx(12.6392, abs=5e-5)
    assert spread_rate(20.0, 15.5) == pytest.approx(-1.226, abs=5e-4)
    # an uncertainty of 0.05 ft of the spacing is 0.061 ft of the lower bolt
    assert abs(spread_rate(20.0, 15.5)) * 0.05 == pytest.approx(0.061, abs=5e-4)


@pytest.mark.parametrize(
    ("wider", "inches"), [(-0.50, 7.07), (-0.25, 3.61), (0.25, -3.76), (0.50, -7.67), (1.0 / 12.0, -1.23)]
)
def test_what_a_wider_spacing_does_to_the_lower_bolt(wider: float, inches: float) -> None:
    moved = brace_spread(20.0, 15.5 + wider) - brace_spread(20.0, 15.5)
    assert 12.0 * moved == pytest.approx(inches, abs=0.005)


def test_raked_three_degrees() -> None:
    spread = brace_spread(20.0, 15.5, rake_deg=3.0)
    assert spread == pytest.approx(11.838, abs=5e-4)
    assert spread / math.cos(math.radians(3.0)) == pytest.approx(11.854, abs=5e-4)


def test_unequal_rake_gives_two_spreads() -> None:
    assert brace_spread(20.0, 15.5, rake_deg=0.0) - brace_spread(20.0, 15.5, rake_deg=3.0) > 0.5


def test_bolts_on_inside_faces_instead_of_centres() -> None:
    # a class 1 pole of 75 ft, 27 in around its top and 43 in at 6 ft from the butt, bolts 12 ft below the top
    radii = [(27.0 + 16.0 * down / 69.0) / (2.0 * math.pi) / 12.0 for down in (12.0, 24.6392)]
    moved = brace_spread(20.0, 15.5 - sum(radii)) - brace_spread(20.0, 15.5)
    assert 12.0 * moved == pytest.approx(11.44, abs=0.01)
    # the taper itself, out of the plane, changes nothing that could be marked
    tapered = math.sqrt(20.0**2 - (radii[1] - radii[0]) ** 2 - 15.5**2)
    assert 12.0 * (brace_spread(20.0, 15.5) - tapered) == pytest.approx(0.0007, abs=5e-5)


@given(lengths, st.floats(0.0, 0.95), rakes)
def test_the_triangle_closes_and_agrees_with_a_root_finder(brace: float, share: float, rake: float) -> None:
    from scipy.optimize import brentq  # takes half a second, which only this test should

    spacing = share * brace
    assume(spacing > 0.5 and (rake >= 0.0 or share < 0.9))
    spread = brace_spread(brace, spacing, rake_deg=rake)
    assert brace_misfit(brace, spacing, spread=spread, rake_deg=rake) == pytest.approx(0.0, abs=1e-9)
    tilt = math.tan(math.radians(rake))
    found = brentq(lambda v: math.hypot(spacing + tilt * v, v) - brace, 0.0, 2.0 * brace, xtol=1e-11)
    assert spread == pytest.approx(found, abs=1e-8)


@given(lengths, st.floats(0.1, 0.9), rakes)
def test_the_rate_is_the_derivative(brace: float, share: float, rake: float) -> None:
    spacing, step = share * brace, 1e-5
    around = [brace_spread(brace, spacing + side * step, rake_deg=rake) for side in (1.0, -1.0)]
    assert spread_rate(brace, spacing, rake_deg=rake) == pytest.approx(
        (around[0] - around[1]) / (2.0 * step), rel=1e-4
    )


@given(lengths, st.floats(0.1, 0.9))
def test_vertical_poles_have_the_short_forms(brace: float, share: float) -> None:
    spacing = share * brace
    spread, step = brace_spread(brace, spacing), 1e-4 * brace
    assert spread_rate(brace, spacing) == pytest.approx(-spacing / spread, rel=1e-12)
    curve = (
        brace_spread(brace, spacing + step) - 2.0 * spread + brace_spread(brace, spacing - step)
    ) / step**2
    assert curve == pytest.approx(-(brace**2) / spread**3, rel=1e-3)


@given(lengths, st.floats(0.1, 0.9), st.floats(0.1, 10.0))
def test_scaling_a_frame_scales_its_spread(brace: float, share: float, scale: float) -> None:
    whole = brace_spread(brace * scale, share * brace * scale, rake_deg=2.0)
    assert whole == pytest.approx(scale * brace_spread(brace, share * brace, rake_deg=2.0), rel=1e-9)


def test_wider_poles_raise_the_lower_bolt_in_words() -> None:
    assert brace_spread(20.0, 15.5 + 1 / 12) < brace_spread(20.0, 15.5)
    words = rate_words(spread_rate(20.0, 15.5), LengthUnit.FOOT)
    assert words.startswith("each inch wider raises the lower bolt 1\xa01/4\xa0in")


def asked(brace: float, spacing: float, *, made_for: float, tolerance: float, unit: LengthUnit) -> str:
    frame = Frame(
        number="1", type_code="H", poles=(), spacing=spacing, spacing_tolerance=tolerance, unit=unit
    )
    return set_words(brace, frame, made_for=made_for)


def test_a_set_for_twelve_feet_on_poles_twelve_and_a_half_apart_is_settled_before_the_pick() -> None:
    words = asked(17.0, 12.5, made_for=12.0, tolerance=0.2, unit=LengthUnit.FOOT)
    assert words.startswith("brace set for 12.00 ft, poles 12.50 ft apart: settle before the pick")
    assert (math.hypot(12.5, math.sqrt(145.0)) - 17.0) * 12.0 == pytest.approx(4.25, abs=0.03)
    assert "the brace is 4\xa01/4\xa0in short" in words
    assert (math.sqrt(145.0) - math.sqrt(132.75)) * 12.0 == pytest.approx(6.25, abs=0.03)
    assert "6\xa01/4\xa0in up" in words


def test_poles_too_near_ask_for_a_lower_bolt() -> None:
    words = asked(17.0, 11.5, made_for=12.0, tolerance=0.2, unit=LengthUnit.FOOT)
    assert " long, or its lower bolt goes " in words
    assert " down;" in words


def test_a_spacing_within_tolerance_is_no_question() -> None:
    assert asked(17.0, 12.1, made_for=12.0, tolerance=0.2, unit=LengthUnit.FOOT) == ""
    with pytest.raises(BraceMisfit):
        asked(12.0, 12.1, made_for=12.0, tolerance=0.2, unit=LengthUnit.FOOT)


def test_metric_words() -> None:
    words = asked(5.2, 3.81, made_for=3.66, tolerance=0.06, unit=LengthUnit.METRE)
    assert "3.660 m, poles 3.810 m apart" in words
    assert " mm short" in words
