"""References coordinates may be in: found by what remains, with datum steps said for what they are."""

from __future__ import annotations

import numpy as np
import pytest

from linemap.geometry.other_reference import around, best_reference, in_the_area, taken_from
from linemap.geometry.projection import Projection

MONTANA = Projection.from_text("EPSG:6515")
PLACES = np.array([[2_250_000.0 + 900.0 * i, 900_000.0 + 400.0 * i] for i in range(8)])


def written_in(code: str, *, through_wgs84: bool) -> np.ndarray:
    other = Projection.from_text(code)
    if through_wgs84:
        return np.column_stack(other.from_lonlat(*MONTANA.to_lonlat(PLACES[:, 0], PLACES[:, 1])))
    return np.column_stack(other.from_geodetic(*MONTANA.to_geodetic(PLACES[:, 0], PLACES[:, 1])))


def test_within_one_datum_the_step_is_exact() -> None:
    taken = taken_from(MONTANA, "EPSG:6341", written_in("EPSG:6341", through_wgs84=False))
    assert taken is not None
    assert (taken.accuracy_m, taken.is_true) == (0.0, True)
    assert taken.at == pytest.approx(PLACES, abs=1e-6)


def test_nad27_without_its_grids_is_reached_through_wgs_84_and_said_to_be_coarse() -> None:
    """PROJ says 7 m of the step it has for this state; a ballpark one moves nothing and is far worse."""
    points = written_in("EPSG:32001", through_wgs84=True)
    taken = taken_from(MONTANA, "EPSG:32001", points)
    assert taken is not None
    assert not taken.is_true
    assert 5.0 < taken.accuracy_m < 15.0
    assert taken.at == pytest.approx(PLACES, abs=0.1)
    lon, lat = Projection.from_text("EPSG:32001").to_geodetic(points[:, 0], points[:, 1])
    ballpark = np.column_stack(MONTANA.from_geodetic(lon, lat))
    assert np.hypot(*(ballpark - PLACES).T).min() * MONTANA.unit.metres > 30.0


@pytest.mark.parametrize("code", ["EPSG:6341", "EPSG:32001", "EPSG:26712", "EPSG:6342"])
def test_the_reference_that_leaves_least_is_named(code: str) -> None:
    points = written_in(code, through_wgs84=code in {"EPSG:32001", "EPSG:26712"})
    found = best_reference(MONTANA, points, PLACES, within_m=100.0)
    assert found is not None
    assert found.code == code


def test_an_offset_smaller_than_a_datum_step_tells_no_datum() -> None:
    """NAD83(HARN) and NAD83(2011) differ by a metre here, less than their step is known by."""
    assert best_reference(MONTANA, PLACES + np.array([3.9, 0.0]), PLACES, within_m=100.0) is None


def test_points_that_are_nowhere_have_no_reference() -> None:
    assert best_reference(MONTANA, PLACES * 40.0, PLACES, within_m=100.0) is None
    assert best_reference(MONTANA, np.full((3, 2), 1e300), PLACES[:3], within_m=100.0) is None
    assert in_the_area(MONTANA, np.array([np.nan, 0.0])) == []


def test_references_of_the_own_datum_go_first_and_the_own_is_none_of_them() -> None:
    names = [name for _, name in around(MONTANA)]
    assert names[0].startswith("NAD83(2011) /")
    assert MONTANA.name not in names
