import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS, Geod

from linemap.errors import InputRefused, Problem
from linemap.geometry.bearing import wrap180
from linemap.geometry.crs import Operation, finite, geodesic, projected_unit, read_crs
from linemap.units import LengthUnit

ASKED = Problem(file="", column="crs", value="here", reason="")


@pytest.mark.parametrize(
    ("code", "unit"),
    [
        ("EPSG:6515", LengthUnit.FOOT),
        ("EPSG:2264", LengthUnit.US_SURVEY_FOOT),
        ("EPSG:32119", LengthUnit.METRE),
        ("EPSG:6515+5703", LengthUnit.FOOT),
        ("EPSG:2193", LengthUnit.METRE),  # registered northing first
    ],
)
def test_units(code: str, unit: LengthUnit) -> None:
    assert projected_unit(read_crs(code, column="crs"), column="crs", text=code) is unit


@pytest.mark.parametrize("text", ["", "nowhere", "EPSG:999999", "6515 feet"])
def test_an_unknown_reference_is_refused_with_its_text(text: str) -> None:
    with pytest.raises(InputRefused, match="is no coordinate reference PROJ knows") as caught:
        read_crs(text, column="--crs")
    (problem,) = caught.value.problems
    assert (problem.column, problem.value, problem.file) == ("--crs", text, "")
    assert "EPSG:6515" in problem.remedy


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("EPSG:4326", "is geographic: stationing needs a projected CRS"),
        ("EPSG:4269", "is geographic: stationing needs a projected CRS"),
        ("EPSG:4978", "is a geocentric CRS: stationing needs a projected CRS"),
        ("EPSG:5703", "is a vertical CRS: stationing needs a projected CRS"),
        ("EPSG:2048", "has axes running west and south"),
        ("EPSG:3413", "has axes running south and south"),
        ("EPSG:2314", "is in Clarke's foot: lengths are kept in metres or feet only"),
    ],
)
def test_a_reference_that_cannot_carry_stations_is_refused(code: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words) as caught:
        projected_unit(read_crs(code, column="crs"), column="crs", text=code)
    assert caught.value.problems[0].value == code
    assert caught.value.problems[0].remedy


def test_a_ballpark_operation_is_refused_and_the_missing_grid_named() -> None:
    """NAD83 to NAD83(2011) without grids would change the name and move nothing."""
    with pytest.raises(InputRefused, match="only a ballpark one") as caught:
        Operation.between(CRS.from_epsg(2264), CRS.from_epsg(6543), bounds=None, asked=ASKED)
    (problem,) = caught.value.problems
    assert (problem.column, problem.value) == ("crs", "here")
    assert "NAD83(HARN)" in problem.remedy


def test_an_operation_without_any_registered_way_is_refused() -> None:
    local = CRS.from_proj4("+proj=tmerc +lon_0=-100 +a=6378300 +b=6356700 +units=m +type=crs")
    with pytest.raises(InputRefused, match="no true operation to WGS 84") as caught:
        Operation.between(local, CRS.from_epsg(4326), bounds=None, asked=ASKED)
    assert caught.value.problems[0].remedy == "give the coordinates in another CRS"


def test_a_better_operation_that_is_not_installed_is_named() -> None:
    texas = CRS.from_epsg(32040)
    assert texas.area_of_use is not None
    seen = Operation.between(texas, CRS.from_epsg(4326), bounds=texas.area_of_use.bounds, asked=ASKED)
    assert "NAD27 to WGS 84" in seen.name
    assert "NAD27 to WGS 84" in seen.better
    assert seen.accuracy_m is not None
    assert seen.accuracy_m > 0.0


@pytest.mark.parametrize(
    ("bounds", "step"),
    [((-100.0, 26.0, -95.0, 30.0), "(6)"), ((-160.0, 55.0, -150.0, 65.0), "(7)"), (None, "(3)")],
)
def test_the_operation_is_the_one_for_the_area(
    bounds: tuple[float, float, float, float] | None, step: str
) -> None:
    """NAD27 to WGS 84 is registered for the southern states, for Alaska and, worse, for the continent."""
    seen = Operation.between(CRS.from_epsg(4267), CRS.from_epsg(4326), bounds=bounds, asked=ASKED)
    assert f"NAD27 to WGS 84 {step}" in seen.name


