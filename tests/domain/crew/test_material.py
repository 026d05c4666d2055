"""What is missing at a structure, by the schedule and the yard's list."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.crew.material import Receipt, needs_material, same_item, shortages
from linemap.domain.design.structure import Pole

DUE = date(2026, 6, 12)
POLES = [Pole(line="N", structure="13/2", letter=letter, length_ft=75.0, pole_class="H1") for letter in "ABC"]


def receipt(item: str, received: int, **changes: object) -> Receipt:
    return Receipt(item=item, structure="13/2", received=received, **changes)  # type: ignore[arg-type]


def test_two_of_three_poles_are_missing_and_what_was_sent_instead_does_not_count() -> None:
    rows = [receipt("75-H1 pole", 1, ordered=3, due=DUE), receipt("75-1 poles", 2, remarks="sent instead")]
    (found,) = shortages(rows, POLES)
    assert (found.item, found.needed, found.received, found.due) == ("H1-75 pole", 3, 1, DUE)
    assert found.words == "two H1-75 poles missing"


def test_damaged_poles_did_not_come() -> None:
    (found,) = shortages([receipt("H1-75", 3, damaged=1)], POLES)
    assert found.words == "one H1-75 pole missing"


def test_other_items_are_missing_by_what_was_ordered() -> None:
    rows = [receipt("H1-75", 3), receipt("X-brace set", 0, ordered=1), receipt("x-brace  SET", 0, ordered=1)]
    assert [one.words for one in shortages(rows, POLES)] == ["two x-brace sets missing"]


def test_nothing_is_known_of_a_structure_that_no_row_names() -> None:
    assert shortages([], POLES) == ()


def test_without_sizes_in_the_schedule_the_order_counts() -> None:
    unsized = [Pole(line="N", structure="13/2", letter="A")]
    assert [one.missing for one in shortages([receipt("H1-75", 1, ordered=3)], unsized)] == [2]


@pytest.mark.parametrize(
    ("text", "known"),
    [("H1-75", "H1-75 pole"), ("75/2 pole", "75-2 pole"), ("2-75", "75-2 pole"), ("Arm 25 ft", "arm 25 ft")],
)
def test_items_have_one_spelling(text: str, known: str) -> None:
    assert same_item(text) == known
    assert same_item(known) == known


@given(counts=st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=1, max_size=5))
def test_missing_and_received_make_up_what_is_needed(counts: list[tuple[int, int]]) -> None:
    rows = [receipt("H1-75", came, damaged=bad) for came, bad in counts]
    usable = sum(max(0, came - bad) for came, bad in counts)
    found = shortages(rows, POLES)
    assert sum(one.missing for one in found) == max(0, 3 - usable)
    assert shortages(reversed(rows), POLES) == found


def test_framing_waits_for_material_and_digging_does_not() -> None:
    assert [needs_material(step) for step in ("spotted", "framed", "set", "dug", "staked")] == [
        True, True, True, False, False,
    ]  # fmt: skip


@pytest.mark.parametrize("changes", [{"item": " "}, {"received": -1}, {"ordered": -2}])
def test_what_cannot_be_is_refused(changes: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"names no item|negative"):
        Receipt(**{"item": "H1-75", **changes})  # type: ignore[arg-type]
