from __future__ import annotations

import math

import pytest

from linemap.domain.framing.framing_type import Dimension, FramingEntry, FramingType, framing_types

ROWS = [
    FramingEntry(code="H-TAN", dimension="arm drop", value=8.0, drawing="FT-112"),
    FramingEntry(code="H-TAN", dimension="brace bolting", choice="centre", drawing="FT-115"),
    FramingEntry(code="P3-DE", dimension="arm drop", value=6.5, drawing="FT-140"),
    FramingEntry(code="H-TAN", dimension="embedment percent", value=10.0, drawing="FT-101"),
    FramingEntry(code="H-TAN", dimension="embedment add", value=2.0, drawing="FT-101"),
    FramingEntry(code="H-TAN", dimension="count of arm 28 ft", value=2.0, drawing="FT-112"),
    FramingEntry(code="H-TAN", dimension="conductor blocks", value=3.0, drawing="FT-150"),
    FramingEntry(code="H-TAN", dimension="shield-wire blocks", value=2.0, drawing="FT-150"),
]


def of(**dimensions: float) -> FramingType:
    numbers = {name.replace("_", " "): Dimension(value=value) for name, value in dimensions.items()}
    return FramingType(code="H", dimensions=numbers)


def test_rows_are_gathered_by_type_with_their_drawings() -> None:
    types = framing_types(ROWS)
    assert set(types) == {"H-TAN", "P3-DE"}
    tangent = types["H-TAN"]
    assert tangent.dimensions["arm drop"] == Dimension(value=8.0, drawing="FT-112")
    assert (tangent.bolting, tangent.bolting_drawing) == ("centre", "FT-115")
    assert dict(tangent.pieces) == {"arm 28 ft": 2}
    assert tangent.drawings == ("FT-112", "FT-101", "FT-150", "FT-115")
    assert tangent.blocks == 5
    assert types["P3-DE"].bolting is None
    assert types["P3-DE"].blocks is None


def test_what_is_not_given_is_named_and_never_taken_for_granted() -> None:
    tangent = framing_types(ROWS)["H-TAN"]
    assert tangent.missing("arm drop", "minimum drop", "brace length") == ("minimum drop", "brace length")
    assert tangent.number("minimum drop") is None
    assert tangent.rake_deg("A") is None
    assert framing_types(ROWS)["P3-DE"].embedment is None
    assert of(embedment_percent=10.0).embedment is None


def test_a_depth_for_every_length_goes_before_a_rule() -> None:
    rule = of(embedment_percent=10.0, embedment_add=2.0, embedment_least=5.0).embedment
    assert rule is not None
    assert [rule.minimum(length) for length in (25.0, 75.0)] == [5.0, 9.5]
    fixed = of(embedment=11.0, embedment_percent=10.0, embedment_add=2.0).embedment
    assert fixed is not None
    assert fixed.minimum(75.0) == 11.0


def test_rake_of_one_pole_goes_before_that_of_all() -> None:
    both = FramingType(code="H", dimensions={"rake": Dimension(value=3.0), "rake B": Dimension(value=1.0)})
    assert [both.rake_deg(letter) for letter in "AB"] == [3.0, 1.0]
    assert [of(rake=3.0).rake_deg(letter, pole_count=3) for letter in "ABC"] == [3.0, 0.0, 3.0]


@pytest.mark.parametrize(
    ("dimension", "value", "choice", "words"),
    [
        ("arm depth", 8.0, "", "'arm depth' is no dimension linemap knows; use one of shield wire drop"),
        ("count of ", 2.0, "", "is no dimension"),
        ("arm drop", None, "", "is no number"),
        ("arm drop", math.nan, "", "is no number"),
        ("arm drop", -1.0, "", "is not between 0 and 250"),
        ("brace length", 1200.0, "", "is not between 0 and 250"),
        ("rake", 45.0, "", "is no rake"),
        ("conductor blocks", 2.5, "", "no whole number"),
        ("brace bolting", None, "sideways", "is not one of centre, inside face, none"),
    ],
)
def test_rows_that_mean_nothing(dimension: str, value: float | None, choice: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        FramingEntry(code="H", dimension=dimension, value=value, choice=choice)


def test_a_dimension_stands_once() -> None:
    twice = [ROWS[0], ROWS[0]]
    with pytest.raises(ValueError, match="arm drop of H-TAN stands twice"):
        framing_types(twice)


def test_poles_may_lean_outward() -> None:
    assert FramingEntry(code="H", dimension="rake", value=-2.0).value == -2.0
