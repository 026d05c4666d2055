"""Line angles of a structure list against the turns of its centres."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.structure_turns import turns_between
from linemap.io.design.structures import read_structures

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
    assert "deflection" not in loaded.mapping
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
