import pytest

from linemap.domain.crew.material import Receipt
from linemap.domain.design.structure import Pole
from linemap.domain.framing.framing_type import FramingType
from linemap.domain.framing.material import block_balance, bundle, bundle_sentences, bundle_shortages

DEAD_END = FramingType(code="P3-DE", dimensions={}, pieces={"arm 40 ft": 2, "string 8": 9})
POLES = [Pole(line="", structure="13/2", letter=p, length_ft=75.0, pole_class="H1") for p in "ABC"]


def test_a_bundle_is_poles_by_size_and_what_the_drawing_counts() -> None:
    assert bundle(DEAD_END, POLES) == {"H1-75 pole": 3, "arm 40 ft": 2, "string 8": 9}
    assert bundle(None, POLES) == {"H1-75 pole": 3}
    assert bundle(DEAD_END, []) == {"arm 40 ft": 2, "string 8": 9}


def test_two_poles_short_and_the_rest_of_the_bundle_there() -> None:
    came = [
        Receipt(item="75-H1", received=1, structure="13/2"),
        Receipt(item="Arm 40 ft", received=2, structure="13/2"),
        Receipt(item="string 8", received=9, structure="13/2"),
    ]
    (short,) = bundle_shortages(came, DEAD_END, POLES)
    assert short.words == "two H1-75 poles missing"


def test_what_was_ordered_is_not_asked_for_twice() -> None:
    came = [
        Receipt(item="H1-75", received=3, structure="13/2"),
        Receipt(item="arm 40 ft", ordered=2, received=1, structure="13/2"),
    ]
    found = {short.item: (short.needed, short.received) for short in bundle_shortages(came, DEAD_END, POLES)}
    assert found == {"arm 40 ft": (2, 1)}
    # strings are in no receipt: not known, which is neither there nor missing
    assert bundle_sentences(came, DEAD_END, POLES) == (
        "material: one arm 40 ft missing",
        "material: not known, no receipt names 9 × string 8",
    )


def test_the_count_of_the_drawing_holds_where_nothing_was_ordered() -> None:
    came = [Receipt(item="H1-75", received=3), Receipt(item="string 8", received=7)]
    (short,) = bundle_shortages(came, DEAD_END, POLES)
    assert (short.item, short.needed, short.received) == ("string 8", 9, 7)


def test_a_whole_bundle_in_one_sentence() -> None:
    came = [Receipt(item="H1-75", received=3), Receipt(item="string 8", received=9)]
    came.append(Receipt(item="arm 40 ft", received=2))
    assert bundle_sentences(came, DEAD_END, POLES) == ("material: nothing the receipts name is short",)


def test_a_structure_no_receipt_names_is_not_known() -> None:
    assert bundle_shortages([], DEAD_END, POLES) == ()
    assert bundle_sentences([], DEAD_END, POLES) == (
        "material: not available: no receipt shown here names the structure",
    )


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
