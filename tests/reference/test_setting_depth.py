"""Setting depths as published, and the trap in them.

`setting_depth.csv` holds the table printed for soil and rock, one row a pole length. The rule of 10 % of the
length + 2 ft, which is quoted beside it (5th edition: 40 ft gives 6.0 ft, 45 ft gives 6.5 ft), equals the
table for soil only from 40 ft up; 25, 30 and 35 ft poles are set 0.5 ft deeper. The words "not under 5 ft"
beside the rule repair 25 ft only.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from linemap.domain.framing.dig import EmbedRule
from linemap.units import LengthUnit

ROWS = list(
    csv.DictReader(Path(__file__).with_name("setting_depth.csv").read_text(encoding="utf-8").splitlines())
)
FOOT = LengthUnit.FOOT
RULE = EmbedRule(percent=10.0, add=2.0)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["length_ft"])
def test_the_rule_and_the_table_part_below_forty_feet(row: dict[str, str]) -> None:
    length, printed = float(row["length_ft"]), float(row["soil_ft"])
    short = 0.0 if row["equals_rule"] == "yes" else 0.5
    assert printed - RULE.minimum(length) == pytest.approx(short, abs=1e-9)
    assert (RULE.note(length, unit=FOOT) != "") == (short > 0.0)


def test_not_under_five_feet_repairs_the_shortest_pole_only() -> None:
    floored = EmbedRule(percent=10.0, add=2.0, least=5.0)
    noted = [float(row["length_ft"]) for row in ROWS if floored.note(float(row["length_ft"]), unit=FOOT)]
    assert noted == [30.0, 35.0]


def test_a_metric_rule_meets_the_same_table() -> None:
    metric = EmbedRule(percent=10.0, add=2.0 * 0.3048)
    assert "6.0 ft deep in soil, the rule 5.5 ft" in metric.note(35.0, unit=LengthUnit.METRE)
    assert metric.note(40.0, unit=LengthUnit.METRE) == ""


def test_a_table_of_the_owner_is_taken_as_it_is() -> None:
    by_drawing = EmbedRule(depth=5.5)
    assert by_drawing.minimum(30.0) == 5.5
    assert by_drawing.note(30.0, unit=FOOT) == ""


def test_rock_depths_are_never_deeper_than_soil() -> None:
    assert all(float(row["rock_ft"]) < float(row["soil_ft"]) for row in ROWS)
    assert [float(row["length_ft"]) for row in ROWS] == [25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0]
