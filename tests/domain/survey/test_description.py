"""Shot descriptions as crews write them."""

from __future__ import annotations

import re
import time

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.naming import ListedNumbers, Naming
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.survey.description import parse_description
from linemap.domain.survey.description_words import ROLES
from linemap.domain.survey.shot import ParsedDescription

POLES = [
    ("STR 12/3 A", "12/3", "A"),
    ("12-3A", "12/3", "A"),
    ("S12/3 POLE B", "12/3", "B"),
    ("12/3 B GL", "12/3", "B"),
    ("5-5 C GL", "5/5", "C"),
    ("S6/4 POLE A", "6/4", "A"),
    ("6/4B?", "6/4", "B"),
    ("6-4 B (RE-SHOT)", "6/4", "B"),
    ("6-4 B RESHOT 2", "6/4", "B"),
    ("str 06-4 b", "6/4", "B"),
    ("Structure 12 / 3 pole a", "12/3", "A"),
    ("STR12/3A", "12/3", "A"),
    ("12/3-A", "12/3", "A"),
    ("12/3 - A", "12/3", "A"),
    ("12/3 PB", "12/3", "B"),
    ("12/3 LEG A", "12/3", "A"),
    ("POLE A 12/3", "12/3", "A"),
    ("POLE B STR 9/4", "9/4", "B"),
    ("12/3 A CHK", "12/3", "A"),
    ("12/3 A SHOT 2", "12/3", "A"),
    ("12/3 A ; GUY NEXT TO IT", "12/3", "A"),
    # a letter against the number is the pole, unless another pole letter follows
    ("12/3A-A", "12/3A", "A"),
    ("12/3A A", "12/3A", "A"),
    ("12/3A POLE B", "12/3A", "B"),
    ("12/3AB", "12/3A", "B"),
    ("12/3D B", "12/3D", "B"),
    ("12/3.5 A", "12/3.5", "A"),
    # digits exchanged are another structure
    ("2/14 A", "2/14", "A"),
    ("21/4 A", "21/4", "A"),
    ("121/4B", "121/4", "B"),
    ("75-2 STR 12/3 A", "12/3", "A"),
    ("12/3S B", "12/3S", "B"),
    ("A POLE 12/3", "12/3", "A"),
    # plain sequences
    ("45 A 75-2", "45", "A"),
    ("45 A 5/18", "45", "A"),
    ("STR 47 A", "47", "A"),
    ("47A", "47", "A"),
    ("47 A", "47", "A"),
    ("47A-A", "47A", "A"),
]


@pytest.mark.parametrize(("text", "structure", "pole"), POLES)
def test_poles(text: str, structure: str, pole: str) -> None:
    assert parse_description(text) == ParsedDescription(structure=structure, pole=pole, item="pole")
    assert parse_description(f"  {text.lower()}  ").structure == structure


OTHERS = [
    ("CL HUB 5/5", "5/5", "", "hub"),
    ("12/3 C/L HUB", "12/3", "", "hub"),
    ("HUB 12/3 A", "12/3", "A", "hub"),
    ("12/3 A HUB", "12/3", "A", "hub"),
    # offset stakes never pass for the pole they stand beside
    ("12/3 A OS25BK", "12/3", "A", "hub"),
    ("12/3 B OS12.5AH", "12/3", "B", "hub"),
    ("12/3 A OS10L", "12/3", "A", "hub"),
    ("12/3 CL OS25BK", "12/3", "", "hub"),
    ("12/3 A O/S 25 BK", "12/3", "A", "hub"),
    ("12/3 A OFF 25", "12/3", "A", "hub"),
    ("12/3 A OFFS25BK", "12/3", "A", "hub"),
    ("12/3 A 25BK", "12/3", "A", "hub"),
    ("12/3 A 25' BACK", "12/3", "A", "hub"),
    ("25 FT AHEAD 12/3 B", "12/3", "B", "hub"),
    ("12/3A A OS25BK", "12/3A", "A", "hub"),
    ("STR 47A A HUB", "47A", "A", "hub"),
    # the letter before CL is the structure's own
    ("12/3A CL HUB", "12/3A", "", "hub"),
    ("12/3B C/L HUB", "12/3B", "", "hub"),
    ("STR 47A CL OS25AH", "47A", "", "hub"),
    ("12/3A HUB", "12/3", "A", "hub"),
    # the hub of an anchor is no anchor
    ("12/3 ANC HUB AH L", "12/3", "", "hub"),
    ("12/3A ANC HUB AH L", "12/3A", "", "hub"),
    ("LATH ANC 12/3 AH L", "12/3", "", "hub"),
    ("12/3A ANC AH L", "12/3", "A", "anchor"),
    ("CP-3 CHECK", "", "", "check"),
    ("5/8 REBAR", "", "", "check"),
    ("ANC 12/3 AH L", "12/3", "", "anchor"),
    ("GUY 12/3 BK R", "12/3", "", "anchor"),
    ("XING GAS MKR", "", "", "crossing"),
    ("12/3 GL", "12/3", "", "ground"),
    ("NG", "", "", "ground"),
    ("STR 12/3", "12/3", "", "other"),
    ("12/3 CL", "12/3", "", "centre"),
    ("12/3 A BK FACE", "12/3", "A", "face"),
    ("12/3 A TOP", "12/3", "A", "top"),
    ("12/3 ARM L", "12/3", "", "tip"),
    ("12/3 A CL", "", "", "other"),
    ("12/3 BK A", "12/3", "", "other"),
    ("12/3 ANC A", "12/3", "", "anchor"),
    ("5-12 12/3 A", "5/12", "", "other"),
    ("12/3 A OR B", "", "", "other"),
    ("TREE 12/3 A", "", "", "other"),
    ("?", "", "", "other"),
    ("", "", "", "other"),
    (";12/3 A", "", "", "other"),
    ("6 IN VALVE", "", "", "other"),
    ("H1-75 A", "", "", "other"),
    ("5-12-26", "", "", "other"),
    ("12/34567890 A", "", "", "other"),
    ("12/3 AGL", "12/3", "", "other"),
    ("12/3 AH", "12/3", "", "other"),
    ("12/3 BK", "12/3", "", "other"),
    ("5/8 BK", "5/8", "", "other"),
]


