import dataclasses
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from pyproj import Geod

from linemap.errors import InputRefused
from linemap.geometry.bearing import azimuth_deg, wrap180
from linemap.geometry.crs import geodesic
from linemap.geometry.projection import (
    Projection,
    combined_factor,
    elevation_factor,
    grid_to_ground,
    other_crs_to,
)
from linemap.units import LengthUnit

GRS80 = Geod(ellps="GRS80")
MONTANA = Projection.from_text("EPSG:6515")
#: A Lambert conic, two transverse Mercators north and south of the equator, and one in US survey feet.
CODES = ["EPSG:6515", "EPSG:26915", "EPSG:7855", "EPSG:2264"]

#: Grid northing, easting and WGS 84 longitude, latitude of the PIs of an invented line in Montana, as a
#: separate run of the projection printed them.
POINTS = [
    (900000.00, 2250000.00, -108.37717, 46.71312),
    (905510.59, 2260468.98, -108.33509, 46.72782),
    (911410.04, 2273384.26, -108.28320, 46.74346),
    (918540.13, 2296704.60, -108.18967, 46.76199),
    (958645.45, 2342211.27, -108.00497, 46.86977),
]


def test_what_a_projection_tells_about_itself() -> None:
    assert MONTANA.name == "NAD83(2011) / Montana (ft)"
    assert MONTANA.unit is LengthUnit.FOOT
    assert MONTANA.bounds == (-116.07, 44.35, -104.04, 49.01)
    assert "NAD83(2011) to WGS 84" in MONTANA.to_wgs84.name
    assert MONTANA.to_wgs84.accuracy_m == 2.0
    assert MONTANA.to_wgs84.better == ""


def test_projections_compare_by_what_they_are_and_cannot_be_changed() -> None:
    assert Projection.from_text("EPSG:6515") == MONTANA
    assert hash(Projection.from_text("EPSG:6515")) == hash(MONTANA)
    assert Projection.from_text("EPSG:2264") != MONTANA
    with pytest.raises(dataclasses.FrozenInstanceError):
        MONTANA.name = "elsewhere"  # type: ignore[misc]


def test_a_refusal_names_the_argument_it_came_from() -> None:
    with pytest.raises(InputRefused) as caught:
        Projection.from_text("EPSG:4326")
    assert str(caught.value).startswith('--crs "EPSG:4326": is geographic: stationing needs a projected CRS')


def test_a_projection_on_an_unknown_datum_is_refused() -> None:
    with pytest.raises(InputRefused, match="no true operation to WGS 84"):
        Projection.from_text("+proj=tmerc +lon_0=-100 +a=6378300 +b=6356700 +units=m +type=crs")


@pytest.mark.parametrize(("north", "east", "longitude", "latitude"), POINTS)
def test_points_of_the_invented_line(north: float, east: float, longitude: float, latitude: float) -> None:
    seen = MONTANA.to_lonlat(east, north)
    assert seen[0] == pytest.approx(longitude, abs=5.1e-6)
    assert seen[1] == pytest.approx(latitude, abs=5.1e-6)


@settings(max_examples=examples(60))
@given(code=st.sampled_from(CODES), east=st.floats(0.05, 0.95), north=st.floats(0.05, 0.95))
def test_there_and_back_again(code: str, east: float, north: float) -> None:
    projection = Projection.from_text(code)
    assert projection.bounds is not None
    west, south, far_east, far_north = projection.bounds
    longitude, latitude = west + east * (far_east - west), south + north * (far_north - south)
    for there, back in (
        (projection.from_lonlat, projection.to_lonlat),
        (projection.from_geodetic, projection.to_geodetic),
    ):
        seen = back(*there(longitude, latitude))
        assert seen[0] == pytest.approx(longitude, abs=1e-10)
        assert seen[1] == pytest.approx(latitude, abs=1e-10)


def bounds_centre(projection: Projection) -> tuple[float, float]:
    assert projection.bounds is not None
    west, south, east, north = projection.bounds
    return 0.7 * west + 0.3 * east, 0.4 * south + 0.6 * north


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("heading", [0.0, 70.0, 160.0, 250.0, 340.0])
def test_true_azimuth_is_grid_azimuth_plus_convergence(code: str, heading: float) -> None:
    """The sign, by an independent way: the shortest line between the ends of a 2,000 ft span, to 0.5"."""
    projection = Projection.from_text(code)
    east, north = projection.from_geodetic(*bounds_centre(projection))
    reach = 609.6 / projection.unit.metres
    far_east = east + reach * np.sin(np.radians(heading))
    far_north = north + reach * np.cos(np.radians(heading))
    (lon1, lat1), (lon2, lat2) = (
        projection.to_geodetic(east, north),
        projection.to_geodetic(far_east, far_north),
    )
    _, true, _ = geodesic(lon1, lat1, lon2, lat2, geod=GRS80)
    _, convergence = projection.factors(lon1, lat1)
    assert abs(convergence) > 0.2
    assert wrap180(true - heading - convergence) == pytest.approx(0.0, abs=0.5 / 3600.0)


