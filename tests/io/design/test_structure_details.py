from collections.abc import Callable

import numpy as np
import pytest

from linemap.errors import InputRefused, Severity
from linemap.geometry.frame import ArmRule
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.structure_details import parse_pole_count, parse_rule, turns_between
from linemap.io.design.structures import read_structures


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("bisector", ArmRule.BISECTOR), ("Bisect", ArmRule.BISECTOR), ("square to line", ArmRule.BISECTOR),
        ("square to span", ArmRule.BISECTOR), ("0", ArmRule.BISECTOR),
        ("back", ArmRule.SQUARE_TO_BACK),
        ("SQUARE_TO_BACK", ArmRule.SQUARE_TO_BACK), ("square to the ahead tangent", ArmRule.SQUARE_TO_AHEAD),
        ("ahead", ArmRule.SQUARE_TO_AHEAD), ("explicit azimuth", ArmRule.AZIMUTH),
    ],
)  # fmt: skip
def test_arm_rules(text: str, rule: ArmRule) -> None:
    assert parse_rule(text) is rule


@pytest.mark.parametrize("text", ["see dwg", ""])
def test_what_is_no_arm_rule(text: str) -> None:
    with pytest.raises(ValueError, match="no arm rule"):
        parse_rule(text)


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("2", 2), ("3", 3), ("3 poles", 3), ("2-pole", 2), ("75-1 (3)", 3), ("A,B", 2), ("ABC", 3),
        ("three", 3), ("4", 4),
    ],
)  # fmt: skip
def test_pole_counts(text: str, count: int) -> None:
    assert parse_pole_count(text) == count


@pytest.mark.parametrize("text", ["70-2", "75-2/70-2", ""])
def test_what_is_no_number_of_poles(text: str) -> None:
    with pytest.raises(ValueError, match="no number of poles"):
        parse_pole_count(text)


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


Table = Callable[..., RawTable]

# a right angle to the right at 1/3
ROWS = [
    ("1/1", 900_000, 2_250_000),
    ("1/2", 901_000, 2_250_000),
    ("1/3", 902_000, 2_250_000),
    ("1/4", 902_000, 2_251_000),
    ("1/5", 902_000, 2_252_000),
]


def notes(table: Table, montana: Projection, angles: dict[str, str]) -> list[tuple[int | None, str]]:
    text = "Str,N,E,Angle\n" + "".join(f"{n},{y},{x},{angles.get(n, '')}\n" for n, y, x in ROWS)
    loaded = read_structures(table(text), projection=montana)
    assert str(loaded.mapping["deflection"]) == "Angle"
    return [(problem.row, problem.reason) for problem in loaded.problems]


@pytest.mark.parametrize("text", ["90-00-00 R", "R 90°", "90.0", "90 00 00 RT"])
def test_angles_that_agree_say_nothing(table: Table, montana: Projection, text: str) -> None:
    assert notes(table, montana, {"1/3": text, "1/2": "TANGENT", "1/4": "0"}) == []


def test_an_angle_on_the_wrong_side_is_noted(table: Table, montana: Projection) -> None:
    ((row, words),) = notes(table, montana, {"1/3": "90-00-00 L"})
    assert row == 4
    assert "says 90°00'00\" L, the coordinates say 90°00'00\" R" in words


@pytest.mark.parametrize(("number", "where"), [("1/2", "after"), ("1/4", "before")])
def test_an_angle_a_row_off_is_known(table: Table, montana: Projection, number: str, where: str) -> None:
    ((_, words),) = notes(table, montana, {number: "90-00-00 R"})
    assert words.endswith(f"it fits the structure in the row {where}")


def test_lines_are_not_joined() -> None:
    assert np.isnan(turns_between(np.array([0.0, 1.0]), np.array([0.0, 0.0]))).all()
