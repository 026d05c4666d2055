"""What is missing at a structure, by the schedule and the yard's list."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.crew.material import (
    Receipt,
    block_words,
    bundle,
    bundle_sentences,
    needs_material,
    same_item,
    shortages,
)
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


PIECES = {"arm 40 ft": 2, "string 8": 9}
BUNDLE_POLES = [Pole(line="", structure="13/2", letter=p, length_ft=75.0, pole_class="H1") for p in "ABC"]


def test_a_bundle_is_poles_by_size_and_what_the_drawing_counts() -> None:
    assert bundle(BUNDLE_POLES, PIECES) == {"H1-75 pole": 3, "arm 40 ft": 2, "string 8": 9}
    assert bundle(BUNDLE_POLES) == {"H1-75 pole": 3}
    assert bundle([], PIECES) == {"arm 40 ft": 2, "string 8": 9}


def test_two_poles_short_and_the_rest_of_the_bundle_there() -> None:
    came = [
        Receipt(item="75-H1", received=1, structure="13/2"),
        Receipt(item="Arm 40 ft", received=2, structure="13/2"),
        Receipt(item="string 8", received=9, structure="13/2"),
    ]
    (short,) = shortages(came, BUNDLE_POLES, PIECES)
    assert short.words == "two H1-75 poles missing"


def test_what_was_ordered_is_not_asked_for_twice() -> None:
    came = [
        Receipt(item="H1-75", received=3, structure="13/2"),
        Receipt(item="arm 40 ft", ordered=2, received=1, structure="13/2"),
    ]
    found = {short.item: (short.needed, short.received) for short in shortages(came, BUNDLE_POLES, PIECES)}
    assert found == {"arm 40 ft": (2, 1)}
    # strings are in no receipt: not known, which is neither there nor missing
    assert bundle_sentences(came, BUNDLE_POLES, PIECES) == (
        "material: one arm 40 ft missing",
        "material: not known, no receipt names 9 × string 8",
    )


def test_the_count_of_the_drawing_holds_where_nothing_was_ordered() -> None:
    came = [Receipt(item="H1-75", received=3), Receipt(item="string 8", received=7)]
    (short,) = shortages(came, BUNDLE_POLES, PIECES)
    assert (short.item, short.needed, short.received) == ("string 8", 9, 7)


def test_a_whole_bundle_in_one_sentence() -> None:
    came = [Receipt(item="H1-75", received=3), Receipt(item="string 8", received=9)]
    came.append(Receipt(item="arm 40 ft", received=2))
    assert bundle_sentences(came, BUNDLE_POLES, PIECES) == ("material: nothing the receipts name is short",)


def test_a_structure_no_receipt_names_is_not_known() -> None:
    assert shortages([], BUNDLE_POLES, PIECES) == ()
    assert bundle_sentences([], BUNDLE_POLES, PIECES) == (
        "material: not available: no receipt shown here names the structure",
    )


Key = dict[str, list[dict[str, str]]]


def test_twenty_blocks_are_four_structures(key: Key) -> None:
    hung = [row["structure"] for row in key["status"] if row["blocks hung"] == "1"]
    waiting = [row["structure"] for row in key["status"] if row["blocks hung"] != "1"]
    words = block_words(hung, waiting, per_structure=dict.fromkeys(hung + waiting, 5), owned=280)
    assert words == "blocks: 260 hung of 280 owned, 20 left = 4 structures"


@pytest.mark.parametrize(("owned", "left"), [(14, "14 left = 1 structure"), (20, "20 left = 3 structures")])
def test_a_dead_end_takes_the_blocks_of_two(owned: int, left: str) -> None:
    words = block_words([], ["1", "2", "3"], per_structure={"1": 5, "2": 10, "3": 5}, owned=owned)
    assert words.endswith(left)


@pytest.mark.parametrize(
    ("owned", "need", "words"),
    [
        (280, {"1": None}, "no block count is given for the type of 1"),
        (280, {}, "no block count is given for the type of 1"),
        (3, {"1": 5}, "5 hang, but 3 are owned"),
    ],
)
def test_a_balance_that_cannot_be_drawn_says_why(owned: int, need: dict[str, int | None], words: str) -> None:
    said = block_words(["1"], ["2"], per_structure=need, owned=owned)
    assert words in said
    assert said.startswith("blocks left: not available: ")


def test_a_structure_without_a_count_ends_the_row() -> None:
    assert block_words([], ["1", "2"], per_structure={"1": 5}, owned=100).endswith("= 1 structure")
