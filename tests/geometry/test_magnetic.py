"""Magnetic north: dates, places, cells and printing."""

from __future__ import annotations

import datetime as dt

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.geometry.magnetic import (
    FIRST_DAY,
    LAST_DAY,
    Declination,
    decimal_year,
    format_magnetic,
    magnetic_field,
)

JULY = dt.date(2026, 7, 2)


def test_a_place_in_the_west_of_the_united_states() -> None:
    """Denver, mid 2026: 7.517 ± 0.367, computed with two other programs from the same model."""
    seen = Declination.at(-105.0, 39.74, on=JULY)
    assert seen.declination_deg == pytest.approx(7.5, abs=0.1)
    assert seen.sigma_deg == pytest.approx(0.367, abs=0.002)
    assert seen.on == JULY


def test_a_published_worked_example() -> None:
    """Documentation of a vendor's function: D -13.6891 at 1,000 m on 4 July 2028."""
    on = dt.date(2028, 7, 4)
    degrees, _, _ = magnetic_field(-71.35, 42.283, year=decimal_year(on), height_m=1000.0)
    assert degrees == pytest.approx(-13.6891, abs=2e-4)
    assert str(Declination.at(-71.35, 42.283, on=on)) == "declination 13.7° W ± 0.4° (WMM2025, 2028-07-04)"


def test_magnetic_is_true_less_east_declination() -> None:
    """East declination: the needle points east of true north, so magnetic azimuths are smaller."""
    east = Declination(declination_deg=10.0, sigma_deg=0.35, on=JULY)
    assert east.magnetic_azimuth_deg(62.0) == pytest.approx(52.0)
    assert east.magnetic_azimuth_deg(3.0) == pytest.approx(353.0)
    west = Declination(declination_deg=-13.7, sigma_deg=0.35, on=JULY)
    assert west.magnetic_azimuth_deg(350.0) == pytest.approx(3.7)


def test_grid_azimuths_take_the_convergence_first() -> None:
    """Start of the invented line: grid 62.2389, convergence +0.82, so true 63.06."""
    east = Declination(declination_deg=10.0, sigma_deg=0.35, on=JULY)
    seen = east.magnetic_of_grid_deg(62.2389, convergence_deg=0.82)
    assert seen == pytest.approx(53.0589)
    assert format_magnetic(seen, east) == "53.1° ± 0.3° magnetic (WMM2025, 2026-07-02)"


@pytest.mark.parametrize("day", [FIRST_DAY - dt.timedelta(days=1), LAST_DAY + dt.timedelta(days=1)])
def test_days_outside_the_model_are_refused(day: dt.date) -> None:
    with pytest.raises(ValueError, match=rf"{day.isoformat()} is outside.*2025-01-01 to 2029-12-31"):
        Declination.at(-105.0, 39.7, on=day)


def test_the_first_and_the_last_day_are_inside() -> None:
    assert decimal_year(FIRST_DAY) == 2025.0
    assert decimal_year(LAST_DAY) == pytest.approx(2030.0 - 1.0 / 365.0)
    assert Declination.at(-105.0, 39.7, on=LAST_DAY).on == LAST_DAY


@pytest.mark.parametrize(
    ("longitude", "latitude", "height_m", "words"),
    [
        (float("nan"), 40.0, 0.0, "no place"),
        (-105.0, float("nan"), 0.0, "no place"),
        (-105.0, 91.0, 0.0, "no place"),
        (900_000.0, 40.0, 0.0, "no place"),
        (-105.0, 40.0, 1e6, "height"),
    ],
)
def test_no_place_is_refused(longitude: float, latitude: float, height_m: float, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        magnetic_field(longitude, latitude, year=2026.5, height_m=height_m)


@pytest.mark.parametrize("year", [2024.99, 2030.01, float("nan")])
def test_years_outside_the_model_are_refused(year: float) -> None:
    with pytest.raises(ValueError, match="outside the World Magnetic Model"):
        magnetic_field(-105.0, 40.0, year=year)


def test_near_a_magnetic_pole_a_compass_says_nothing() -> None:
    """The publisher's first test value: H is 1,504 nT at 89 N, 121 W, 28 km up."""
    with pytest.raises(ValueError, match="a compass says nothing"):
        Declination.at(-121.0, 89.0, on=FIRST_DAY)


@settings(max_examples=examples(40))
@given(
    longitude=st.floats(-125.0, -67.0),
    latitude=st.floats(25.0, 49.0),
    on=st.dates(FIRST_DAY, LAST_DAY),
)
def test_a_turn_further_is_the_same_place(longitude: float, latitude: float, on: dt.date) -> None:
    exact = Declination.at(longitude, latitude, on=on)
    a_turn_further = Declination.at(longitude + 360.0, latitude, on=on)
    assert a_turn_further.declination_deg == pytest.approx(exact.declination_deg, abs=1e-9)


@settings(max_examples=examples(100))
@given(azimuth=st.floats(0.0, 360.0, exclude_max=True), declination=st.floats(-30.0, 30.0))
def test_printed_azimuths_stay_below_a_full_turn(azimuth: float, declination: float) -> None:
    north = Declination(declination_deg=declination, sigma_deg=0.4, on=JULY)
    text = format_magnetic(north.magnetic_azimuth_deg(azimuth), north)
    assert text.endswith("± 0.4° magnetic (WMM2025, 2026-07-02)")
    assert 0.0 <= float(text.partition("°")[0]) < 360.0
