"""The World Magnetic Model against its publisher's own test values."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from linemap.geometry.magnetic import magnetic_field

with Path(__file__).with_name("wmm.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def computed(row: dict[str, str]) -> tuple[float, float]:
    degrees, sigma, _ = magnetic_field(
        float(row["longitude"]),
        float(row["latitude"]),
        year=float(row["decimal_year"]),
        height_m=float(row["height_km"]) * 1000.0,
    )
    return degrees, sigma


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['decimal_year']} {row['latitude']}")
def test_declination(row: dict[str, str]) -> None:
    """The values are printed to two decimals."""
    seen, _ = computed(row)
    assert seen == pytest.approx(float(row["declination_deg"]), abs=0.005 + 1e-9)


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row["horizontal_nt"]], ids=lambda row: row["latitude"]
)
def test_uncertainty_follows_the_horizontal_intensity(row: dict[str, str]) -> None:
    """WMM2025 technical report: sigma of D is sqrt(0.26² + (5417 / H)²) degrees."""
    _, sigma = computed(row)
    assert sigma == pytest.approx(math.hypot(0.26, 5417.0 / float(row["horizontal_nt"])), abs=1e-6)


def test_every_row_names_its_source_and_all_years_are_there() -> None:
    assert len(ROWS) == len({tuple(row.values()) for row in ROWS}) == 83
    assert {row["decimal_year"][:4] for row in ROWS} == {"2025", "2026", "2027", "2028", "2029"}
    assert all(row["source"] and row["how_sure"] in {"R1", "R2"} for row in ROWS)
