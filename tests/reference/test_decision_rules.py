"""Published conformity decisions: JCGM 106, ILAC-G8 and the national standard for spatial accuracy."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.special import ndtr

from linemap.geometry.uncertainty import coverage_factor, probability_inside

with Path(__file__).with_name("decision_rules.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def of_kind(kind: str) -> list[dict[str, str]]:
    return [row for row in ROWS if row["kind"] == kind]


def numbers(row: dict[str, str], *names: str) -> list[float]:
    return [float(row[name]) for name in names]


@pytest.mark.parametrize("row", of_kind("two-sided"), ids=lambda row: row["case"])
def test_two_sided_tolerance(row: dict[str, str]) -> None:
    value, sigma, tolerance = numbers(row, "value", "sigma", "tolerance")
    seen = float(probability_inside(value, sigma, tolerance))
    expected, rounding = numbers(row, "expected_probability", "tolerance_probability")
    assert seen == pytest.approx(expected, abs=rounding)
    range_of = {"pass": (0.95, 1.0), "cannot tell": (0.05, 0.95), "fail": (0.0, 0.05)}
    low, high = range_of[row["expected_decision"]]
    assert low <= seen <= high
    assert (sigma * coverage_factor() <= tolerance) is (row["expected_capable"] == "yes")


@pytest.mark.parametrize("row", of_kind("one-sided"), ids=lambda row: row["case"])
def test_one_sided_limit(row: dict[str, str]) -> None:
    value, sigma, limit = numbers(row, "value", "sigma", "tolerance")
    expected, rounding = numbers(row, "expected_probability", "tolerance_probability")
    assert ndtr((limit - value) / sigma) == pytest.approx(expected, abs=rounding)


@pytest.mark.parametrize("row", of_kind("guard band"), ids=lambda row: row["case"])
def test_risk_at_the_acceptance_limit(row: dict[str, str]) -> None:
    """A reading at limit - w, with w a multiple of U = 2u, against a tolerance of 1000 u either way."""
    band, sigma, expected, rounding = numbers(
        row, "value", "sigma", "expected_probability", "tolerance_probability"
    )
    limit = 1000.0 * sigma
    seen = probability_inside(limit - band * 2.0 * sigma, sigma, limit)
    assert seen == pytest.approx(expected, abs=rounding)


@pytest.mark.parametrize("row", of_kind("coverage"), ids=lambda row: row["case"])
def test_coverage_factor(row: dict[str, str]) -> None:
    multiple, confidence, rounding = numbers(row, "value", "expected_probability", "tolerance_probability")
    assert coverage_factor(confidence) == pytest.approx(multiple, abs=rounding)
    assert probability_inside(0.0, 1.0, multiple) == pytest.approx(confidence, abs=rounding)


def test_our_decision_never_contradicts_a_guard_band_of_the_expanded_uncertainty() -> None:
    """ILAC-G8 4.2.3 with w = U: its pass is ours, its fail is ours; ours may decide a little more."""
    sigma, tolerance = 0.1, 1.0
    reading = np.linspace(-2.0, 2.0, 4001)
    probability = probability_inside(reading, sigma, tolerance)
    band = 2.0 * sigma
    assert (probability[np.abs(reading) <= tolerance - band] >= 0.95).all()
    assert (probability[np.abs(reading) > tolerance + band] <= 0.05).all()
    assert ((probability > 0.05) & (probability < 0.95)).sum() == 658  # |reading| within 1.645 u of the limit


def test_every_row_is_tested_and_names_its_source() -> None:
    kinds = ("two-sided", "one-sided", "guard band", "coverage")
    assert len(ROWS) == sum(len(of_kind(kind)) for kind in kinds) == 14
    assert all(row["source"] and row["how_sure"] in {"R1", "R2", "R3", "M", "V"} for row in ROWS)
