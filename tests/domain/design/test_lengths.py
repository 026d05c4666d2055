import math
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.design.lengths import format_feet_inches, format_inches, parse_feet_inches, wood_text
from linemap.units import LengthUnit


@pytest.mark.parametrize(
    ("feet", "text"),
    [
        (5.3, "5'-3 5/8\""),
        (1.0, "1'-0\""),
        (1.4, "1'-4 13/16\""),
        (1.6, "1'-7 3/16\""),
        (12.6392, "12'-7 11/16\""),
        (11.8542, "11'-10 1/4\""),
        (0.5, "0'-6\""),
        (-0.5, "-0'-6\""),
        (-0.001, "0'-0\""),
        (0.9999, "1'-0\""),
        (1.0 + 11 / 16 / 12, "1'-0 11/16\""),
        (math.nan, ""),
    ],
)
def test_feet_and_inches(feet: float, text: str) -> None:
    assert format_feet_inches(feet) == text


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("12'-6\"", 12.5),
        ("12' 6", None),
        ("7'", 7.0),
        ("7 ft 3 in", 7.25),
        ("0'-9 1/2\"", 9.5 / 12),
        ('1/2"', 0.5 / 12),
        ("9.5 in", 9.5 / 12),
        ("12′-7 11/16″", 12 + (7 + 11 / 16) / 12),
    ],
)
def test_reading_what_drawings_write(text: str, feet: float | None) -> None:
    if feet is None:
        with pytest.raises(ValueError, match="no length in feet and inches"):
            parse_feet_inches(text)
    else:
        assert parse_feet_inches(text) == pytest.approx(feet, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no length"),
        ("in", "no length"),
        ("seven feet", "no length"),
        ("5'-12\"", "12 inches or more"),
        ("5'-1/0\"", "divides by 0"),
        ("-3'", "no length"),
    ],
)
def test_what_is_no_length(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        parse_feet_inches(text)


@given(st.floats(0.0, 150.0))
def test_written_and_read_again_is_within_a_thirty_second_of_an_inch(feet: float) -> None:
    text = format_feet_inches(feet)
    assert abs(parse_feet_inches(text) - feet) <= 1.0 / 12 / 32 + 1e-9
    assert not re.search(r"-12", text)


@given(st.floats(-150.0, 150.0))
def test_inches_are_whole_sixteenths(inches: float) -> None:
    sign = -1.0 if format_inches(inches).startswith("-") else 1.0
    parts = format_inches(inches).lstrip("-").split()
    value = sum(Fraction(part) for part in parts)
    assert (value * 16).denominator == 1
    assert abs(sign * float(value) - inches) <= 1 / 32 + 1e-9


def test_wood_is_marked_in_the_units_of_the_job() -> None:
    assert wood_text(5.3, LengthUnit.US_SURVEY_FOOT) == "5'-3 5/8\""
    assert wood_text(1.0, LengthUnit.METRE) == "1.000 m"
    assert wood_text(math.nan, LengthUnit.METRE) == ""
