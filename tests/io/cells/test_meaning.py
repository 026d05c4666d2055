from __future__ import annotations

import pytest

from linemap.domain.kind.kind import Code as Kind
from linemap.io.cells.meaning import (
    FORBIDS,
    NEEDS,
    VOCABULARY,
    describe_need,
    length_unit,
    match_headings,
    parse_heading,
    satisfies,
    unit_word,
)
from linemap.io.cells.table import KINDS
from linemap.units import LengthUnit


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("Str No", "number"), ("STRUCTURE", "number"), ("struct #", "number"), ("Structure_No.", "number"),
        ("easting", "easting"), ("E", "easting"), ("X (ft)", "easting"), ("Grid Easting [US ft]", "easting"),
        ("Northing (US ft)", "northing"), ("y", "northing"), ("LON", "longitude"), ("Latitude", "latitude"),
        ("Sta", "station"), ("Station", "station"), ("Type", "type"), ("Structure Type", "type"),
        ("Poles", "pole_count"), ("Pole Spacing (ft)", "spacing"), ("PoleSpacing", "spacing"),
        ("arm rule", "rule"), ("arm azimuth", "arm_azimuth"), ("section break", "section_break"),
        ("Ground El", "elevation"), ("CL Elev", "elevation"), ("Line Angle", "deflection"),
        ("Line", "line"), ("Remarks", "remarks"),
    ],
)  # fmt: skip
def test_structure_headings_are_understood(heading: str, field: str) -> None:
    assert field in match_headings([heading], "structures")


@pytest.mark.parametrize(
    ("heading", "word", "unit"),
    [
        ("Pole Spacing (ft)", "polespacing", "ft"),
        ("easting_us_ft", "easting", "ftUS"),
        ("Northing (US survey feet)", "northing", "ftUS"),
        ("X [m]", "x", "m"),
        ("Easting (intl ft)", "easting", "ift"),
        ("structure_azimuth_deg", "structureazimuth", "deg"),
        ("m", "m", ""),
        ("Voltage (kV)", "voltage", "kV"),
        ("Elev. (NAVD88)", "elevnavd88", ""),
    ],
)
def test_units_are_taken_off_headings(heading: str, word: str, unit: str) -> None:
    parsed = parse_heading(heading)
    assert (parsed.word, parsed.unit) == (word, unit)


def test_the_surest_heading_of_a_field_wins() -> None:
    matches = match_headings(["id", "Name", "Structure"], "structures")
    assert matches["number"].index == 2


def test_a_bare_foot_is_the_foot_of_the_coordinate_reference() -> None:
    written = match_headings(["Easting (ft)"], "structures")["easting"].unit
    assert length_unit(written, LengthUnit.US_SURVEY_FOOT) is LengthUnit.US_SURVEY_FOOT
    assert length_unit(written, LengthUnit.FOOT) is LengthUnit.FOOT
    assert length_unit(written, LengthUnit.METRE) is LengthUnit.FOOT
    plain = match_headings(["Easting"], "structures")["easting"].unit
    assert length_unit(plain, LengthUnit.METRE) is LengthUnit.METRE


@pytest.mark.parametrize("kind", KINDS)
def test_needs_name_fields_of_the_vocabulary(kind: Kind) -> None:
    known = {*VOCABULARY[kind], "geometry"}
    named = {name for need in NEEDS[kind] for choice in need for name in choice} | set(FORBIDS.get(kind, ()))
    assert named <= known
    assert describe_need(kind)


@pytest.mark.parametrize("kind", KINDS)
def test_no_heading_means_two_fields_of_one_kind(kind: Kind) -> None:
    words = [word for words in VOCABULARY[kind].values() for word in words]
    assert sorted(words) == sorted(set(words))


@pytest.mark.parametrize("kind", KINDS)
def test_every_word_of_the_vocabulary_is_found_as_a_heading(kind: Kind) -> None:
    for name, words in VOCABULARY[kind].items():
        for word in words:
            assert name in match_headings([word], kind), (kind, name, word)


def test_a_structure_list_needs_number_and_place() -> None:
    assert satisfies(["number", "geometry"], "structures")
    assert not satisfies(["number", "easting"], "structures")
    assert not satisfies(["code", "words", "number"], "types")


def test_unit_words() -> None:
    words = ("US ft", "ftUS", "sft", "metres", "'", "north")
    assert [unit_word(word) for word in words] == ["ftUS", "ftUS", "ftUS", "m", "ft", ""]
