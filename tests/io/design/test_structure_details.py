from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.errors import InputRefused, Severity
from linemap.geometry.frame import ArmRule
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.structure_details import parse_pole_count, parse_rule
from linemap.io.design.structures import read_structures


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("bisector", ArmRule.BISECTOR), ("Bisect", ArmRule.BISECTOR), ("square to line", ArmRule.BISECTOR),
        ("square to span", ArmRule.BISECTOR), ("0", ArmRule.BISECTOR),
        ("back", ArmRule.SQUARE_TO_BACK),
        ("SQUARE_TO_BACK", ArmRule.SQUARE_TO_BACK), ("square to the ahead tangent", ArmRule.SQUARE_TO_AHEAD),
        ("ahead", ArmRule.SQUARE_TO_AHEAD), ("explicit azimuth", ArmRule.AZIMUTH), ("see dwg", None),
        ("", None),
    ],
)  # fmt: skip
def test_arm_rules(text: str, rule: ArmRule | None) -> None:
    assert parse_rule(text) is rule


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("2", 2), ("3", 3), ("3 poles", 3), ("2-pole", 2), ("75-1 (3)", 3), ("A,B", 2), ("ABC", 3),
        ("three", 3), ("70-2", None), ("75-2/70-2", None), ("", None), ("4", 4),
    ],
)  # fmt: skip
def test_pole_counts(text: str, count: int | None) -> None:
    assert parse_pole_count(text) == count


@pytest.mark.parametrize(
    ("column", "cell", "words"),
    [
        ("arm rule", "see dwg 14", "use bisector, square to back"),
        ("arm rule", "azimuth", "an azimuth and none is given"),
        ("poles", "4", "2 or 3 poles"),
        ("poles", "1", "2 or 3 poles"),
        ("section break", "maybe", "neither yes nor no"),
        ("azimuth", "N 95 E", "azimuth|bearing"),
        ("pole spacing", "0", "above 0"),
        ("pole spacing", "-12.5", "above 0"),
    ],
)
def test_details_that_would_mislead_refuse_the_list(
    table: Callable[..., RawTable], montana: Projection, column: str, cell: str, words: str
) -> None:
    raw = table(f"str,e,n,{column}\n1/1,2250000,900000,{cell}\n")
    with pytest.raises(InputRefused, match=words):
        read_structures(raw, projection=montana)


@pytest.mark.parametrize(
    ("column", "cell", "words"),
    [
        ("poles", "70-2", "sizes, not numbers of poles; 2 are taken unless (3) is written, in 1 rows"),
        ("pole spacing", "0.81", "0.81 ft is unusual, in 1 rows"),
        ("pole spacing (m)", "12.5", "41.01 ft is unusual"),
        ("elev", "high", "taken as not given"),
    ],
)
def test_odd_details_are_noted(
    table: Callable[..., RawTable], montana: Projection, column: str, cell: str, words: str
) -> None:
    raw = table(f"str,e,n,{column}\n1/1,2250000,900000,{cell}\n")
    problems = read_structures(raw, projection=montana).problems
    assert any(words in problem.reason for problem in problems)
    assert {problem.severity for problem in problems} == {Severity.NOTED}
