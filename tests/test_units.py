"""Length units: exact definitions, and the many ways people write them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.units import LengthUnit, convert_length

UNITS = st.sampled_from(LengthUnit)


def test_definitions() -> None:
    """International foot 0.3048 m exactly, US survey foot 1200/3937 m: 85 FR 62698 (2020-10-05)."""
    assert LengthUnit.METRE.metres == 1.0
    assert LengthUnit.FOOT.metres == 0.3048
    assert LengthUnit.US_SURVEY_FOOT.metres == float(Fraction(1200, 3937))


def test_the_two_feet_differ_by_two_parts_per_million() -> None:
    """At a northing of 911,410 and an easting of 2,273,384 ft that is 1.82 and 4.55 ft."""
    read_wrong = [
        convert_length(value, source=LengthUnit.US_SURVEY_FOOT, target=LengthUnit.FOOT) - value
        for value in (911_410.0, 2_273_384.0)
    ]
    assert read_wrong == pytest.approx([1.8228, 4.5468], abs=1e-4)


@pytest.mark.parametrize(
    ("unit", "texts"),
    [
        (LengthUnit.METRE, ["m", "M", "metre", "metres", "Meter", "meters", " m. "]),
        (LengthUnit.FOOT, ["ft", "FT", "foot", "feet", "ft.", "'", "ift", "int. ft", "international foot",
                           "International Feet", "international ft"]),
        (LengthUnit.US_SURVEY_FOOT, ["ftUS", "FTUS", "us-ft", "usft", "US ft", "US foot",
                                     "U.S. feet", "ft (US)", "foot_us", "sft", "survey foot", "survey feet",
                                     "US survey foot", "US Survey Feet", "U.S. survey ft", "us_survey_foot"]),
    ],
)  # fmt: skip
def test_texts(unit: LengthUnit, texts: list[str]) -> None:
    assert [LengthUnit.from_text(text) for text in texts] == [unit] * len(texts)


@pytest.mark.parametrize("text", ["", " ", "yard", "in", "km", "mm", "mi", "chain", "foots", "12"])
def test_texts_that_name_no_unit_are_refused_by_name(text: str) -> None:
    with pytest.raises(ValueError, match="is no length unit linemap knows; use m, ft or ftUS"):
        LengthUnit.from_text(text)


@pytest.mark.parametrize("unit", LengthUnit)
def test_every_unit_is_found_by_its_value_its_words_and_its_length(unit: LengthUnit) -> None:
    assert LengthUnit(unit.value) is unit
    assert LengthUnit.from_text(unit.value) is unit
    assert LengthUnit.from_text(unit.word) is unit
    assert LengthUnit.from_metres(unit.metres) is unit


def test_lengths_between_the_two_feet_are_neither() -> None:
    between = (LengthUnit.FOOT.metres + LengthUnit.US_SURVEY_FOOT.metres) / 2.0
    for metres in (between, 0.9144, 0.0, -1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="no length unit of"):
            LengthUnit.from_metres(metres)


def test_the_sign_printed_after_a_number() -> None:
    assert [unit.symbol for unit in LengthUnit] == ["m", "ft", "ft"]


@given(value=st.floats(min_value=-1e8, max_value=1e8), source=UNITS, target=UNITS, third=UNITS)
def test_converting_on_and_back_keeps_the_length(
    value: float, source: LengthUnit, target: LengthUnit, third: LengthUnit
) -> None:
    there = convert_length(value, source=source, target=target)
    assert convert_length(there, source=target, target=source) == pytest.approx(value, rel=1e-12)
    by_way = convert_length(convert_length(value, source=source, target=third), source=third, target=target)
    assert by_way == pytest.approx(there, rel=1e-12)
    assert convert_length(value, source=source, target=source) == value
