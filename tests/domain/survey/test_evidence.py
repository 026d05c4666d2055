"""Labels reversed or frame turned: the truth table of second evidence."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.structure import Pole
from linemap.domain.survey.evidence import Conclusion, decide
from linemap.domain.survey.fact import Face, PointedBy, PoleLetter, RecordedFact, Side, What


def pole(letter: str, length: float, pole_class: str = "2", *, wired: bool = False) -> Pole:
    return Pole(
        line="North",
        structure="6/4",
        letter=letter,
        length_ft=length,
        pole_class=pole_class,
        ground_wire=wired,
    )


UNEQUAL = (pole("A", 75.0), pole("B", 70.0, wired=True))
EQUAL = (pole("A", 70.0), pole("B", 70.0))


def seen(what: What, **fields: Any) -> RecordedFact:
    return RecordedFact(structure="6/4", what=what, who="Otter", on=dt.date(2026, 5, 13), **fields)


def brand(
    letter: PoleLetter, length: float | None, *, by: PointedBy = "place", pole_class: str = ""
) -> RecordedFact:
    return seen("brand", pole=letter, pointed_by=by, length_ft=length, pole_class=pole_class)


def wire(letter: PoleLetter, *, by: PointedBy = "place") -> RecordedFact:
    return seen("ground wire", pole=letter, pointed_by=by)


def tag(letter: PoleLetter, looking: Face, side: Side) -> RecordedFact:
    return seen("tag", pole=letter, looking=looking, side=side)


def arm(face: Face) -> RecordedFact:
    return seen("arm face", face=face)


def test_unequal_legs_with_the_75_in_the_place_of_b_are_a_turned_frame() -> None:
    """6/4 of the invented line: scheduled A 75, B 70; 70 stands at A's place, 75 at B's."""
    decided = decide([brand("A", 70.0), brand("B", 75.0)], coordinates_reversed=True, schedule=UNEQUAL)
    assert decided.conclusion is Conclusion.FRAME
    assert decided.words == "the frame stands turned: pole A is in the place of B"
    assert decided.reasons == (
        "brand 70 in the place of A: it is the 70-2 of pole B",
        "brand 75 in the place of B: it is the 75-2 of pole A",
    )
    assert decided.asks_for == ""


def test_unequal_legs_in_their_places_mean_the_labels_are_reversed() -> None:
    decided = decide([brand("A", 75.0)], coordinates_reversed=True, schedule=UNEQUAL)
    assert decided.conclusion is Conclusion.LABELS
    assert decided.words == "the frame stands as designed: exchange the labels A and B"


def test_equal_legs_stay_open_whatever_the_brands_say() -> None:
    """2/3 of the invented line: two poles of 70."""
    decided = decide([brand("A", 70.0), brand("B", 70.0)], coordinates_reversed=True, schedule=EQUAL)
    assert decided.conclusion is Conclusion.OPEN
    assert decided.words == "the facts do not tell labels from frame"
    assert decided.reasons[0] == "brand 70 in the place of A: fits both poles"
    assert decided.asks_for == "a photo looking ahead, with the tag of A in it"


def test_equal_lengths_of_unequal_class_are_told_by_the_class() -> None:
    poles = (pole("A", 75.0, "H1"), pole("B", 75.0, "2"))
    assert decide([brand("A", 75.0)], coordinates_reversed=True, schedule=poles).conclusion is Conclusion.OPEN
    by_class = [brand("A", 75.0, pole_class="h1")]
    assert decide(by_class, coordinates_reversed=True, schedule=poles).conclusion is Conclusion.LABELS


#: (what is seen, coordinates exchanged) -> conclusion, for A left, 75 at A, ground wire on B, arm back.
TABLE: list[tuple[RecordedFact, bool, Conclusion]] = [
    (brand("A", 75.0), True, Conclusion.LABELS),
    (brand("A", 70.0), True, Conclusion.FRAME),
    (brand("B", 70.0), True, Conclusion.LABELS),
    (brand("B", 75.0), True, Conclusion.FRAME),
    (brand("A", 75.0), False, Conclusion.AS_DESIGNED),
    (brand("A", 70.0), False, Conclusion.FRAME),
    # a labelled pole stands at the other place when the coordinates are exchanged
    (brand("A", 75.0, by="label"), True, Conclusion.FRAME),
    (brand("A", 70.0, by="label"), True, Conclusion.LABELS),
    (brand("A", 75.0, by="label"), False, Conclusion.AS_DESIGNED),
    (brand("A", 70.0, by="label"), False, Conclusion.FRAME),
    (brand("A", 80.0), True, Conclusion.OPEN),
    (wire("B"), True, Conclusion.LABELS),
    (wire("A"), True, Conclusion.FRAME),
    (wire("B", by="label"), True, Conclusion.FRAME),
    (wire("B"), False, Conclusion.AS_DESIGNED),
    (wire("A", by="label"), False, Conclusion.FRAME),
    (arm("back"), True, Conclusion.LABELS),
    (arm("ahead"), True, Conclusion.FRAME),
    (arm("ahead"), False, Conclusion.FRAME),
    (tag("A", "ahead", "left"), True, Conclusion.LABELS),
    (tag("A", "back", "right"), True, Conclusion.LABELS),
    (tag("B", "ahead", "right"), True, Conclusion.LABELS),
    (tag("B", "back", "left"), True, Conclusion.LABELS),
    (tag("A", "ahead", "right"), True, Conclusion.OPEN),
    (tag("A", "back", "left"), True, Conclusion.OPEN),
    (tag("A", "ahead", "left"), False, Conclusion.AS_DESIGNED),
]


@pytest.mark.parametrize(("fact", "swapped", "conclusion"), TABLE)
def test_each_fact_alone(fact: RecordedFact, swapped: bool, conclusion: Conclusion) -> None:
    decided = decide([fact], coordinates_reversed=swapped, schedule=UNEQUAL, arm_face="back")
    assert decided.conclusion is conclusion
    assert len(decided.reasons) == 1
    assert bool(decided.asks_for) == (conclusion is Conclusion.OPEN)


def test_a_turned_frame_that_the_coordinates_cannot_show_says_so() -> None:
    decided = decide([brand("A", 70.0)], coordinates_reversed=False, schedule=UNEQUAL)
    assert decided.words == (
        "the frame stands turned: pole A is in the place of B; the labels follow the places, so the "
        "coordinates cannot show it"
    )


def test_facts_that_contradict_each_other_leave_it_open() -> None:
    decided = decide([brand("A", 75.0), wire("A")], coordinates_reversed=True, schedule=UNEQUAL)
    assert decided.conclusion is Conclusion.OPEN
    assert decided.words == "the facts contradict each other"
    assert decided.asks_for == "a photo looking ahead, with the tag of A in it"


def test_a_wrong_pole_is_told_as_one() -> None:
    decided = decide([brand("A", 80.0, pole_class="1")], coordinates_reversed=True, schedule=UNEQUAL)
    assert decided.reasons == ("brand 80-1 in the place of A: neither 75-2 of A nor 70-2 of B; wrong pole?",)


def test_without_any_fact_it_asks_for_the_surest_first() -> None:
    decided = decide([], coordinates_reversed=True, schedule=UNEQUAL, arm_face="back")
    assert decided.conclusion is Conclusion.OPEN
    assert decided.words == "no second evidence is recorded"
    assert decided.asks_for == (
        "brands of both poles: 75-2 belongs at A, 70-2 at B; or the pole with the ground wire: it belongs "
        "on B; or the face the arm is on: it belongs on the back face; or a photo looking ahead, with the "
        "tag of A in it"
    )
    nothing = decide([], coordinates_reversed=False, schedule=UNEQUAL)
    assert (nothing.conclusion, nothing.asks_for) == (Conclusion.AS_DESIGNED, "")


def test_three_poles_are_told_by_the_outer_two() -> None:
    poles = (pole("A", 75.0), pole("B", 75.0), pole("C", 80.0))
    decided = decide([brand("C", 75.0)], coordinates_reversed=True, schedule=poles, last="C")
    assert decided.conclusion is Conclusion.FRAME
    assert decided.words == "the frame stands turned: pole A is in the place of C"
    for silent in (brand("B", 75.0), wire("B"), tag("B", "ahead", "left")):
        assert (
            decide([silent], coordinates_reversed=True, schedule=poles, last="C").conclusion
            is Conclusion.OPEN
        )


def test_a_drawing_that_does_not_say_leaves_arm_and_wire_silent() -> None:
    both = (pole("A", 70.0, wired=True), pole("B", 70.0, wired=True))
    facts: list[RecordedFact] = [wire("A"), arm("back")]
    decided = decide(facts, coordinates_reversed=True, schedule=both)
    assert decided.conclusion is Conclusion.OPEN
    assert decided.reasons == (
        "ground wire in the place of A: the schedule does not name one outer pole for it",
        "arm on the back face: the face of the drawing is not known",
    )


@settings(max_examples=examples(100))
@given(
    turned=st.booleans(),
    swapped=st.booleans(),
    a_left=st.booleans(),
    last=st.sampled_from(["B", "C"]),
    by=st.sampled_from(["place", "label"]),
)
def test_true_facts_always_lead_to_the_truth(
    turned: bool, swapped: bool, a_left: bool, last: PoleLetter, by: PointedBy
) -> None:
    """Stand a frame, label it, look at it honestly: the conclusion is how it stands."""
    lengths: dict[PoleLetter, float] = {"A": 75.0, last: 70.0}
    at_place: dict[PoleLetter, PoleLetter] = {"A": last, last: "A"} if turned else {"A": "A", last: last}
    at_label = {
        letter: at_place[last if letter == "A" else "A"] if swapped else at_place[letter]
        for letter in lengths
    }
    stands = at_place if by == "place" else at_label
    face: Face = "ahead" if turned else "back"
    facts: list[RecordedFact] = [brand(letter, lengths[stands[letter]], by=by) for letter in lengths]
    facts.append(wire(next(letter for letter in lengths if stands[letter] == last), by=by))
    facts.append(arm(face))
    schedule = [pole("A", 75.0), pole(last, 70.0, wired=True)]
    expected = Conclusion.FRAME if turned else Conclusion.LABELS if swapped else Conclusion.AS_DESIGNED
    for chosen in itertools.chain([facts], ([fact] for fact in facts)):
        decided = decide(
            chosen,
            coordinates_reversed=swapped,
            schedule=schedule,
            last=last,
            a_left=a_left,
            arm_face="back",
        )
        assert decided.conclusion is expected


@pytest.mark.parametrize("a_left", [True, False])
def test_tags_follow_the_side_of_pole_a(a_left: bool) -> None:
    decided = decide(
        [tag("A", "ahead", "left" if a_left else "right")], coordinates_reversed=True, a_left=a_left
    )
    assert decided.conclusion is Conclusion.LABELS
