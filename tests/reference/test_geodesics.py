"""Published shortest lines, and two independent programs against each other."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from geographiclib.test import test_geodesic as published
from pyproj import Geod

from linemap.geometry.bearing import azimuth_deg
from linemap.geometry.crs import geodesic
from linemap.geometry.projection import Projection

with Path(__file__).with_name("geodesics.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
ON_A_GRID = [row for row in ROWS if row["crs"]]
#: latitude and longitude of each end, azimuths onwards, length: 20 lines of Karney's GeodTest set.
LINES = [(*line[:3], *line[3:7]) for line in published.GeodesicTest.testcases]


def degrees(text: str) -> float:
    """Decimal degrees, or degrees, minutes and seconds with one sign in front."""
    parts = [float(part) for part in text.lstrip("-").split()]
    size = sum(part / 60.0**place for place, part in enumerate(parts))
    return -size if text.startswith("-") else size


def ends(row: dict[str, str]) -> tuple[float, float, float, float]:
    return (
        degrees(row["longitude_1"]), degrees(row["latitude_1"]),
        degrees(row["longitude_2"]), degrees(row["latitude_2"]),
    )  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["case"])
def test_length_and_azimuths(row: dict[str, str]) -> None:
    length, forward, back = geodesic(*ends(row), geod=Geod(ellps=row["ellipsoid"]))
    assert length == pytest.approx(float(row["length_m"]), abs=float(row["tolerance"]))
    for seen, printed in ((forward, row["azimuth_forward"]), (back, row["azimuth_back"])):
        if printed:
            assert seen == pytest.approx(degrees(printed), abs=float(row["tolerance_arcsec"]) / 3600.0)


@pytest.mark.parametrize("row", ON_A_GRID, ids=lambda row: row["case"])
def test_grid_length_bearing_and_line_scale(row: dict[str, str]) -> None:
    projection = Projection.from_text(row["crs"])
    lon1, lat1, lon2, lat2 = ends(row)
    start, end = projection.from_geodetic(lon1, lat1), projection.from_geodetic(lon2, lat2)
    grid, seen = np.hypot(*np.subtract(end, start)), projection.geodesic_length(start, end)
    assert grid == pytest.approx(float(row["grid_length"]), abs=float(row["tolerance"]))
    assert seen == pytest.approx(float(row["length_m"]), abs=float(row["tolerance"]))
    printed = float(row["line_scale"])
    assert grid / seen == pytest.approx(printed, abs=float(row["tolerance_scale"]))
    bearing = azimuth_deg(end[0] - start[0], end[1] - start[1])
    assert bearing == pytest.approx(degrees(row["grid_bearing"]), abs=0.011 / 3600.0)


@pytest.mark.parametrize("row", ON_A_GRID, ids=lambda row: row["case"])
def test_simpson_scale_of_a_line_from_point_scales(row: dict[str, str]) -> None:
    """Line scale = (k1 + 4 km + k2) / 6, the rule printed with the table."""
    projection = Projection.from_text(row["crs"])
    lon1, lat1, lon2, lat2 = ends(row)
    easting, northing = projection.from_geodetic([lon1, lon2], [lat1, lat2])
    middle = easting.mean(), northing.mean()
    scale, _ = projection.factors_at([*easting, middle[0]], [*northing, middle[1]])
    seen = (scale[0] + 4.0 * scale[2] + scale[1]) / 6.0
    assert seen == pytest.approx(float(row["line_scale"]), abs=float(row["tolerance_scale"]))


def test_twenty_published_lines() -> None:
    lat1, lon1, azimuth1, lat2, lon2, azimuth2, length = np.array(LINES).T
    seen, forward, back = geodesic(lon1, lat1, lon2, lat2)
    assert len(LINES) == 20
    assert np.abs(seen - length).max() < 1e-8
    assert np.abs(np.remainder(forward - azimuth1 + 180.0, 360.0) - 180.0).max() < 1e-12
    assert np.abs(np.remainder(back - azimuth2, 360.0) - 180.0).max() < 1e-12


def test_agrees_with_geographiclib_on_spans_and_long_lines() -> None:
    draw = np.random.default_rng(115)
    lon1, lat1 = draw.uniform(-180.0, 180.0, 150), draw.uniform(-80.0, 80.0, 150)
    reach = np.repeat([0.003, 1.0, 40.0], 50)
    lon2, lat2 = lon1 + draw.uniform(-1.0, 1.0, 150) * reach, np.clip(lat1 + reach / 3.0, -89.0, 89.0)
    seen = np.array(geodesic(lon1, lat1, lon2, lat2)).T
    for (length, forward, back), *line in zip(seen, lat1, lon1, lat2, lon2, strict=True):
        other = Geodesic.WGS84.Inverse(*line)
        assert length == pytest.approx(other["s12"], abs=1e-8)
        assert np.remainder(forward - other["azi1"] + 180.0, 360.0) == pytest.approx(180.0, abs=1e-9)
        assert np.remainder(back - other["azi2"], 360.0) == pytest.approx(180.0, abs=1e-9)


def test_every_row_names_its_source() -> None:
    assert len(ROWS) == 10
    assert all(row["source"] and row["how_sure"] in {"R1", "R2", "R3", "M", "V"} for row in ROWS)