@pytest.mark.parametrize("code", CODES)
def test_grid_scale_is_grid_over_geodesic(code: str) -> None:
    """L / 2 (1/k1 + 1/k2) is the geodesic to 2e-6 ft at 2,000 ft."""
    projection = Projection.from_text(code)
    east, north = projection.from_geodetic(*bounds_centre(projection))
    ends = np.array([east, east + 1500.0]), np.array([north, north - 1300.0])
    scale, _ = projection.factors_at(*ends)
    length = projection.geodesic_length((east, north), (east + 1500.0, north - 1300.0))
    assert np.hypot(1500.0, 1300.0) / 2.0 * (1.0 / scale).sum() == pytest.approx(length.item(), abs=1e-5)


def test_factors_keep_shapes_and_leave_the_impossible_unknown() -> None:
    scale, convergence = MONTANA.factors([[-108.0, np.nan], [np.inf, -108.0]], [[46.0, 46.0], [46.0, 95.0]])
    assert scale.shape == convergence.shape == (2, 2)
    assert np.isfinite([scale[0, 0], convergence[0, 0]]).all()
    assert np.isnan(scale).sum() == np.isnan(convergence).sum() == 3
    assert MONTANA.factors(-108.0, 46.0)[0].shape == ()
    assert MONTANA.factors_at([], [])[1].shape == (0,)
    assert MONTANA.to_geodetic(np.nan, 0.0)[0].shape == ()
    assert np.isnan(MONTANA.from_geodetic([np.nan, -108.0], 46.0)[0]).tolist() == [True, False]


def test_one_operation_serves_a_whole_job_on_an_old_datum() -> None:
    """NAD27 has many registered operations; between neighbours the answer must not jump."""
    texas = Projection.from_text("EPSG:32040")
    assert texas.to_wgs84.better
    east = np.linspace(1_000_000.0, 3_000_000.0, 2001)
    longitude, latitude = texas.to_lonlat(east, 500_000.0)
    steps = np.diff(longitude), np.diff(latitude)
    assert np.abs(np.diff(steps[0])).max() < 1e-6
    assert np.abs(np.diff(steps[1])).max() < 1e-6


def test_on_an_old_datum_the_factors_are_taken_on_the_own_one() -> None:
    texas = Projection.from_text("EPSG:32040")
    own, modern = texas.to_geodetic(2_963_503.91, 254_759.80), texas.to_lonlat(2_963_503.91, 254_759.80)
    apart, _, _ = geodesic(float(own[0]), float(own[1]), float(modern[0]), float(modern[1]))
    assert 10.0 < apart < 100.0
    assert texas.factors_at(2_963_503.91, 254_759.80)[1] == texas.factors(*own)[1]
    assert texas.factors(*modern)[1] != texas.factors(*own)[1]


def test_threads_may_share_one_projection() -> None:
    draw = np.random.default_rng(11)
    east, north = draw.uniform(2.2e6, 2.4e6, 20_000), draw.uniform(9.0e5, 1.0e6, 20_000)

    def work(_: int) -> NDArray[np.float64]:
        return np.array([*MONTANA.to_lonlat(east, north), *MONTANA.factors_at(east, north)])

    expected = work(0)
    with ThreadPoolExecutor(4) as pool:
        assert all(np.array_equal(seen, expected) for seen in pool.map(work, range(8)))


# Other references


def test_a_file_in_longitude_and_latitude_is_brought_onto_the_grid() -> None:
    north, east, longitude, latitude = np.array(POINTS).T
    seen = other_crs_to(MONTANA, "EPSG:4326", longitude, latitude)
    assert seen[0] == pytest.approx(east, abs=1.5)  # 5 decimals of a degree of longitude are 1.3 ft here
    assert seen[1] == pytest.approx(north, abs=2.0)


def test_a_file_in_metres_of_the_same_datum_is_brought_into_feet_exactly() -> None:
    carolina = Projection.from_text("EPSG:2264")
    seen = other_crs_to(carolina, "EPSG:32119", [609_601.22, 610_801.22], [200_000.0, 200_000.0])
    assert seen[0] == pytest.approx([2_000_000.0, 2_003_937.0], abs=1e-6)  # false easting, and 1200 m on