def test_an_accuracy_nobody_registered_is_unknown() -> None:
    local = CRS.from_proj4("+proj=tmerc +lon_0=-100 +ellps=intl +towgs84=-87,-98,-121 +units=m +type=crs")
    seen = Operation.between(local, CRS.from_epsg(4326), bounds=None, asked=ASKED)
    assert seen.accuracy_m is None


def test_of_a_compound_reference_the_horizontal_part_is_kept() -> None:
    assert read_crs("EPSG:6515+5703", column="crs") == CRS.from_epsg(6515)


def test_a_change_of_unit_only_is_exact_and_needs_nothing_better() -> None:
    seen = Operation.between(CRS.from_epsg(32119), CRS.from_epsg(2264), bounds=None, asked=ASKED)
    assert (seen.accuracy_m, seen.better) == (0.0, "")
    east, north = seen.forward([609_601.22, 610_801.22], 200_000.0)  # the false easting, and 1200 m on
    assert east == pytest.approx([2_000_000.0, 2_003_937.0], abs=1e-6)
    assert seen.backward(east, north)[1] == pytest.approx(200_000.0, abs=1e-8)


def test_shapes_are_kept_and_the_impossible_is_unknown() -> None:
    seen = Operation.between(CRS.from_epsg(4326), CRS.from_epsg(6515), bounds=None, asked=ASKED)
    east, north = seen.forward([[-108.0, -109.0], [np.nan, np.inf]], 46.0)
    assert east.shape == north.shape == (2, 2)
    assert np.isfinite(east[0]).all()
    assert np.isnan(east[1]).all()
    assert np.isnan(north[1]).all()
    assert seen.forward(-108.0, 46.0)[0].shape == ()
    assert seen.forward([], [])[0].shape == (0,)


def test_finite_leaves_numbers_alone() -> None:
    assert finite([1.0, -np.inf, 0.0], (3,))[[0, 2]].tolist() == [1.0, 0.0]


LONGITUDES, LATITUDES = st.floats(-180.0, 180.0), st.floats(-85.0, 85.0)


def test_a_degree_of_the_equator() -> None:
    length, forward, back = geodesic(10.0, 0.0, 11.0, 0.0)
    assert length == pytest.approx(np.radians(1.0) * 6_378_137.0, abs=1e-6)
    assert (forward, back) == (90.0, 270.0)


def test_equal_points_are_zero_apart_with_unknown_azimuths() -> None:
    lon, lat = np.array([-108.0, -108.0, np.nan]), np.array([46.0, 46.0, 46.0])
    length, forward, back = geodesic(lon, lat, np.array([-108.0, -107.0, -107.0]), lat)
    assert length[0] == 0.0
    assert np.isnan(forward[[0, 2]]).all()
    assert np.isnan(back[[0, 2]]).all()
    assert np.isnan(length[2])
    assert 89.0 < forward[1] < 90.0 < 270.0 < back[1] < 271.0


def test_the_ellipsoid_matters() -> None:
    geods = (Geod(ellps=name) for name in ("GRS80", "clrk66"))
    modern, old = (geodesic(-96.0, 28.0, -96.0, 29.0, geod=geod)[0] for geod in geods)
    assert 1.0 < abs(modern - old) < 10.0


@settings(max_examples=examples(60))
@given(lon1=LONGITUDES, lat1=LATITUDES, lon2=LONGITUDES, lat2=LATITUDES)
def test_backwards_is_as_long_with_the_azimuths_exchanged(
    lon1: float, lat1: float, lon2: float, lat2: float
) -> None:
    ends = [np.array([value]) for value in (lon1, lat1, lon2, lat2)]
    length, forward, back = geodesic(*ends)
    again, forward_again, back_again = geodesic(*ends[2:], *ends[:2])
    assert again == pytest.approx(length, abs=1e-8)
    for azimuth in (forward, back, forward_again, back_again):
        assert np.isnan(azimuth).all() or ((azimuth >= 0.0) & (azimuth < 360.0)).all()
    if 1.0 < length[0] < 1.9e7:  # nearly antipodal points have several equally short lines
        assert np.abs(wrap180(forward_again - back)) < 1e-6
        assert np.abs(wrap180(back_again - forward)) < 1e-6
