"""Tolerances: starting values, files, refusals."""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from typing import Any

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.tolerance import Tolerance, Tolerances
from linemap.errors import InputRefused
from linemap.units import LengthUnit

FEET = Tolerances.default(LengthUnit.FOOT)
KINDS = ("rotation_deg", "along_tangent", "along_angle", "across", "spacing", "collinearity")


def test_starting_values_in_feet() -> None:
    values = {key: getattr(FEET, key).value for key in KINDS}
    assert values == {
        "rotation_deg": 1.0, "along_tangent": 1.0, "along_angle": 0.25, "across": 0.25,
        "spacing": 0.20, "collinearity": 0.25,
    }  # fmt: skip
    assert (FEET.shot_sigma, FEET.common_sigma, FEET.confidence) == (0.03, 0.02, 0.95)
    assert FEET.unit == "ft"
    assert all("no source" in getattr(FEET, key).source for key in KINDS)


def test_metric_lines_start_with_the_same_lengths() -> None:
    metres = Tolerances.default(LengthUnit.METRE)
    assert metres.rotation_deg == FEET.rotation_deg
    assert metres.unit == "m"
    for key in KINDS[1:]:
        assert getattr(metres, key).value == pytest.approx(getattr(FEET, key).value * 0.3048)
    assert metres.shot_sigma == pytest.approx(0.009144)


def test_us_survey_feet_start_like_feet() -> None:
    assert Tolerances.default(LengthUnit.US_SURVEY_FOOT) == FEET


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_what_is_read_is_what_was_written(unit: LengthUnit) -> None:
    tolerances = Tolerances.default(unit)
    written = {
        name: {"value": value["value"], "unit": value["unit"], "source": value["source"]}
        if isinstance(value, dict)
        else value
        for name, value in asdict(tolerances).items()
    }
    assert set(written) == {field.name for field in fields(Tolerances)}
    assert Tolerances.from_mapping(json.loads(json.dumps(written)), unit) == tolerances


def test_only_what_is_named_changes() -> None:
    read = Tolerances.from_mapping(
        {"rotation_deg": 0.5, "spacing": {"value": 0.1, "source": "specification 4.2"}, "shot_sigma": 0.05},
        LengthUnit.FOOT,
    )
    assert read.rotation_deg.value == 0.5
    assert read.rotation_deg.source == "given without a source"
    assert (read.spacing.value, read.spacing.source) == (0.1, "specification 4.2")
    assert read.shot_sigma == 0.05
    assert read.across == FEET.across
    assert Tolerances.from_mapping({}, LengthUnit.FOOT) == FEET


def test_lengths_in_the_other_unit_are_converted() -> None:
    in_feet = Tolerances.from_mapping({"across": {"value": 0.1, "unit": "m"}}, LengthUnit.FOOT)
    assert in_feet.across.value == pytest.approx(0.328084, abs=1e-6)
    assert in_feet.across.unit == "ft"
    in_metres = Tolerances.from_mapping({"across": {"value": 0.25, "unit": "ft"}}, LengthUnit.METRE)
    assert in_metres.across.value == pytest.approx(0.0762)
    same = Tolerances.from_mapping({"across": {"value": 0.25, "unit": "ft"}}, LengthUnit.US_SURVEY_FOOT)
    assert same.across.value == 0.25


@pytest.mark.parametrize(
    ("mapping", "column"),
    [
        ({"lean": 1.0}, "lean"),
        ({"rotation_deg": 0.0}, "rotation_deg"),
        ({"rotation_deg": -1}, "rotation_deg"),
        ({"spacing": "0.2"}, "spacing"),
        ({"spacing": None}, "spacing"),
        ({"spacing": True}, "spacing"),
        ({"spacing": float("nan")}, "spacing"),
        ({"spacing": float("inf")}, "spacing"),
        ({"spacing": {"unit": "ft"}}, "spacing"),
        ({"spacing": {"value": 0.2, "units": "ft"}}, "spacing.units"),
        ({"spacing": {"value": 0.2, "unit": "cubit"}}, "spacing.unit"),
        ({"spacing": {"value": 0.2, "unit": "deg"}}, "spacing.unit"),
        ({"rotation_deg": {"value": 0.2, "unit": "ft"}}, "rotation_deg.unit"),
        ({"shot_sigma": 0}, "shot_sigma"),
        ({"common_sigma": -0.01}, "common_sigma"),
        ({"confidence": 0.4}, "confidence"),
        ({"confidence": 95}, "confidence"),
    ],
)
def test_refusals_name_the_key(mapping: dict[str, Any], column: str) -> None:
    with pytest.raises(InputRefused) as refused:
        Tolerances.from_mapping(mapping, LengthUnit.FOOT, file="tolerances.json")
    assert [(p.file, p.column) for p in refused.value.problems] == [("tolerances.json", column)]
    assert refused.value.problems[0].remedy


def test_a_list_is_no_table_of_tolerances() -> None:
    with pytest.raises(InputRefused, match="not a table of tolerances"):
        Tolerances.from_mapping([1.0], LengthUnit.FOOT)  # type: ignore[arg-type]


def test_all_problems_come_at_once() -> None:
    with pytest.raises(InputRefused) as refused:
        Tolerances.from_mapping({"lean": 1, "across": 0, "confidence": 2}, LengthUnit.FOOT)
    assert [p.column for p in refused.value.problems] == ["lean", "across", "confidence"]


def test_no_common_error_is_allowed() -> None:
    assert Tolerances.from_mapping({"common_sigma": 0}, LengthUnit.FOOT).common_sigma == 0.0


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(1.0, "deg", "±1.0°"), (0.25, "deg", "±0.25°"), (0.2, "ft", "±0.20 ft"), (0.0762, "m", "±0.076 m")],
)
def test_printed(value: float, unit: str, text: str) -> None:
    assert str(Tolerance(name="x", value=value, unit=unit, source="")) == text


@settings(max_examples=examples(50))
@given(st.dictionaries(st.sampled_from(KINDS), st.floats(1e-6, 1e6), max_size=6))
def test_any_positive_numbers_are_taken_as_they_are(mapping: dict[str, float]) -> None:
    read = Tolerances.from_mapping(mapping, LengthUnit.FOOT)
    assert {key: getattr(read, key).value for key in mapping} == mapping