def test_the_two_feet_are_told_apart() -> None:
    """The same Montana grid in international feet and in metres: 0.3048 exactly, not 1200/3937."""
    seen = other_crs_to(MONTANA, "EPSG:6514", 600_000.0, 200_000.0)
    assert seen[0] == pytest.approx(600_000.0 / 0.3048, abs=1e-5)


def test_a_silent_no_op_between_datums_is_refused() -> None:
    line = Projection.from_text("EPSG:6543")
    with pytest.raises(InputRefused, match="only a ballpark one") as caught:
        other_crs_to(line, "EPSG:2264", 2_000_000.0, 600_000.0)
    assert (caught.value.problems[0].column, caught.value.problems[0].value) == ("crs", "EPSG:2264")
    with pytest.raises(InputRefused, match="no coordinate reference"):
        other_crs_to(line, "nowhere", 2_000_000.0, 600_000.0)


# Lengths


def test_lengths_of_a_tangent_of_the_invented_line() -> None:
    """12,480.25 ft on the ground with a combined factor of 0.999217 is 12,470.48 ft on the grid."""
    start, end = (2296704.60, 918540.13), (2309159.20, 919169.23)
    grid, geodesic_length = np.hypot(*np.subtract(end, start)), MONTANA.geodesic_length(start, end)
    ground = grid_to_ground(grid, 0.999217)
    assert grid == pytest.approx(12_470.48, abs=0.006)
    assert ground == pytest.approx(12_480.25, abs=0.006)
    assert grid < geodesic_length < ground  # the ground lies 4,000 ft above the ellipsoid


def test_lengths_of_many_lines_and_of_none() -> None:
    east, north = np.array([2.25e6, 2.26e6]), np.array([9.0e5, 9.1e5])
    assert grid_to_ground([500.0, 500.0], [1.0, 0.5]).tolist() == [500.0, 1000.0]
    assert MONTANA.geodesic_length((east, north), (east + 300.0, north + 400.0)).shape == (2,)
    assert MONTANA.geodesic_length((east, north), (east, north)).tolist() == [0.0, 0.0]


def test_true_bearings_of_a_tangent_differ_by_the_convergence() -> None:
    east, north = MONTANA.to_geodetic([2250000.0, 2260468.98], [900000.0, 905510.59])
    _, true, _ = geodesic(east[0], north[0], east[1], north[1], geod=GRS80)
    grid = azimuth_deg(2260468.98 - 2250000.0, 905510.59 - 900000.0)
    _, convergence = MONTANA.factors(east[0], north[0])
    assert grid == pytest.approx(62.2389, abs=5e-5)
    assert convergence == pytest.approx(0.82, abs=0.005)
    assert true - grid == pytest.approx(float(convergence), abs=5e-4)


# Factors


def test_elevation_factor_by_hand() -> None:
    assert elevation_factor(0.0, LengthUnit.METRE) == 1.0
    assert elevation_factor(1000.0, LengthUnit.METRE, radius_m=6_371_000.0) == pytest.approx(6371.0 / 6372.0)
    feet, metres = elevation_factor(4000.0, LengthUnit.FOOT), elevation_factor(1219.2, LengthUnit.METRE)
    assert feet == pytest.approx(float(metres), abs=1e-15)
    assert elevation_factor([-30.0, 30.0], LengthUnit.METRE).tolist()[0] > 1.0


@settings(max_examples=examples(50))
@given(length=st.floats(0.0, 1e6), factor=st.floats(0.99, 1.01))
def test_grid_and_ground_undo_each_other(length: float, factor: float) -> None:
    assert grid_to_ground(length * factor, factor) == pytest.approx(length, rel=1e-15)
    assert combined_factor(factor, 1.0) == factor


@pytest.mark.parametrize("crs", ["EPSG:6515", "EPSG:32040", "EPSG:7855", "EPSG:27700"])
def test_one_pass_gives_what_two_passes_give(crs: str) -> None:
    """Both where the step to WGS 84 is nothing (NAD83, GDA2020) and where it moves points (NAD27, OSGB36)."""
    projection = Projection.from_text(crs)
    assert projection.bounds is not None
    west, south, east, north = projection.bounds
    lon, lat = np.linspace(west, east, 7)[1:-1], np.linspace(south, north, 7)[1:-1]
    points = projection.from_geodetic(lon, lat)
    expected = (*projection.to_lonlat(*points), *projection.factors_at(*points))
    for seen, wanted in zip(projection.lonlat_and_factors(*points), expected, strict=True):
        np.testing.assert_allclose(seen, wanted, atol=1e-11)
