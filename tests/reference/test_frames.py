"""Structure azimuths and design poles worked by hand, and by a separate program on an invented line."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from linemap.geometry.frame import ArmRule, arm_azimuth_deg, as_set, design_poles, structure_azimuth_deg

with Path(__file__).with_name("frames.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))
POLES = [row for row in ROWS if row["a_e"]]
SHIFTS = [row for row in ROWS if row["shift"]]


def number(text: str) -> float:
    return float(text) if text else float("nan")


def azimuth_of(row: dict[str, str], rule: ArmRule) -> NDArray[np.float64]:
    back, ahead, explicit = (number(row[name]) for name in ("azimuth_back", "azimuth_ahead", "explicit"))
    return structure_azimuth_deg([back], [ahead], rule=[rule], explicit=[explicit])


def poles_of(row: dict[str, str], rule: ArmRule) -> NDArray[np.float64]:
    return design_poles(
        [float(row["centre_e"])],
        [float(row["centre_n"])],
        structure_azimuth_deg=azimuth_of(row, rule),
        spacing=[float(row["spacing"]) * float(row["combined_factor"])],
        pole_count=[int(row["pole_count"])],
        a_left=[row["pole_a"] == "left"],
    )


@pytest.mark.parametrize(
    "row", [row for row in ROWS if row["structure_azimuth"]], ids=lambda row: row["case"]
)
def test_azimuths(row: dict[str, str]) -> None:
    azimuth = azimuth_of(row, ArmRule[row["rule"]])
    assert azimuth == pytest.approx(float(row["structure_azimuth"]), abs=1e-6)
    arm = arm_azimuth_deg(azimuth, [row["pole_a"] == "left"])
    assert arm == pytest.approx(float(row["arm_azimuth"]), abs=1e-6)


@pytest.mark.parametrize("row", POLES, ids=lambda row: row["case"])
def test_design_poles(row: dict[str, str]) -> None:
    expected = np.array([[number(row[f"{pole}_{axis}"]) for axis in "en"] for pole in "abc"])
    seen = poles_of(row, ArmRule[row["rule"]])[0]
    assert seen == pytest.approx(expected, abs=float(row["tolerance"]), rel=0.0, nan_ok=True)


@pytest.mark.parametrize("row", POLES, ids=lambda row: row["case"])
def test_poles_set_as_designed_show_no_residual(row: dict[str, str]) -> None:
    expected = np.array([[[number(row[f"{pole}_{axis}"]) for axis in "en"] for pole in "abc"]])
    factor = float(row["combined_factor"])
    seen = as_set(
        [float(row["centre_e"])],
        [float(row["centre_n"])],
        structure_azimuth_deg=azimuth_of(row, ArmRule[row["rule"]]),
        spacing_grid=[float(row["spacing"]) * factor],
        pole_count=[int(row["pole_count"])],
        a_left=[row["pole_a"] == "left"],
        set_poles=expected,
        combined_factor=factor,
    )
    rounding = 2.0 * float(row["tolerance"])
    assert not seen.reversed.any()
    for residual in (seen.along, seen.across, seen.spacing_error, np.nan_to_num(seen.collinearity)):
        assert residual == pytest.approx(0.0, abs=rounding)
    assert seen.rotation_deg == pytest.approx(0.0, abs=np.degrees(rounding / 12.0))
    assert np.isnan(seen.collinearity).item() is (row["pole_count"] == "2")


@pytest.mark.parametrize("row", SHIFTS, ids=lambda row: row["case"])
def test_square_to_one_span_moves_both_poles_of_an_angle_structure(row: dict[str, str]) -> None:
    moved = poles_of(row, ArmRule.SQUARE_TO_BACK) - poles_of(row, ArmRule.BISECTOR)
    reach = np.hypot(moved[0, :2, 0], moved[0, :2, 1])
    assert reach == pytest.approx(float(row["shift"]), abs=float(row["tolerance"]))


def test_every_row_is_tested_and_names_its_source() -> None:
    assert len(ROWS) == 17
    assert all(row["structure_azimuth"] or row["shift"] for row in ROWS)
    assert all(row["source"] and row["how_sure"] in {"R1", "R2", "R3", "M", "V"} for row in ROWS)
