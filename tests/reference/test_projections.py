"""Published map-projection values, each with its source: coordinates, convergence and grid scale."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

with Path(__file__).with_name("projections.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
IDS = [row["case"] for row in ROWS]


def degrees(text: str) -> float:
    """Decimal degrees, or degrees, minutes and seconds with one sign in front."""
    parts = [float(part) for part in text.lstrip("-").split()]
    size = sum(part / 60.0**place for place, part in enumerate(parts))
    return -size if text.startswith("-") else size


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_coordinates(row: dict[str, str]) -> None:
    projection = Projection.from_text(row["crs"])
    easting, northing = projection.from_geodetic(degrees(row["longitude"]), degrees(row["latitude"]))
    ratio = projection.unit.metres / LengthUnit(row["unit"]).metres
    tolerance = float(row["tolerance"])
    assert easting * ratio == pytest.approx(float(row["easting"]), abs=tolerance)
    assert northing * ratio == pytest.approx(float(row["northing"]), abs=tolerance)


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_coordinates_read_backwards(row: dict[str, str]) -> None:
    projection = Projection.from_text(row["crs"])
    ratio = projection.unit.metres / LengthUnit(row["unit"]).metres
    longitude, latitude = projection.to_geodetic(
        float(row["easting"]) / ratio, float(row["northing"]) / ratio
    )
    # A degree is at most 111.7 km on any of these ellipsoids; longitude shrinks, so this is the stricter.
    tolerance = 1.5 * float(row["tolerance"]) * LengthUnit(row["unit"]).metres / 111_000.0
    shrunk = tolerance / 0.6  # cos 53 degrees
    assert longitude == pytest.approx(degrees(row["longitude"]), abs=shrunk)
    assert latitude == pytest.approx(degrees(row["latitude"]), abs=tolerance)


@pytest.mark.parametrize("row", [row for row in ROWS if row["convergence"]], ids=lambda row: row["case"])
def test_convergence_with_the_sign_of_its_table(row: dict[str, str]) -> None:
    projection = Projection.from_text(row["crs"])
    sign = {"proj": 1.0, "opposite": -1.0}[row["convergence_sign"]]
    _, seen = projection.factors(degrees(row["longitude"]), degrees(row["latitude"]))
    tolerance = float(row["tolerance_arcsec"]) / 3600.0
    assert sign * seen == pytest.approx(degrees(row["convergence"]), abs=tolerance)
    _, at_grid = projection.factors_at(float(row["easting"]), float(row["northing"]))
    assert at_grid == pytest.approx(float(seen), abs=tolerance)


@pytest.mark.parametrize("row", [row for row in ROWS if row["grid_scale"]], ids=lambda row: row["case"])
def test_grid_scale(row: dict[str, str]) -> None:
    scale, _ = Projection.from_text(row["crs"]).factors(degrees(row["longitude"]), degrees(row["latitude"]))
    assert scale == pytest.approx(float(row["grid_scale"]), abs=float(row["tolerance_scale"]))


def test_australian_table_prints_convergence_with_the_other_sign() -> None:
    opposite = [row for row in ROWS if row["convergence_sign"] == "opposite"]
    assert {row["crs"] for row in opposite} == {"EPSG:7855"}
    assert all("opposite to PROJ" in row["note"] for row in opposite)
    flinders = next(row for row in opposite if "FLINDERS" in row["case"])
    _, seen = Projection.from_text("EPSG:7855").factors(
        degrees(flinders["longitude"]), degrees(flinders["latitude"])
    )
    assert seen > 1.5 > 0.0 > degrees(flinders["convergence"])


def test_every_row_names_its_source() -> None:
    assert len(ROWS) == 19
    assert all(row["source"] and row["how_sure"] in {"R1", "R2", "R3", "M", "V"} for row in ROWS)
