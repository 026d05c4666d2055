from __future__ import annotations

from linemap.domain.crew.material import Receipt
from linemap.domain.design.structure import Pole
from linemap.domain.framing.bundle import bundle, bundle_sentences, bundle_shortages
from linemap.domain.framing.framing_type import FramingType

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
