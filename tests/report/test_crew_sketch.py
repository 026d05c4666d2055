"""The crew's plan: A and B where the person sees them, whichever way the person faces."""

from __future__ import annotations

from typing import Literal
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.report.crew_sketch import CrewPole, Toward, crew_sketch_svg

SVG = "{http://www.w3.org/2000/svg}"
BACK = Toward(number="9/1", end="Brindle Gap", direction_deg=180.0)
AHEAD = Toward(number="9/3", end="Amber Sill", direction_deg=0.0)
TWO = (
    CrewPole(letter="A", right=-7.75, ahead=0.0, words="85 ft, class 1", ground_wire=True),
    CrewPole(letter="B", right=7.75, ahead=0.0, words="80 ft, class 2"),
)


def draw(
    facing: Literal["ahead", "back"],
    poles: tuple[CrewPole, ...] = TWO,
    *,
    back: Toward = BACK,
    ahead: Toward = AHEAD,
    to_scale: bool = True,
) -> ElementTree.Element:
    text = crew_sketch_svg("9/2", facing=facing, back=back, ahead=ahead, poles=poles, to_scale=to_scale)
    return ElementTree.fromstring(text)


def place(svg: ElementTree.Element, words: str) -> tuple[float, float]:
    found = next(text for text in svg.iter(f"{SVG}text") if text.text == words)
    return float(found.get("x", "nan")), float(found.get("y", "nan"))


def test_facing_ahead_a_is_left_and_ahead_is_up() -> None:
    svg = draw("ahead")
    assert place(svg, "A")[0] < 180.0 < place(svg, "B")[0]
    assert place(svg, "AHEAD 9/3")[1] < place(svg, "A")[1] < place(svg, "BACK 9/1")[1]
    assert svg.findtext(f"{SVG}desc") == "Facing ahead to 9/3: from left to right A, B"


def test_facing_back_everything_is_turned_by_half_a_circle() -> None:
    svg = draw("back")
    assert place(svg, "B")[0] < 180.0 < place(svg, "A")[0]
    assert place(svg, "BACK 9/1")[1] < place(svg, "A")[1] < place(svg, "AHEAD 9/3")[1]
    assert svg.findtext(f"{SVG}desc") == "Facing back to 9/1: from left to right B, A"


@pytest.mark.parametrize(("facing", "turn"), [("ahead", 0.0), ("back", 180.0)])
def test_arrow_head_always_points_ahead(facing: Literal["ahead", "back"], turn: float) -> None:
    heads = [path.get("transform", "") for path in draw(facing).iter(f"{SVG}path") if path.get("transform")]
    assert len(heads) == 1
    assert f"rotate({turn:.1f})" in heads[0]


def test_a_and_b_differ_by_fill_and_each_carries_its_own_words() -> None:
    svg = draw("ahead")
    discs = [circle.get("class") for circle in svg.iter(f"{SVG}circle")]
    assert discs == ["crew-ink", "crew-on"]
    assert place(svg, "85 ft")[0] < 180.0 < place(svg, "80 ft")[0]
    assert place(svg, "GROUND WIRE")[0] < 180.0
    assert [text.text for text in svg.iter(f"{SVG}text")].count("GROUND WIRE") == 1


def test_three_poles_keep_their_letters_apart() -> None:
    poles = tuple(
        CrewPole(letter=letter, right=right, ahead=0.0)
        for letter, right in zip("ABC", (-15, 0, 15), strict=True)
    )
    svg = draw("back", poles)
    assert [place(svg, letter)[0] for letter in "CBA"] == sorted(place(svg, letter)[0] for letter in "CBA")
    assert sum(circle.get("class") == "crew-ring" for circle in svg.iter(f"{SVG}circle")) == 1


def test_ends_of_the_line_name_the_end_or_nothing() -> None:
    first = Toward(number="", end="Brindle Gap", direction_deg=180.0)
    assert place(draw("ahead", back=first), "to Brindle Gap")[1] > 156.0
    nameless = Toward(number="", end="", direction_deg=180.0)
    words = [text.text for text in draw("back", back=nameless).iter(f"{SVG}text")]
    assert "BACK" not in words
    assert (
        draw("back", back=nameless)
        .findtext(f"{SVG}desc", "")
        .startswith("Facing back to the end of the line")
    )


def test_unknown_spacing_is_said() -> None:
    words = [text.text for text in draw("ahead", to_scale=False).iter(f"{SVG}text")]
    assert "spacing not known, not to scale" in words


def test_hostile_words_stay_words() -> None:
    evil = Toward(number="<script>", end='"><img onerror=x>', direction_deg=0.0)
    text = crew_sketch_svg("9/2", facing="ahead", back=BACK, ahead=evil, poles=(), to_scale=True)
    assert "<script" not in text
    assert "<img" not in text


@settings(max_examples=60)
@given(
    st.floats(-60.0, 60.0), st.lists(st.tuples(st.floats(-20, 20), st.floats(-5, 5)), min_size=2, max_size=3)
)
def test_facing_back_is_the_same_drawing_turned(deflection: float, at: list[tuple[float, float]]) -> None:
    poles = tuple(
        CrewPole(letter=letter, right=right, ahead=ahead)
        for letter, (right, ahead) in zip("ABC", at, strict=False)
    )
    back = Toward(number="9/1", end="", direction_deg=180.0 - deflection / 2)
    ahead = Toward(number="9/3", end="", direction_deg=deflection / 2)
    one, other = (draw(facing, poles, back=back, ahead=ahead) for facing in ("ahead", "back"))
    discs = [
        [(float(c.get("cx", "nan")), float(c.get("cy", "nan"))) for c in svg.iter(f"{SVG}circle")]
        for svg in (one, other)
    ]
    for (x, y), (turned_x, turned_y) in zip(*discs, strict=True):
        assert x + turned_x == pytest.approx(360.0, abs=0.11)
        assert y + turned_y == pytest.approx(312.0, abs=0.11)
