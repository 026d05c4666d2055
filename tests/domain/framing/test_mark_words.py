from __future__ import annotations

import re
from dataclasses import replace

from linemap.domain.design.lengths import parse_feet_inches
from linemap.domain.framing.dig import EmbedRule, Frame, FramePole
from linemap.domain.framing.framing_type import FramingEntry, FramingType, framing_types
from linemap.domain.framing.mark_words import brand_checks, mark_sentences
from linemap.domain.framing.marks import StructureMarks, mark_structure
from linemap.units import LengthUnit

NUMBERS = {
    "shield wire drop": 0.5,
    "arm drop": 8.0,
    "minimum drop": 1.0,
    "upper brace drop": 10.0,
    "brace length": 20.0,
    "brace spacing": 15.5,
    "embedment percent": 10.0,
    "embedment add": 2.0,
    "rake": 0.0,
}
FRAME = Frame(
    number="6/4",
    type_code="H-TAN",
    poles=(
        FramePole(letter="A", nominal_ft=75.0, ground=3975.57),
        FramePole(letter="B", nominal_ft=70.0, ground=3979.80),
    ),
    spacing=15.5,
    spacing_tolerance=0.2,
    unit=LengthUnit.FOOT,
)
RULE = EmbedRule(percent=10.0, add=2.0)


def framing(**changes: float) -> FramingType:
    numbers = NUMBERS | {name.replace("_", " "): value for name, value in changes.items()}
    rows = [FramingEntry(code="H-TAN", dimension=name, value=value) for name, value in numbers.items()]
    rows.append(FramingEntry(code="H-TAN", dimension="brace bolting", choice="centre"))
    return framing_types(rows)["H-TAN"]


def said(frame: Frame = FRAME, *, kind: FramingType | None = None) -> str:
    marks = mark_structure(frame, kind or framing())
    return "\n".join(mark_sentences(frame, marks, rule=RULE))


def one(frame: Frame, letter: str, **changes: float) -> Frame:
    poles = tuple(
        replace(pole, **changes) if pole.letter == letter else pole  # type: ignore[arg-type]
        for pole in frame.poles
    )
    return replace(frame, poles=poles)


def test_a_sidehill_in_sentences() -> None:
    assert said().splitlines() == [
        "dig A 9.77 ft, B 9.00 ft for a level arm; "
        "B at its least depth has the lowest top and sets the level",
        "brand above the ground at that depth: A 4.23 ft, B 5.00 ft",
        "arm bolts level at elevation 4032.80 ft",
        "lower brace bolts 12'-7\xa011/16\" below the upper ones, "
        "for the design spacing of 15.50 ft (measure it before drilling)",
        "each inch wider raises the lower bolt 1\xa01/4\xa0in, each inch narrower lowers it as much",
    ]


def test_a_measured_pole_and_a_shallow_hole() -> None:
    words = said(one(FRAME, "A", measured=75.4))
    assert "dig A 10.17 ft, B 9.00 ft" in words
    assert "A measured 75.40 ft, 0.40 ft longer than the 75: the depth follows the wood" in words
    assert "B measured" not in words
    assert "A measured 75.00 ft, as ordered" in said(one(FRAME, "A", measured=75.0))
    shallow = said(one(FRAME, "B", depth=8.0))
    assert "B is dug 8.00 ft, the drawing asks for 9.00 ft at least; ask the engineer" in shallow
    assert "dig A 9.77 ft, B 8.00 ft for a level arm (B as dug)" in shallow


def test_a_shortfall_names_the_pole_that_limits_the_arm() -> None:
    short = replace(one(one(FRAME, "A", depth=9.5), "B", depth=9.0), arm_elevation=4041.0)
    words = said(short)
    assert words.startswith("as dug: A 9.50 ft, B 9.00 ft")
    assert (
        "arm bolts level at elevation 4039.80 ft, 1.20 ft below the design: pole B lets it go no higher"
        in words
    )


def test_a_spacing_that_was_measured_needs_no_reminder() -> None:
    words = said(replace(FRAME, spacing=16.0, spacing_source="measured"))
    assert "for the measured spacing of 16.00 ft\n" in words
    assert "brace set for 15.50 ft, poles 16.00 ft apart: settle before the pick" in words
    assert "7\xa011/16\xa0in up" in words


def test_unequal_rakes_give_two_lengths() -> None:
    words = said(replace(FRAME, spacing=17.0), kind=framing(rake_B=3.0))
    (lengths,) = re.findall(r"rakes differ: A (\d+'-[^,]+), B (\d+'-[^,]+),", words)
    assert parse_feet_inches(lengths[0]) - parse_feet_inches(lengths[1]) > 0.5


def test_a_short_pole_under_a_rule_that_the_table_does_not_share() -> None:
    low = one(one(FRAME, "A", nominal_ft=35.0, ground=100.0), "B", nominal_ft=35.0, ground=100.0)
    words = said(low)
    assert words.count("a published table sets a 35 ft pole 6.0 ft deep in soil, the rule 5.5 ft") == 1
    assert "brand above the ground at that depth: A 4.50 ft, B 4.50 ft" in words


def test_a_length_nobody_publishes_a_brand_for() -> None:
    words = said(one(FRAME, "A", nominal_ft=52.0))
    assert "no brand distance is published for the length of A" in words


def test_a_brand_seen_is_compared_with_the_one_expected() -> None:
    marks = mark_structure(FRAME, framing())
    (words,) = brand_checks(FRAME, marks, {"A": 9.0})
    assert words == "brand at 9.00 ft, expected 4.23 ft: A is shallow by 4.77 ft, or not the 75"
    odd = one(FRAME, "A", nominal_ft=52.0)
    assert brand_checks(odd, mark_structure(odd, framing()), {"A": 4.0}) == (
        "brand of A: not available: no distance is published for its length",
    )


def test_no_marks_no_sentences() -> None:
    assert mark_sentences(FRAME, StructureMarks(unavailable=("marks: nothing",)), rule=None) == ()
    assert brand_checks(FRAME, StructureMarks(), {"A": 4.0}) == ()


def test_metric_sentences() -> None:
    metric = {
        name: value if name in {"embedment percent", "rake"} else value * 0.3048
        for name, value in NUMBERS.items()
    }
    rows = [FramingEntry(code="H-TAN", dimension=name, value=value) for name, value in metric.items()]
    rows.append(FramingEntry(code="H-TAN", dimension="brace bolting", choice="centre"))
    frame = replace(FRAME, spacing=15.5 * 0.3048, spacing_tolerance=0.06, unit=LengthUnit.METRE)
    for letter, ground in (("A", 3975.57), ("B", 3979.80)):
        frame = one(frame, letter, ground=ground * 0.3048)
    words = said(frame, kind=framing_types(rows)["H-TAN"])
    assert "dig A 2.978 m, B 2.743 m" in words
    assert "lower brace bolts 3.852\xa0m below" in words
    assert "each 10 mm wider raises the lower bolt 12 mm" in words
