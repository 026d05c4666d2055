"""Dig depths and brands: the printed key of the invented line, and what must hold for any ground."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.framing.dig import EmbedRule, brand_from_butt, brand_words, plan_dig
from linemap.domain.survey.arm import PoleTop
from linemap.units import LengthUnit

RULE = EmbedRule(percent=10.0, add=2.0)
Key = dict[str, list[dict[str, str]]]


def pole(
    letter: str, ground: float, length: float, *, nominal: float | None = None, rake: float = 0.0
) -> PoleTop:
    least = RULE.minimum(length if nominal is None else nominal)
    return PoleTop(letter=letter, ground=ground, length=length, depth=least, rake_deg=rake)


def test_every_depth_of_the_invented_line(key: Key) -> None:
    grounds = {(row["structure"], row["pole"]): float(row["ground_ft"]) for row in key["poles"]}
    for row in key["structures"]:
        lengths = [float(text) for text in row["pole_lengths_ft"].split("/")]
        named = list(zip("ABC", lengths, strict=False))
        plan = plan_dig([pole(p, grounds[row["structure"], p], length) for p, length in named])
        asked = [float(text) for text in row["dig_depths_ft"].split("/")]
        # the key's levels are rounded to a thousandth, its depths to a hundredth
        assert [plan.depths[p] for p, _ in named] == pytest.approx(asked, abs=0.0061), row["structure"]
    assert len(key["structures"]) == 121


def test_unequal_legs_on_a_sidehill() -> None:
    a, b = pole("A", 3975.57, 75.0), pole("B", 3979.80, 70.0)
    plan = plan_dig([a, b])
    assert plan.limited_by == "B"
    assert (plan.depths["A"], plan.depths["B"]) == pytest.approx((9.77, 9.00), abs=1e-9)
    assert [round(14.0 - plan.depths[letter], 2) for letter in "AB"] == [4.23, 5.00]


def test_a_longer_pole_than_ordered_goes_deeper_by_as_much() -> None:
    plan = plan_dig([pole("A", 3975.57, 75.4), pole("B", 3979.80, 70.0)])
    assert plan.depths["A"] == pytest.approx(10.17, abs=1e-9)
    assert plan.depths["B"] == pytest.approx(9.00, abs=1e-9)


def test_level_ground_and_equal_poles_stand_at_their_least() -> None:
    plan = plan_dig([pole("A", 812.4, 75.0), pole("B", 812.4, 75.0)])
    assert plan.depths == pytest.approx({"A": 9.5, "B": 9.5})
    assert plan.top == pytest.approx(877.9)


def test_raked_poles_are_measured_along_the_wood() -> None:
    plan = plan_dig([pole("A", 100.0, 80.0, rake=3.0), pole("B", 101.0, 80.0, rake=3.0)])
    assert plan.depths["A"] == pytest.approx(10.0)
    assert plan.depths["B"] == pytest.approx(10.0 + 1.0 / math.cos(math.radians(3.0)))


def test_ground_falling_either_way() -> None:
    falling = plan_dig([pole("A", 104.23, 70.0), pole("B", 100.0, 75.0)])
    assert falling.depths == pytest.approx({"A": 9.0, "B": 9.77})


def test_a_depth_deeper_than_the_pole_is_refused() -> None:
    with pytest.raises(ValueError, match=r"pole B of 70 would stand 79\.00 deep .*deeper than it is long"):
        plan_dig([pole("A", 100.0, 70.0), pole("B", 170.0, 70.0)])


@pytest.mark.parametrize(
    ("poles", "words"),
    [
        ([], "at least one pole"),
        ([PoleTop(letter="A", ground=math.nan, length=70.0, depth=9.0)], "no number"),
        ([PoleTop(letter="A", ground=1.0, length=70.0, depth=-1.0)], "cannot stand -1 deep"),
    ],
)
def test_what_cannot_be_planned(poles: list[PoleTop], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        plan_dig(poles)


def test_a_pole_shorter_than_its_least_depth_is_none() -> None:
    with pytest.raises(ValueError, match=r"pole A of 8 cannot stand 9\.00 deep"):
        PoleTop(letter="A", ground=1.0, length=8.0, depth=9.0)


@pytest.mark.parametrize(
    "numbers", [(-1.0, 2.0, 0.0), (10.0, -2.0, 0.0), (math.nan, 2.0, 0.0), (10.0, 2.0, -5.0)]
)
def test_rules_that_are_none(numbers: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="give depths of 0 or more"):
        EmbedRule(percent=numbers[0], add=numbers[1], least=numbers[2])


grounds = st.floats(3900.0, 3912.0)
steps = st.sampled_from([65.0, 70.0, 75.0, 80.0, 95.0])


@given(st.lists(st.tuples(grounds, steps), min_size=1, max_size=3), st.floats(-3.0, 3.0))
def test_tops_come_level_and_nobody_stands_too_shallow(rows: list[tuple[float, float]], rake: float) -> None:
    poles = [pole("ABC"[i], ground, length, rake=rake) for i, (ground, length) in enumerate(rows)]
    plan = plan_dig(poles)
    for one in poles:
        depth = plan.depths[one.letter]
        top = one.ground + (one.length - depth) * math.cos(math.radians(rake))
        assert top == pytest.approx(plan.top, abs=1e-8)
        assert depth >= one.depth - 1e-9
    assert plan.depths[plan.limited_by] == pytest.approx(
        RULE.minimum({p.letter: p.length for p in poles}[plan.limited_by])
    )


@given(grounds, steps, grounds, steps)
def test_exchanging_the_poles_exchanges_their_depths(g1: float, l1: float, g2: float, l2: float) -> None:
    there = plan_dig([pole("A", g1, l1), pole("B", g2, l2)])
    back = plan_dig([pole("A", g2, l2), pole("B", g1, l1)])
    assert there.depths["A"] == pytest.approx(back.depths["B"])
    assert there.depths["B"] == pytest.approx(back.depths["A"])


@pytest.mark.parametrize(
    ("length", "brand"), [(30.0, 10.0), (50.0, 10.0), (52.5, None), (55.0, 14.0), (95.0, 14.0)]
)
def test_the_brand_stands_at_one_of_two_distances(length: float, brand: float | None) -> None:
    assert brand_from_butt(length) == brand


def test_a_brand_that_tells_of_a_shallow_pole_or_another_one() -> None:
    words = brand_words("A", expected=4.23, seen=9.0, nominal_ft=75.0, unit=LengthUnit.FOOT)
    assert "A is shallow by 4.77 ft, or not the 75" in words
    deep = brand_words("B", expected=5.0, seen=3.5, nominal_ft=70.0, unit=LengthUnit.FOOT)
    assert "B is deep by 1.50 ft, or not the 70" in deep
    assert "agrees" in brand_words("B", expected=5.0, seen=5.2, nominal_ft=70.0, unit=LengthUnit.FOOT)
    below = brand_words("B", expected=0.3, seen=-0.4, nominal_ft=95.0, unit=LengthUnit.FOOT)
    assert below.startswith("brand 0.40 ft below the ground")
