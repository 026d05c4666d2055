"""Readings: what is taken, what is refused and why, and how each is said."""

from __future__ import annotations

import pytest

from linemap.domain.record.reading import Reading, make_reading, put_in_order, words_of
from linemap.domain.record.reading_type import READINGS


@pytest.mark.parametrize(
    ("name", "value", "unit", "pole", "said"),
    [
        ("depth", 95.0, "ft", "", "depth 95 ft cannot be; it lies between 0.5 and 60 ft"),
        ("depth", 9.5, "mph", "", "depth 9.5 is in 'mph'; use ft, in, m, cm"),
        ("depth", "deep", "ft", "", "depth: 'deep' is no length in feet and inches"),
        ("depth", 9.5, "ft", "D", "depth 9.5 at 'D': depth names the pole A, B or C"),
        ("ohms", "25", "", "", "ohms '25' is no number; give one in ohms"),
        ("ohms", float("nan"), "", "", "ohms nan is no number"),
        ("ohms", True, "", "", "ohms True is no number"),
        ("ohms", 8.4, "", "A", "ohms 8.4 at 'A': ohms is of the whole structure"),
        ("wind", -1.0, "mph", "", "wind -1 mph cannot be"),
        ("level", 1.0, "", "", "level 1.0 is neither yes nor no"),
        ("level", True, "in", "", "level True is in 'in'; it has no unit"),
        ("low", 0.5, "in", "", "low 0.5 names no pole; say which pole is low"),
        ("brand", "  ", "", "", "brand '  ' is no line of text"),
        ("brand", "a\nb", "", "", "is no line of text"),
        ("moon", 1.0, "", "", "'moon' is no reading; use one of depth, level"),
    ],
)
def test_what_cannot_be_a_reading_is_refused_with_name_and_value(
    name: str, value: float | bool | str, unit: str, pole: str, said: str
) -> None:
    with pytest.raises(ValueError, match=f"^.*{said.replace('?', '.')}"):
        make_reading(name, value, unit=unit, pole=pole)


def test_limits_hold_in_every_unit() -> None:
    assert make_reading("depth", 2.9, unit="metres").words() == "depth 2.9 m"
    assert make_reading("depth", "9'-6\"").words() == "depth 9.5 ft"
    with pytest.raises(ValueError, match=r"depth 9.5 in cannot be.*0.5 and 60 ft|depth 5 in cannot be"):
        make_reading("depth", 5.0, unit="in")
    assert make_reading("wind", 100.0, unit="km/h").unit == "km/h"


def test_the_readings_of_a_record_stand_in_one_order_each_once() -> None:
    given = [
        make_reading("wind", 18.0),
        make_reading("low", 0.5, pole="B"),
        make_reading("depth", 9.5, pole="A"),
    ]
    found = put_in_order(given, pole="A")
    assert words_of(found) == "depth 9.5 ft, arm 0.5 in low at B, wind 18 mph"
    assert found[0].pole == "", "that of the record's own pole"
    with pytest.raises(ValueError, match=r"depth is given twice: depth 9.5 ft, depth 9 ft"):
        put_in_order([*found, make_reading("depth", 9.0)], pole="A")
    with pytest.raises(ValueError, match="depth 9 ft at B is in a record of pole A"):
        put_in_order([make_reading("depth", 9.0, pole="B")], pole="A")


@pytest.mark.parametrize("name", READINGS)
def test_every_reading_is_written_read_and_said(name: str) -> None:
    known = READINGS[name]
    value = {"number": known.most, "yes or no": False, "text": "75 2 DF"}[known.kind]
    pole = "" if known.of == "structure" else "B"
    reading = make_reading(name, value, pole=pole)
    assert Reading(**reading.to_values()) == reading
    assert reading.words()
    assert ("at B" in reading.words()) == bool(pole)
    unit, least, most = known.asked_in("m")
    if unit:
        for limit in (least, most):
            assert make_reading(name, limit, unit=unit, pole=pole)


def test_a_form_asks_in_the_units_of_its_line() -> None:
    """No unit of the other system stands in a form: not even the wind's."""
    asked = {line: {known.asked_in(line)[0] for known in READINGS.values()} for line in ("ft", "m")}
    assert asked == {
        "ft": {"", "ft", "in", "in/10 ft", "ohms", "mph"},
        "m": {"", "m", "mm", "mm/m", "ohms", "km/h"},
    }
    assert READINGS["wind"].asked_in("m")[2] == pytest.approx(321.8688)


def test_only_what_people_write_is_reworded() -> None:
    brand = make_reading("brand", "by the nest", pole="A")
    assert brand.reworded(lambda _: "").words() == ""
    assert make_reading("level", True).reworded(lambda _: "").words() == "arm level"