@pytest.mark.parametrize(("text", "structure", "pole", "item"), OTHERS)
def test_what_is_no_pole_shot(text: str, structure: str, pole: str, item: str) -> None:
    parsed = parse_description(text)
    assert (parsed.structure, parsed.pole, parsed.item) == (structure, pole, item)


@settings(max_examples=examples(150))
@given(
    mile=st.integers(0, 999),
    sequence=st.integers(1, 99),
    pole=st.sampled_from("ABC"),
    before=st.sampled_from(["", "STR ", "S", "STR. ", "Structure "]),
    slash=st.sampled_from(["/", "-", " / ", " - "]),
    between=st.sampled_from(["", " ", "-", " - ", " POLE ", " P", " LEG "]),
    after=st.sampled_from(["", " GL", " (RE-SHOT)", "?", " ; note 4/4 C", ",", " CHK"]),
)
def test_every_way_of_writing_a_pole_reads_the_same(
    mile: int, sequence: int, pole: str, before: str, slash: str, between: str, after: str
) -> None:
    parsed = parse_description(f"{before}{mile}{slash}{sequence}{between}{pole}{after}")
    assert parsed == ParsedDescription(structure=f"{mile}/{sequence}", pole=pole, item="pole")


@settings(max_examples=examples(200))
@given(st.text(max_size=40))
def test_any_text_is_read_without_error_and_invents_no_digits(text: str) -> None:
    parsed = parse_description(text)
    assert parsed.pole in {"", "A", "B", "C"}
    assert (parsed.item == "pole") <= bool(parsed.structure and parsed.pole)
    for digits in parsed.structure.rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ").replace(".", "/").split("/"):
        assert digits in text or digits.lstrip("0") in text


INSERTED = Naming(
    listed=ListedNumbers({"N": dict.fromkeys(("2", "12/3", "12/3A", "12/4", "45", "45A", "46"), 2)})
)


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("12/3A", ("structure 12/3A", "pole A of 12/3")),
        ("STR 12-3a", ("structure 12/3A", "pole A of 12/3")),
        ("12/3A ; POLE B", ("structure 12/3A", "pole A of 12/3")),
        ("45A TOP", ("top of 45A", "top of pole A of 45")),
        ("45 A CL", ("pole A of 45", "centre of 45")),
        ("45", ("structure 45",)),
        ("45 A OAK", ("pole A of 45",)),
        ("POLE 2", ("structure 2", "pole B of a structure that is not named")),
    ],
)
def test_what_reads_two_ways_is_asked_with_its_readings(text: str, readings: tuple[str, ...]) -> None:
    found = parse_description(text, INSERTED)
    assert (found.structure, found.pole, found.item) == ("", "", "other")
    assert set(found.readings) == set(readings)


@pytest.mark.parametrize(
    "text", ["12/3 A", "12/3A-B", "12/3A CL", "12/4A", "45A B", "?", "", "45+25", "GUY AH L"]
)
def test_what_says_one_thing_or_nothing_has_no_readings(text: str) -> None:
    assert parse_description(text, INSERTED).readings == ()


def test_the_owners_words_name_the_poles_of_readings() -> None:
    naming = Naming(listed=INSERTED.listed, poles=PoleWords.parse("L/R"))
    assert parse_description("45 L OAK", naming).readings == ("pole L of 45",)


@pytest.mark.parametrize(
    ("text", "pole", "item"),
    [
        ("A", "A", "pole"),
        ("45 A TOP", "A", "top"),
        ("WOOD, B, NEW", "B", "pole"),
        ("GL", "", "ground"),
        ("A OR B", "", "other"),
        ("", "", "other"),
    ],
)
def test_beside_a_column_for_the_structure_a_description_says_pole_and_item(
    text: str, pole: str, item: str
) -> None:
    found = parse_description(text, INSERTED, structure="45")
    assert (found.structure, found.pole, found.item) == ("45", pole, item)


@settings(max_examples=examples(200))
@given(
    st.lists(
        st.sampled_from([*sorted(ROLES), "A", "B", "45", "45A", "12/3", "7", "OAK", "-", "/"]), max_size=12
    )
)
def test_what_is_read_of_a_list_stands_in_the_description(words: list[str]) -> None:
    text = " ".join(words)
    found = parse_description(text, INSERTED)
    assert not (found.structure and found.readings)
    assert (found.item == "pole") <= bool(found.structure and found.pole)
    if INSERTED.listed.has(found.structure):
        digits = re.findall(r"\d+", found.structure)
        assert digits
        assert set(digits) <= set(re.findall(r"\d+", text))


@pytest.mark.parametrize(
    "text", ["45 ANC " + "L R " * 40, "L " * 90 + "45", "45 A " + "WORD " * 60, "4" * 300]
)
def test_long_texts_are_answered_at_once(text: str) -> None:
    words = Naming(listed=INSERTED.listed, poles=PoleWords.parse("L/R"))
    begun = time.process_time()
    assert parse_description(text, words).item in {"other", "anchor"}
    assert time.process_time() - begun < 0.5
