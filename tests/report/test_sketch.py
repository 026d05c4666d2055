"""The plan sketch: what it says, where it draws, and that no text can break out of it."""

from __future__ import annotations

import math
from typing import Any

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from linemap.report.sketch import sketch_svg

SVG = "{http://www.w3.org/2000/svg}"
H_FRAME = [("A", -6.25, 0.0), ("B", 6.25, 0.0)]
THREE = [("A", -16.0, 0.0), ("B", 0.0, 0.0), ("C", 16.0, 0.0)]


def draw(**changes: Any) -> etree._Element:
    given_values: dict[str, Any] = {
        "number": "8/2",
        "back_number": "8/1",
        "ahead_number": "8/3",
        "ahead_end": "Amber Sill",
        "deflection_deg": 0.0,
        "azimuth_back_rel_deg": 0.0,
        "azimuth_ahead_rel_deg": 0.0,
        "design": H_FRAME,
        "as_set": [],
        "unit_symbol": "ft",
    }
    return etree.fromstring(sketch_svg(**{**given_values, **changes}))


def words(svg: etree._Element) -> str:
    return "\n".join("".join(text.itertext()) for text in svg.iter(f"{SVG}text"))


def circles(svg: etree._Element, kind: str) -> list[tuple[float, float]]:
    return [
        (float(c.get("cx", "")), float(c.get("cy", "")))
        for c in svg.iter(f"{SVG}circle")
        if c.get("class") == kind
    ]


def test_a_is_left_and_ahead_is_up() -> None:
    svg = draw()
    (ax, ay), (bx, by) = circles(svg, "sk-design")
    assert ax < 180.0 < bx
    assert ay == by
    texts = {"".join(t.itertext()): float(t.get("y", "")) for t in svg.iter(f"{SVG}text")}
    assert texts["ahead 8/3 to Amber Sill"] < ay < texts["back 8/1"]
    assert "not surveyed as set: design only" in texts


def test_a_right_is_drawn_right() -> None:
    svg = draw(design=[("A", 6.25, 0.0), ("B", -6.25, 0.0)])
    (ax, _), (bx, _) = circles(svg, "sk-design")
    assert bx < ax
    assert "Poles from left to right, facing ahead: B, A" in svg.findtext(f"{SVG}desc", "")


def test_a_turned_arm_is_drawn_larger_and_says_so() -> None:
    """4.5 degrees clockwise on 12.5 ft: A 0.49 ft back, B 0.49 ft ahead would be 7 px; drawn five times."""
    turn = math.radians(4.5)
    right, ahead = 6.25 * math.cos(turn), 6.25 * math.sin(turn)
    svg = draw(as_set=[("A", -right, ahead), ("B", right, -ahead)])
    (_, ay), (_, by) = circles(svg, "sk-set")
    centre = circles(svg, "sk-design")[0][1]
    assert ay - centre == pytest.approx(-(by - centre), abs=0.2)
    assert by > centre > ay
    assert ay - centre == pytest.approx(-0.4904 * 84.0 / 6.25 * 5, abs=0.2)
    assert "A set 0.49 ft ahead, 0.02 ft right of design" in words(svg)
    assert "misplacement ×5" in words(svg)


def test_a_frame_far_from_its_place_shrinks_the_drawing() -> None:
    """9/4 of the demo: set 25 ft ahead."""
    svg = draw(as_set=[("A", -6.25, 25.03), ("B", 6.25, 25.03)])
    ys = [y for _, y in circles(svg, "sk-set")]
    assert all(10.0 < y < 290.0 for y in ys)
    assert "A set 25.03 ft ahead of design" in words(svg)
    assert "one scale" in words(svg)


def test_reversed_letters_are_not_a_rotation() -> None:
    svg = draw(as_set=[("A", 6.27, 0.02), ("B", -6.25, 0.01)])
    assert "as surveyed, A and B are the other way round" in words(svg)
    assert "A set 0.02 ft ahead, 0.02 ft right of design" in words(svg)
    assert "the other way round" not in words(draw(as_set=[("A", -6.27, 0.02), ("B", 6.25, 0.01)]))


def test_angle_names_its_side_and_its_rule() -> None:
    svg = draw(
        deflection_deg=62.175, azimuth_back_rel_deg=-31.0875, azimuth_ahead_rel_deg=31.0875, design=THREE
    )
    assert "line turns 62.2° right, arm on the bisector" in words(svg)
    assert len(circles(svg, "sk-design")) == 3
    square = draw(deflection_deg=-10.0, azimuth_back_rel_deg=0.0, azimuth_ahead_rel_deg=-10.0)
    assert "line turns 10.0° left\n" in words(square)


def test_ends_of_the_line_have_no_neighbour() -> None:
    last = draw(ahead_number="")
    assert "ahead" not in words(last)
    assert last.findtext(f"{SVG}title") == "Plan of structure 8/2, back to 8/1, end of the line; ahead is up"
    assert "back" not in words(draw(back_number=""))


def test_unknown_spacing_draws_no_poles() -> None:
    svg = draw(design=[], as_set=[])
    assert circles(svg, "sk-design") == []


@pytest.mark.parametrize("as_set", [[], [("A", -6.2, 0.1)], [("A", -6.2, 0.1), ("B", 6.2, 0.1)]])
def test_small_steady_and_without_inline_style(as_set: list[tuple[str, float, float]]) -> None:
    svg = draw(as_set=as_set)
    text = etree.tostring(svg)
    assert len(text) <= 3000
    assert text == etree.tostring(draw(as_set=as_set))
    assert not [node for node in svg.iter() if node.get("style") or node.get("id")]


@given(
    names=st.tuples(
        *[
            st.text(
                st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufffe\uffff"), max_size=12
            )
        ]
        * 4
    ),
    shift=st.tuples(*[st.floats(-400.0, 400.0)] * 4),
)
@settings(max_examples=examples(60))
def test_any_name_and_any_place_stays_inside(
    names: tuple[str, str, str, str], shift: tuple[float, float, float, float]
) -> None:
    number, back, ahead, end = names
    svg = draw(
        number=number,
        back_number=back,
        ahead_number=ahead,
        ahead_end=end,
        as_set=[("A", -6.25 + shift[0], shift[1]), ("B", 6.25 + shift[2], shift[3])],
    )
    assert {node.tag for node in svg.iter()} <= {
        SVG + t for t in ("svg", "title", "desc", "path", "circle", "text", "tspan", "g")
    }
    assert all(0.0 <= x <= 360.0 and 0.0 <= y <= 300.0 for x, y in circles(svg, "sk-set"))
    assert number in svg.findtext(f"{SVG}title", "")
