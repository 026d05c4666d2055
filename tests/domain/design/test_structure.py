"""Structure lists as columns: what is filled in, what is refused, and taking rows."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.design.structure import Pole, Structures, is_section_break


def structures() -> Structures:
    return Structures.from_columns(
        line="North",
        number=["1/1", "1/2", "1/3"],
        easting=[0.0, 1000.0, 2000.0],
        northing=[5.0, 6.0, 7.0],
        type_code=["TERM", "H-TAN", "P3-DE"],
        pole_count=[2, 2, 3],
        source_row=[4, 5, 6],
        source_file="list.csv",
    )


@pytest.mark.parametrize(
    "code",
    ["DE", "P3-DE", "3P_DE", "de", "DDE", "Double dead-end", "DEAD END", "deadend", "TERM", "terminal",
     "H (Termination)"],
)  # fmt: skip
def test_codes_that_end_a_section(code: str) -> None:
    assert is_section_break(code)


@pytest.mark.parametrize("code", ["", "H-TAN", "P3-SUS", "DELTA", "MODE", "TERMITE", "DE2", "UNDEAD END"])
def test_codes_that_do_not(code: str) -> None:
    assert not is_section_break(code)


def test_what_is_not_given_is_marked_so() -> None:
    bare = Structures.from_columns(number=["1", "2"], easting=[0, 1], northing=[2, 3])
    assert list(bare.line) == ["", ""]
    for column in (bare.elevation, bare.spacing, bare.explicit_azimuth):
        assert np.isnan(column).all()
    assert bare.pole_count.tolist() == [2, 2]
    assert bare.rule.tolist() == [0, 0]
    assert bare.section_break.tolist() == [False, False]
    assert list(bare.type_code) == list(bare.given_station) == list(bare.remarks) == ["", ""]
    assert bare.easting.dtype == np.float64


def test_section_breaks_come_from_the_type_unless_the_list_says_so() -> None:
    assert structures().section_break.tolist() == [True, False, True]
    said = Structures.from_columns(
        number=["1"], easting=[0], northing=[0], type_code=["P3-DE"], section_break=[False]
    )
    assert said.section_break.tolist() == [False]


def test_columns_of_different_length_are_refused_with_their_lengths() -> None:
    with pytest.raises(ValueError, match=r"differ in length: .*'easting': 2"):
        Structures.from_columns(number=["1", "2", "3"], easting=[0, 1], northing=[0, 1, 2])
    with pytest.raises(ValueError, match=r"'remarks': 1"):
        replace(structures(), remarks=np.array([""], dtype=object))
    with pytest.raises(ValueError, match=r"'line': 1"):
        Structures.from_columns(number=["1", "2"], line=["North"], easting=[0, 1], northing=[0, 1])


def test_an_empty_list_is_a_list() -> None:
    empty = Structures.from_columns(number=[], easting=[], northing=[])
    assert len(empty) == 0
    assert len(empty.take(np.array([], dtype=np.int64))) == 0


def test_rows_are_taken_by_mask_and_by_index() -> None:
    whole = structures()
    assert list(whole.take(np.array([True, False, True])).number) == ["1/1", "1/3"]
    taken = whole.take(np.array([2, 0]))
    assert (list(taken.number), taken.source_row.tolist()) == (["1/3", "1/1"], [6, 4])
    assert taken.source_file == "list.csv"


@given(order=st.permutations(range(3)))
def test_taking_in_an_order_and_back_gives_the_same_list(order: list[int]) -> None:
    whole = structures()
    again = whole.take(np.array(order)).take(np.argsort(order))
    for field in fields(Structures)[:-1]:
        np.testing.assert_array_equal(getattr(again, field.name), getattr(whole, field.name))


def test_a_pole_knows_what_was_not_given() -> None:
    pole = Pole(line="North", structure="6/4", letter="A")
    assert (pole.length_ft, pole.ground_elevation, pole.ground_wire, pole.pole_class) == (
        None,
        None,
        None,
        "",
    )
