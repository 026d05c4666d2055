from __future__ import annotations

import pytest

from linemap.domain.framing.blocks import block_balance

Key = dict[str, list[dict[str, str]]]


def test_twenty_blocks_are_four_structures(key: Key) -> None:
    hung = [row["structure"] for row in key["status"] if row["blocks hung"] == "1"]
    waiting = [row["structure"] for row in key["status"] if row["blocks hung"] != "1"]
    balance = block_balance(hung, waiting, per_structure=dict.fromkeys(hung + waiting, 5), owned=280)
    assert (balance.hung, balance.left, len(balance.next_structures)) == (260, 20, 4)
    assert balance.words == "blocks: 260 hung of 280 owned, 20 left = 4 structures"
    assert balance.next_structures == tuple(waiting[:4])


def test_a_dead_end_takes_the_blocks_of_two() -> None:
    need = {"1": 5, "2": 10, "3": 5}
    balance = block_balance([], ["1", "2", "3"], per_structure=need, owned=14)
    assert balance.next_structures == ("1",)
    assert balance.words.endswith("14 left = 1 structure")
    assert block_balance([], ["1", "2", "3"], per_structure=need, owned=20).next_structures == ("1", "2", "3")


@pytest.mark.parametrize(
    ("owned", "need", "words"),
    [
        (280, {"1": None}, "no block count is given for the type of 1"),
        (280, {}, "no block count is given for the type of 1"),
        (None, {"1": 5}, "nobody said how many the job owns"),
        (3, {"1": 5}, "5 hang, but 3 are owned"),
    ],
)
def test_a_balance_that_cannot_be_drawn_says_why(
    owned: int | None, need: dict[str, int | None], words: str
) -> None:
    balance = block_balance(["1"], ["2"], per_structure=need, owned=owned)
    assert words in balance.words
    assert balance.words.startswith("blocks left: not available: ")
    assert balance.next_structures == ()


def test_a_structure_without_a_count_ends_the_row() -> None:
    balance = block_balance([], ["1", "2"], per_structure={"1": 5}, owned=100)
    assert balance.next_structures == ("1",)
