"""Shortest lines: edge cases and laws. Published lines are in tests/reference."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from linemap.geometry.geodesic import geodesic, geodesics

LONGITUDES, LATITUDES = st.floats(-180.0, 180.0), st.floats(-85.0, 85.0)


def test_a_degree_of_the_equator() -> None:
    length, forward, back = geodesic(10.0, 0.0, 11.0, 0.0)
    assert length == pytest.approx(np.radians(1.0) * 6_378_137.0, abs=1e-6)
    assert (forward, back) == (90.0, 270.0)


def test_two_equal_points_have_no_azimuth() -> None:
    with pytest.raises(ValueError, match="give two different points"):
        geodesic(-108.0, 46.0, -108.0, 46.0)


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_an_unknown_coordinate_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="no azimuth from"):
        geodesic(bad, 46.0, -108.0, 46.0)


def test_in_arrays_equal_points_are_zero_apart_with_unknown_azimuths() -> None:
    lon, lat = np.array([-108.0, -108.0, np.nan]), np.array([46.0, 46.0, 46.0])
    length, forward, back = geodesic(lon, lat, np.array([-108.0, -107.0, -107.0]), lat)
    assert length[0] == 0.0
    assert np.isnan(forward[[0, 2]]).all()
    assert np.isnan(back[[0, 2]]).all()
    assert np.isnan(length[2])
    assert 89.0 < forward[1] < 90.0 < 270.0 < back[1] < 271.0


def test_arrays_answer_as_numbers_do() -> None:
    draw = np.random.default_rng(5)
    points = [draw.uniform(-80.0, 80.0, 20) for _ in range(4)]
    together = np.array(geodesic(*points)).T
    for row, (lon1, lat1, lon2, lat2) in zip(together, np.array(points).T, strict=True):
        alone = geodesic(float(lon1), float(lat1), float(lon2), float(lat2))
        assert row.tolist() == list(alone)


def test_the_ellipsoid_matters() -> None:
    modern, old = (geodesic(-96.0, 28.0, -96.0, 29.0, ellipsoid=name)[0] for name in ("GRS80", "clrk66"))
    assert 1.0 < abs(modern - old) < 10.0


@settings(max_examples=60, deadline=None)
@given(lon1=LONGITUDES, lat1=LATITUDES, lon2=LONGITUDES, lat2=LATITUDES)
def test_backwards_is_as_long_with_the_azimuths_exchanged(
    lon1: float, lat1: float, lon2: float, lat2: float
) -> None:
    ends = [np.array([value]) for value in (lon1, lat1, lon2, lat2)]
    length, forward, back = geodesics(Geod(ellps="WGS84"), *ends)
    again, forward_again, back_again = geodesics(Geod(ellps="WGS84"), *ends[2:], *ends[:2])
    assert again == pytest.approx(length, abs=1e-8)
    for azimuth in (forward, back):
        assert np.isnan(azimuth).all() or ((azimuth >= 0.0) & (azimuth < 360.0)).all()
    if 1.0 < length[0] < 1.9e7:  # nearly antipodal points have several equally short lines
        assert forward_again == pytest.approx(back, abs=1e-6)
        assert back_again == pytest.approx(forward, abs=1e-6)
