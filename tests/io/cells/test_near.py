"""Columns nobody read are named, and headings that are not understood are led to what they are near."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.cells.near import near_fields, nearest_kinds
from linemap.io.design.poles import read_poles
from linemap.io.design.structures import read_structures
from linemap.io.design.surroundings import read_context
from linemap.io.source.read import read_source
from linemap.units import LengthUnit

LIST = (
    "Structure,N,E,Northing,Pole A,Pole Spaceing,Owner,Empty,Ahead Span\n"
    "1/1,900000,2250000,900000,70,12.5,me,,\n"
    "1/2,901000,2250000,901000,75,12.5,me,,1000\n"
    "Totals,,,,,,,x,1000\n"
)


def test_every_column_with_a_heading_is_read_compared_or_named(
    table: Callable[..., Any], montana: Projection
) -> None:
    unread = read_structures(table(LIST), projection=montana).unread
    assert [str(column) for column in unread] == [
        '"N" (900000, 901000: 2 rows); "Northing" is read instead',
        '"Pole A" (70, 75: 2 rows); near: pole_count, spacing',
        '"Pole Spaceing" (12.5: 2 rows); near: spacing',
        '"Owner" (me: 2 rows)',
    ]
    assert [column.rows for column in unread] == [2, 2, 2, 2]


def test_a_pole_schedule_names_what_it_does_not_read(table: Callable[..., Any]) -> None:
    text = "Structure,Pole,Class,Lenght,Min Depth\n1/1,A,2,70,9\n1/1,B,2,70,\n"
    (lenght, depth) = read_poles(table(text), unit=LengthUnit.FOOT).unread
    assert (lenght.heading, lenght.near, lenght.values) == ("Lenght", ("length",), ("70",))
    assert (depth.heading, depth.rows) == ("Min Depth", 1)


def test_a_feature_of_context_keeps_all_its_file_says(table: Callable[..., Any], montana: Projection) -> None:
    loaded = read_context(table("layer,N,E,gate\nroads,900000,2250000,G-1\n"), projection=montana)
    assert loaded.unread == ()
    assert loaded.value[0].properties["gate"] == "G-1"


@pytest.mark.parametrize(
    ("heading", "cells", "near"),
    [
        ("Pole Lenght", (), ("length",)),
        ("Pole A", (70, 75), ("length", "letter")),
        ("Wetland", (), ()),
        ("X", (), ()),
    ],
)
def test_near_words(heading: str, cells: tuple[float, ...], near: tuple[str, ...]) -> None:
    assert near_fields(heading, "poles", cells=cells)[: len(near) or None] == near


def test_headings_that_say_too_little_are_led_to_the_nearest_kind(
    save: Callable[..., Path],
) -> None:
    path = save("holds.csv", "hold,line,from,to,kind\nH-1,North,1/1,1/2,no dig\n")
    with pytest.raises(InputRefused) as refused:
        read_source(path)
    (problem,) = refused.value.problems
    assert (
        "row 1 is nearest to holds (understood: id, line, from_date, to_date; not there: " in problem.reason
    )
    assert 'structures or from_structure, near "from"' in problem.reason
    assert "--as KIND" in problem.remedy


def test_a_schedule_with_a_column_a_pole_is_led_to_the_poles() -> None:
    words = nearest_kinds([["Structure", "Pole A", "Pole B", "Owner"]], ("structures", "poles", "punch"))
    assert words.startswith(
        'row 1 is nearest to poles (understood: structure; not there: letter, near "Pole A"'
    )


def test_words_of_no_list_are_near_to_none() -> None:
    assert nearest_kinds([["a", "b"], ["1", "2"]], ("structures", "holds")) == ""
