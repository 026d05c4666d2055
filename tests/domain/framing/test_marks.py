"""Marks of whole structures: drops, heights from the butt, braces, and what is said when one is missing."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.framing.brace import brace_spread
from linemap.domain.framing.dig import Frame, FramePole
from linemap.domain.framing.framing_type import FramingEntry, FramingType, framing_types
from linemap.domain.framing.marks import StructureMarks, mark_structure
from linemap.units import LengthUnit

NUMBERS = {
    "shield wire drop": 0.5,
    "arm drop": 8.0,
    "minimum drop": 1.0,
    "upper brace drop": 10.0,
    "brace length": 17.5,
    "brace spacing": 12.5,
    "embedment percent": 10.0,
    "embedment add": 2.0,
    "rake": 0.0,
}


def framing(*, without: str = "", bolting: str = "centre", **changes: float) -> FramingType:
    numbers = NUMBERS | {name.replace("_", " "): value for name, value in changes.items()}
    rows = [
        FramingEntry(code="H-TAN", dimension=name, value=value, drawing=f"FT-{name}")
        for name, value in numbers.items()
        if name != without
    ]
    if bolting:
        rows.append(FramingEntry(code="H-TAN", dimension="brace bolting", choice=bolting, drawing="FT-bolts"))
    return framing_types(rows)["H-TAN"]


SIX_FOUR = Frame(
    number="6/4",
    type_code="H-TAN",
    poles=(
        FramePole(letter="A", nominal_ft=75.0, ground=3975.57),
        FramePole(letter="B", nominal_ft=70.0, ground=3979.80),
    ),
    spacing=12.5,
    spacing_tolerance=0.2,
    unit=LengthUnit.FOOT,
)


def frame(**changes: object) -> Frame:
    return replace(SIX_FOUR, **changes)  # type: ignore[arg-type]


def poles(*rows: tuple[float, float], depths: tuple[float, ...] | None = None) -> tuple[FramePole, ...]:
    deep = depths or (None,) * len(rows)
    return tuple(
        FramePole(letter=letter, nominal_ft=length, ground=ground, depth=depth)
        for letter, (ground, length), depth in zip("ABC", rows, deep, strict=False)
    )


def drops(marks: StructureMarks, name: str) -> dict[str, float]:
    return {pole.letter: mark.drop for pole in marks.poles for mark in pole.marks if mark.name == name}


def butts(marks: StructureMarks, name: str) -> dict[str, float]:
    return {pole.letter: mark.from_butt for pole in marks.poles for mark in pole.marks if mark.name == name}


def test_marks_from_the_top_are_one_list_and_from_the_butt_differ_by_the_legs() -> None:
    marks = mark_structure(SIX_FOUR, framing())
    assert marks.unavailable == ()
    for name, drop in (("shield wire", 0.5), ("arm", 8.0), ("upper brace bolt", 10.0)):
        assert drops(marks, name) == pytest.approx({"A": drop, "B": drop})
    lower = 10.0 + math.sqrt(17.5**2 - 12.5**2)
    assert drops(marks, "lower brace bolt") == pytest.approx({"A": lower, "B": lower})
    for name in ("shield wire", "arm", "upper brace bolt", "lower brace bolt"):
        butt = butts(marks, name)
        assert butt["A"] - butt["B"] == pytest.approx(5.0)


def test_depths_and_brands_of_a_sidehill() -> None:
    marks = mark_structure(SIX_FOUR, framing())
    a, b = marks.poles
    assert (a.depth, b.depth) == pytest.approx((9.77, 9.00))
    assert (a.brand, b.brand) == pytest.approx((4.23, 5.00))
    assert (a.least_depth, b.least_depth) == (9.5, 9.0)
    assert butts(marks, "ground line") == pytest.approx({"A": 9.77, "B": 9.00})
    assert marks.plan is not None
    assert marks.plan.limited_by == "B"


def test_a_measured_length_goes_before_the_schedule() -> None:
    measured = (replace(SIX_FOUR.poles[0], measured=75.4), SIX_FOUR.poles[1])
    a, b = mark_structure(frame(poles=measured), framing(embedment_percent=10.0)).poles
    assert (a.depth, b.depth) == pytest.approx((10.17, 9.00))
    assert (a.measured, b.measured) == (True, False)
    assert a.brand == pytest.approx(14.0 - 10.17)


def test_poles_as_dug_level_the_arm_by_their_drops() -> None:
    dug = frame(
        poles=poles((812.40, 75.0), (808.10, 75.0), depths=(9.5, 9.5)), arm_elevation=876.50, spacing=12.5
    )
    marks = mark_structure(dug, framing())
    assert marks.arm is not None
    assert (marks.arm.elevation, marks.arm.shortfall) == pytest.approx((872.60, 3.90))
    assert marks.arm.limited_by == "B"
    assert drops(marks, "arm") == pytest.approx({"A": 5.30, "B": 1.0})
    # the braces stay level as well: as far below the arm on both poles as the drawing shows them
    assert drops(marks, "upper brace bolt") == pytest.approx({"A": 7.30, "B": 3.0})
    assert all(pole.dug for pole in marks.poles)


def test_one_hole_dug_too_deep_moves_the_marks_of_its_pole_only() -> None:
    deep = (replace(SIX_FOUR.poles[0], depth=10.27), SIX_FOUR.poles[1])
    marks = mark_structure(frame(poles=deep), framing())
    assert drops(marks, "arm") == pytest.approx({"A": 7.5, "B": 8.0})
    assert marks.arm is not None
    assert marks.arm.shortfall == pytest.approx(0.0)


def test_the_spread_follows_the_spacing_that_is_there() -> None:
    wide = mark_structure(frame(spacing=13.0, spacing_source="surveyed"), framing())
    assert drops(wide, "lower brace bolt")["A"] == pytest.approx(10.0 + math.sqrt(17.5**2 - 13.0**2))
    assert wide.brace is not None
    assert wide.brace.set_words.startswith("brace set for")
    assert wide.brace.rate == pytest.approx(-13.0 / math.sqrt(17.5**2 - 13.0**2))


def test_bolts_on_inside_faces_need_the_diameter() -> None:
    marks = mark_structure(SIX_FOUR, framing(bolting="inside face", pole_diameter=1.0))
    assert drops(marks, "lower brace bolt")["B"] == pytest.approx(10.0 + math.sqrt(17.5**2 - 11.5**2))
    missing = mark_structure(SIX_FOUR, framing(bolting="inside face"))
    assert missing.unavailable == ("lower brace bolts: type H-TAN gives no pole diameter",)


def test_unequal_rake_gives_two_spreads() -> None:
    leaning = framing(rake_A=0.0, rake_B=3.0, brace_length=20.0)
    marks = mark_structure(frame(spacing=16.0), leaning)
    assert marks.brace is not None
    assert marks.brace.spreads["A"] - marks.brace.spreads["B"] > 0.4
    up = marks.poles[1]
    upper = next(mark for mark in up.marks if mark.name == "upper brace bolt")
    # pole B leans in, so the run at the upper bolts is shorter by its height times the sine
    run = 16.0 - upper.above_ground * math.sin(math.radians(3.0))
    assert marks.brace.spreads["A"] == pytest.approx(brace_spread(20.0, run))
    assert marks.brace.spreads["B"] == pytest.approx(brace_spread(20.0, run, rake_deg=3.0))


def test_a_type_without_braces_has_none_and_says_nothing() -> None:
    marks = mark_structure(SIX_FOUR, framing(bolting="none", without="upper brace drop"))
    assert marks.unavailable == ()
    assert marks.brace is None
    assert drops(marks, "upper brace bolt") == {}


def test_three_poles_have_depths_and_no_invented_braces() -> None:
    three = frame(poles=poles((3900.0, 75.0), (3900.63, 75.0), (3901.26, 75.0)))
    marks = mark_structure(three, framing())
    assert [pole.depth for pole in marks.poles] == pytest.approx([9.5, 10.13, 10.76])
    (reason,) = marks.unavailable
    assert reason.startswith("lower brace bolts: worked out for two poles only")


@pytest.mark.parametrize(
    ("without", "words"),
    [
        ("arm drop", "arm: type H-TAN gives no arm drop"),
        ("minimum drop", "arm: type H-TAN gives no minimum drop"),
        ("shield wire drop", "shield wire: type H-TAN gives no shield wire drop"),
        ("upper brace drop", "braces: type H-TAN gives no upper brace drop"),
        ("brace length", "lower brace bolts: type H-TAN gives no brace length"),
        ("embedment add", "dig depth: type H-TAN gives no embedment"),
        ("rake", "marks: type H-TAN gives no rake for pole A; 0 where it is plumb"),
    ],
)
def test_a_missing_dimension_is_named(without: str, words: str) -> None:
    marks = mark_structure(SIX_FOUR, framing(without=without))
    assert any(reason.startswith(words) for reason in marks.unavailable), marks.unavailable


def test_other_marks_stay_when_one_dimension_is_missing() -> None:
    marks = mark_structure(SIX_FOUR, framing(without="arm drop"))
    assert drops(marks, "arm") == {}
    assert drops(marks, "upper brace bolt") == pytest.approx({"A": 10.0, "B": 10.0})
    assert len(drops(marks, "lower brace bolt")) == 2


def test_a_type_that_is_not_in_the_table_and_one_that_is_not_given() -> None:
    unknown = mark_structure(frame(type_code="H-NEW"), None)
    assert unknown.unavailable == (
        "marks: framing type H-NEW is not in the framing table; load the framing table with it",
    )
    assert "gives no type for 6/4" in mark_structure(frame(type_code=""), None).unavailable[0]
    assert unknown.poles == ()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"poles": (FramePole(letter="A", ground=1.0),)}, "the length of pole A is not given"),
        ({"poles": (FramePole(letter="A", nominal_ft=75.0),)}, "the ground at pole A is not given; level it"),
        ({"poles": poles((100.0, 70.0), (175.0, 70.0))}, "deeper than it is long"),
        ({"poles": poles((100.0, 70.0), (100.0, 70.0), depths=(70.0, 9.0))}, "cannot stand 70.00 deep"),
        ({"spacing": None}, "the pole spacing is not given; measure it"),
        ({"spacing": 17.6}, "a brace of 17.50 does not fit poles 17.60 apart"),
    ],
)
def test_what_cannot_be_worked_out_says_why(changes: dict[str, object], words: str) -> None:
    marks = mark_structure(frame(**changes), framing())
    assert any(words in reason for reason in marks.unavailable), marks.unavailable
    assert len([reason for reason in marks.unavailable if words in reason]) == 1


def test_a_mark_below_the_ground_line_is_not_given() -> None:
    marks = mark_structure(SIX_FOUR, framing(brace_length=70.0))
    assert drops(marks, "lower brace bolt") == {}
    assert sum("at or below the ground line" in reason for reason in marks.unavailable) == 2


def test_metric_jobs_keep_pole_lengths_in_feet() -> None:
    metric = {
        name: value if name in {"embedment percent", "rake"} else value * 0.3048
        for name, value in NUMBERS.items()
    }
    rows = [FramingEntry(code="H-TAN", dimension=name, value=value) for name, value in metric.items()]
    rows.append(FramingEntry(code="H-TAN", dimension="brace bolting", choice="centre"))
    in_metres = tuple(replace(pole, ground=(pole.ground or 0.0) * 0.3048) for pole in SIX_FOUR.poles)
    marks = mark_structure(
        frame(poles=in_metres, spacing=12.5 * 0.3048, spacing_tolerance=0.06, unit=LengthUnit.METRE),
        framing_types(rows)["H-TAN"],
    )
    a, b = marks.poles
    assert (a.depth / 0.3048, b.depth / 0.3048) == pytest.approx((9.77, 9.00))
    assert a.brand == pytest.approx(4.23 * 0.3048)


legs = st.tuples(st.floats(3900.0, 3910.0), st.sampled_from([70.0, 75.0, 80.0]))


@given(legs, legs, st.floats(11.0, 14.0))
def test_arm_and_braces_are_level_and_marks_add_up(
    a: tuple[float, float], b: tuple[float, float], spacing: float
) -> None:
    marks = mark_structure(frame(poles=poles(a, b), spacing=spacing), framing())
    assert marks.unavailable == ()
    levels: dict[str, list[float]] = {}
    for pole, (ground, length) in zip(marks.poles, (a, b), strict=True):
        assert [mark.drop for mark in pole.marks] == sorted(mark.drop for mark in pole.marks)
        for mark in pole.marks:
            assert mark.drop + mark.from_butt == pytest.approx(length)
            assert mark.above_ground == pytest.approx(mark.from_butt - pole.depth)
            levels.setdefault(mark.name, []).append(ground + mark.above_ground)
    for name in ("arm", "upper brace bolt", "lower brace bolt"):
        assert levels[name][0] == pytest.approx(levels[name][1])


@given(legs, legs)
def test_exchanging_the_poles_exchanges_the_marks(a: tuple[float, float], b: tuple[float, float]) -> None:
    there, back = (mark_structure(frame(poles=poles(*order)), framing()) for order in ((a, b), (b, a)))
    for left, right in zip(there.poles, reversed(back.poles), strict=True):
        assert [mark.drop for mark in left.marks] == pytest.approx([mark.drop for mark in right.marks])
        assert left.depth == pytest.approx(right.depth)
