"""What a new state of a list changes: nothing vanishes unnamed, and nothing is told that did not change."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from shapely import Point

from linemap.domain.crew.material import Receipt
from linemap.domain.design.structure import Pole
from linemap.domain.design.surroundings import ContextFeature
from linemap.domain.kind.compare import compare_records
from linemap.kinds.registry import CONTEXT, POLES, RECEIPTS
from linemap.units import LengthUnit


def pole(letter: str = "A", structure: str = "9/2", **changes: Any) -> Pole:
    return replace(
        Pole(line="N", structure=structure, letter=letter, length_ft=80.0, pole_class="2", source_row=4),
        **changes,
    )


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"length_ft": 85.0}, "pole 9/2 A length 80 ft -> 85 ft"),
        ({"length_ft": 82.5}, "pole 9/2 A length 80 ft -> 82.5 ft"),
        ({"length_ft": None}, "pole 9/2 A length 80 ft -> not given"),
        ({"pole_class": "H1"}, "pole 9/2 A class 2 -> H1"),
        ({"ground_elevation": 812.4}, "pole 9/2 A ground elevation not given -> 812.40 ft"),
        ({"ground_wire": False}, "pole 9/2 A ground wire not given -> no"),
        ({"remarks": "brace"}, "pole 9/2 A remarks not given -> brace"),
    ],
)
def test_each_change_of_a_pole_is_told(changes: dict[str, Any], expected: str) -> None:
    found = compare_records(POLES, [pole()], [pole(**changes)], unit=LengthUnit.FOOT)
    assert [(change.key, change.change, change.words) for change in found] == [
        (("9/2", "A"), "changed", expected)
    ]


def test_poles_that_come_and_go_and_a_row_that_differs() -> None:
    old = [pole("A", "10/1"), pole("B", "10/1"), pole("A"), pole("B")]
    new = [pole("A", "10/1", source_row=9), pole("A"), pole("B"), pole("C")]
    found = compare_records(POLES, old, new, unit=LengthUnit.FOOT)
    assert [(change.key[0], change.words) for change in found] == [
        ("10/1", "pole 10/1 B removed"),
        ("9/2", "pole 9/2 C added"),
    ]


def test_of_records_with_one_key_those_that_are_equal_are_the_same() -> None:
    old = [Receipt(item="brace", received=count) for count in (1, 2, 3)]
    new = [Receipt(item="brace", received=count, row=9) for count in (3, 1, 5, 6)]
    assert [change.words for change in compare_records(RECEIPTS, old, new)] == [
        "receipt of brace received 2 -> 5",
        "receipt of brace added",
    ]


def test_a_shape_that_differs_is_named_and_not_written_out() -> None:
    first, second = (ContextFeature(layer="access", name="A-1", geometry=Point(x, 1)) for x in (1, 2))
    assert [change.words for change in compare_records(CONTEXT, [first], [second])] == [
        "feature access A-1 shape changed"
    ]
