"""Marks and blocks of the invented line, and what a person measured there."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linemap.errors import InputRefused, NotFound
from linemap.service.view.marks import MARKS_CAUTION, AsFound, marks_of
from linemap.service.view.panel import structure_panel
from linemap.service.view.view import JobView

Key = dict[str, list[dict[str, str]]]


def test_every_depth_and_brand_of_the_key(demo_view: JobView, key: Key) -> None:
    # Rev C lengthens the poles of 9/2; every other depth is as printed
    expected = {(row["structure"], row["pole"]): row for row in key["poles"]}
    seen = 0
    for number in dict.fromkeys(row["structure"] for row in key["poles"]):
        if number == "9/2":
            continue
        marks = marks_of(demo_view, "", number)
        assert marks.unavailable == [], number
        for pole in marks.poles:
            row = expected[number, pole.letter]
            assert pole.depth == pytest.approx(float(row["dig_depth_ft"]), abs=0.011), number
            assert pole.brand == pytest.approx(float(row["brand_above_ground_ft"]), abs=0.011), number
            seen += 1
    assert seen == 247


def test_depths_of_the_structure_list_as_printed(demo_view: JobView, key: Key) -> None:
    for row in key["structures"]:
        if row["structure"] == "9/2":
            continue
        depths = [pole.depth for pole in marks_of(demo_view, "", row["structure"]).poles]
        asked = [float(text) for text in row["dig_depths_ft"].split("/")]
        assert depths == pytest.approx(asked, abs=0.0161), row["structure"]


def test_a_sidehill_structure(demo_view: JobView) -> None:
    marks = marks_of(demo_view, "", "6/4")
    a, b = marks.poles
    assert (a.depth_text, b.depth_text) == ("9.77 ft", "9.00 ft")
    assert (a.brand_text, b.brand_text) == ("4.23 ft", "5.00 ft")
    tops = [[(mark.name, mark.drop) for mark in pole.marks[:4]] for pole in (a, b)]
    assert tops[0] == tops[1]
    for left, right in zip(a.marks[:4], b.marks[:4], strict=True):
        assert left.from_butt - right.from_butt == pytest.approx(5.0)
    assert [mark.name for mark in a.marks] == [
        "shield wire",
        "arm",
        "upper brace bolt",
        "lower brace bolt",
        "ground line",
    ]
    assert a.marks[1].drawing == "FT-1110 sh 1"
    assert marks.caution == MARKS_CAUTION
    assert "govern" in marks.caution
    # the frame at 6/4 is turned: the letters alone do not tell which pole is the 75
    assert "the other way round: read the brands" in marks.sentences[0]


def test_a_measured_length_and_a_seen_brand(demo_view: JobView) -> None:
    found = AsFound(lengths={"A": 75.4}, brands={"A": 9.0})
    marks = marks_of(demo_view, "", "6/4", found=found)
    assert marks.poles[0].depth_text == "10.17 ft"
    assert marks.poles[0].length_text == "75.40 ft measured"
    assert any("A is shallow by 5.17 ft, or not the 75" in words for words in marks.sentences)


def test_the_surveyed_spacing_goes_before_the_design(demo_view: JobView) -> None:
    marks = marks_of(demo_view, "", "3/4")
    assert marks.spacing_text.endswith("surveyed")
    assert any("settle before the pick" in words for words in marks.sentences)
    taped = marks_of(demo_view, "", "3/4", found=AsFound(spacing=12.5))
    assert taped.spacing_text == "12.50 ft measured"
    assert not any("settle before the pick" in words for words in taped.sentences)


def test_bolts_on_inside_faces_have_a_shorter_run(demo_view: JobView) -> None:
    drops = {mark.name: mark.drop for mark in marks_of(demo_view, "", "11/6").poles[0].marks}
    spread = (18.25**2 - (14.0 - 1.25) ** 2) ** 0.5
    assert drops["lower brace bolt"] - drops["upper brace bolt"] == pytest.approx(spread, abs=1e-3)


def test_a_type_the_framing_table_lacks(demo_view: JobView) -> None:
    bare = replace(demo_view, framing={})
    marks = marks_of(bare, "", "6/4")
    assert marks.poles == []
    assert marks.unavailable == [
        "marks: framing type H-TAN is not in the framing table; load the framing table with it"
    ]


def test_a_schedule_without_the_structure(demo_view: JobView) -> None:
    marks = marks_of(replace(demo_view, poles_by_structure={}), "", "6/4")
    assert "marks: the length of pole A is not given; see the pole schedule" in marks.unavailable
    assert "marks: the ground at pole B is not given; level it" in marks.unavailable


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (AsFound(lengths={"C": 75.0}), "6/4 has no pole C, only A, B"),
        (AsFound(lengths={"A": -75.0}), "is no length of a pole"),
        (AsFound(depths={"A": float("nan")}), "is no depth of a pole"),
        (AsFound(spacing=-1.0), "is no distance between poles"),
        (AsFound(arm_elevation=float("inf")), "is no elevation"),
    ],
)
def test_measurements_that_cannot_be(demo_view: JobView, found: AsFound, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        marks_of(demo_view, "", "6/4", found=found)


def test_braces_that_cannot_fit_what_was_measured(demo_view: JobView) -> None:
    marks = marks_of(demo_view, "", "6/4", found=AsFound(spacing=17.5))
    assert any("does not fit poles 17.50 apart" in words for words in marks.unavailable)
    assert [mark.name for mark in marks.poles[0].marks][-1] == "ground line"


def test_a_depth_deeper_than_the_pole(demo_view: JobView) -> None:
    marks = marks_of(demo_view, "", "6/4", found=AsFound(depths={"A": 80.0}))
    assert marks.unavailable == [
        "marks: pole A of 75 cannot stand 80.00 deep; check its length, the depth and the ground levels"
    ]


def test_an_arm_elevation_the_poles_do_not_reach(demo_view: JobView) -> None:
    marks = marks_of(demo_view, "", "1/1", found=AsFound(arm_elevation=4200.0))
    (arm,) = (words for words in marks.sentences if words.startswith("arm bolts"))
    assert "below the design: pole A lets it go no higher" in arm
    assert marks.poles[0].marks[1].drop == pytest.approx(1.0)


def test_a_structure_that_is_not_there(demo_view: JobView) -> None:
    with pytest.raises(NotFound):
        marks_of(demo_view, "", "99/9")


def test_two_poles_short_of_the_bundle_of_a_dead_end(demo_view: JobView) -> None:
    marks = marks_of(demo_view, "", "13/2")
    assert marks.bundle == ["3 × H1-75 pole", "2 × crossarm"]
    assert "material: two H1-75 poles missing" in marks.material
    assert not any("crossarm missing" in words for words in marks.material)
    whole = marks_of(demo_view, "", "6/3").material
    assert whole[0] == "material: nothing the receipts name is short"


def test_without_receipts_nothing_is_said_to_be_there(demo_view: JobView) -> None:
    marks = marks_of(replace(demo_view, receipts=()), "", "13/2")
    assert marks.material == ["material: not available: no receipt shown here names the structure"]


def test_the_panel_shows_the_marks(demo_view: JobView) -> None:
    panel = structure_panel(demo_view, "", "6/4")
    assert panel.marks == marks_of(demo_view, "", "6/4")
