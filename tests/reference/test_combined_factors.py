"""Published elevation factors, combined factors, reductions and foot definitions."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from pyproj import Geod

from linemap.geometry.projection import MEAN_RADIUS_M, combined_factor, elevation_factor, grid_to_ground
from linemap.units import LengthUnit, convert_length

with Path(__file__).with_name("combined_factors.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def of_kind(kind: str) -> list[dict[str, str]]:
    return [row for row in ROWS if row["kind"] == kind]


def radius_m(text: str) -> float:
    """Read "default", "20906000 ft" or "latitude 37.39"."""
    if text == "default":
        return MEAN_RADIUS_M
    first, second = text.split()
    if first != "latitude":
        return float(first) * 0.3048
    ellipsoid = Geod(ellps="GRS80")  # of which sqrt(M N) is meant
    return ellipsoid.b / (1.0 - ellipsoid.es * math.sin(math.radians(float(second))) ** 2)


@pytest.mark.parametrize("row", of_kind("factor"), ids=lambda row: row["case"])
def test_factors(row: dict[str, str]) -> None:
    unit, tolerance = LengthUnit(row["unit"]), float(row["tolerance"])
    seen = elevation_factor(float(row["height"]), unit, radius_m=radius_m(row["radius"]))
    if row["elevation_factor"]:
        assert seen == pytest.approx(float(row["elevation_factor"]), abs=tolerance)
    both = combined_factor(float(row["grid_scale"]), seen)
    assert both == pytest.approx(float(row["combined_factor"]), abs=tolerance)


@pytest.mark.parametrize("row", of_kind("reduction"), ids=lambda row: row["case"])
def test_reductions(row: dict[str, str]) -> None:
    factor, ground, grid = (float(row[name]) for name in ("combined_factor", "ground", "grid"))
    assert ground * factor == pytest.approx(grid, abs=float(row["tolerance"]))
    assert grid_to_ground(grid, factor) == pytest.approx(ground, abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", of_kind("unit"), ids=lambda row: row["case"])
def test_feet(row: dict[str, str]) -> None:
    source, target = LengthUnit(row["from_unit"]), LengthUnit(row["to_unit"])
    seen = convert_length(float(row["value"]), source=source, target=target)
    assert seen == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]), rel=0.0)


def test_the_two_feet_of_a_state_plane_point_differ_by_more_than_a_tolerance() -> None:
    """NCAT, Pennsylvania South: 407,886.681 m is 1,338,208.220 ftUS or 1,338,210.896 ft."""
    metres = 407_886.681
    survey = convert_length(metres, source=LengthUnit.METRE, target=LengthUnit.US_SURVEY_FOOT)
    international = convert_length(metres, source=LengthUnit.METRE, target=LengthUnit.FOOT)
    assert international - survey == pytest.approx(2.676, abs=0.001)


def test_every_row_is_tested_and_names_its_source() -> None:
    assert len(ROWS) == sum(len(of_kind(kind)) for kind in ("factor", "reduction", "unit")) == 14
    assert all(row["source"] and row["how_sure"] in {"R1", "R2", "R3", "M", "V"} for row in ROWS)
