from __future__ import annotations

import pytest

from linemap.io.cells.answer import parse_yes
from linemap.io.cells.table import Cell


@pytest.mark.parametrize(
    ("cell", "answer"),
    [("YES", True), ("x", True), (True, True), (1.0, True),
     ("", False), (None, False), ("No", False), (0.0, False)],
)  # fmt: skip
def test_yes_and_no(cell: Cell, answer: bool) -> None:
    assert parse_yes(cell) is answer


@pytest.mark.parametrize("cell", ["maybe", "2", "ask the engineer"])
def test_anything_else_is_neither(cell: Cell) -> None:
    assert parse_yes(cell) is None
