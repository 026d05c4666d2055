"""Structures are followed to their new number by where they stand; records follow the list that was seen."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from linemap.domain.design.list_numbers import ListOfLine, numbers_of
from linemap.domain.design.renumbered import renumbered
from linemap.domain.design.revision import compare
from linemap.domain.design.structure import Structures
from linemap.units import LengthUnit


def listed(**places: float) -> Structures:
    return Structures.from_columns(
        number=[name.lstrip("n") for name in places],
        easting=list(places.values()),
        northing=[0.0] * len(places),
    )


def test_numbers_that_shift_along_the_line_are_followed_and_one_left_without_a_place_is_gone() -> None:
    old, new = listed(n1=0.0, n2=600.0, n3=1200.0), listed(n2=0.0, n3=600.5, n4=1800.0)
    stands_as = renumbered(old, new, LengthUnit.FOOT)
    assert stands_as == {"1": "2", "2": "3"}
    found = compare(old, new, unit=LengthUnit.FOOT, stands_as=stands_as)
    assert [(each.number, each.words) for each in found] == [
        ("2", "number 1 -> 2"),
        ("3", "removed"),
        ("3", "moved 0.50 ft"),
        ("3", "number 2 -> 3"),
        ("4", "added"),
    ]


def test_structures_that_share_a_place_or_have_none_are_not_followed() -> None:
    shared = listed(n1=0.0, n2=0.0)
    assert renumbered(shared, listed(n7=0.0), LengthUnit.FOOT) == {}
    assert renumbered(listed(n1=np.nan), listed(n7=0.0), LengthUnit.FOOT) == {}
    assert renumbered(listed(n1=0.0), listed(n7=1.1), LengthUnit.FOOT) == {}


CAME = {label: datetime(2026, 5, day, tzinfo=UTC) for label, day in (("A", 1), ("B", 10), ("", 20))}
NUMBERS = numbers_of(
    [
        ("North", ListOfLine(at=CAME["A"], label="A")),
        ("North", ListOfLine(at=CAME["B"], label="B", renumbered={"1/1": "1/2", "1/2": "1/3"})),
        ("North", ListOfLine(at=CAME[""], label="", renumbered={"1/3": "7", "1/2": "6"})),
    ]
)


@pytest.mark.parametrize(
    ("seen", "recorded", "received", "now"),
    [
        ("A", 5, 5, "6"),
        ("A", 15, 16, "6"),
        ("A", 25, 26, "6"),
        ("B", 15, 16, "1/1"),
        ("20 May 2026", 21, 22, "1/1"),
        ("", 5, 6, "6"),
        ("", 15, 16, "1/1"),
        ("Z", 5, 6, "6"),
    ],
)
def test_a_record_goes_where_the_list_its_recorder_saw_leads(
    seen: str, recorded: int, received: int, now: str
) -> None:
    at, came = (datetime(2026, 5, day, 12, tzinfo=UTC) for day in (recorded, received))
    assert NUMBERS.now("North", "1/1", seen=seen, at=at, received_at=came) == now
    assert NUMBERS.now("South", "1/1", seen=seen, at=at, received_at=came) == "1/1"


def test_a_number_is_known_by_all_it_ever_was_however_written() -> None:
    assert NUMBERS.before("North", "7") == {"7", "1/3", "1/2"}
    assert NUMBERS.before("North", "9") == {"9"}
    assert NUMBERS.now("North", "01/01", seen="A", at=CAME["A"], received_at=CAME["A"]) == "6"
