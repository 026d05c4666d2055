"""What a new revision changes, structure by structure."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.revision import Change, compare
from linemap.domain.design.structure import Structures
from linemap.geometry.frame import ArmRule
from linemap.units import LengthUnit

COUNT = 6


def structures(**changes: Any) -> Structures:
    plain: dict[str, Any] = {
        "number": ["9/6", "10/1", "10/2", "12/3", "12/3A", "12/4"],
        "easting": [600.0 * n for n in range(COUNT)],
        "northing": [0.0] * COUNT,
        "elevation": [800.0] * COUNT,
        "spacing": [12.5] * COUNT,
        "type_code": ["H-TAN"] * COUNT,
        "section_break": [False] * COUNT,
    }
    return Structures.from_columns(**{**plain, **changes})


def words(old: Structures, new: Structures, unit: LengthUnit = LengthUnit.FOOT) -> list[tuple[str, str, str]]:
    return [(change.number, change.change, change.words) for change in compare(old, new, unit=unit)]


def altered(name: str, row: int, value: Any) -> Structures:
    before = structures()
    column = getattr(before, name).copy()
    column[row] = value
    return replace(before, **{name: column})


def test_the_same_list_changes_nothing_though_values_are_not_given() -> None:
    listed = structures(spacing=[np.nan] * COUNT, elevation=None)
    assert words(listed, structures(spacing=[np.nan] * COUNT, elevation=None)) == []


def test_order_rows_files_and_written_stations_are_no_change() -> None:
    listed = structures()
    shuffled = replace(
        listed.take(np.array([5, 3, 1, 0, 2, 4])),
        source_row=np.arange(COUNT) + 100,
        given_station=np.array([f"{n}+00" for n in range(COUNT)], dtype=object),
        source_file="rev_c.csv",
    )
    assert words(listed, shuffled) == []


@pytest.mark.parametrize(
    ("unit", "expected"), [(LengthUnit.FOOT, "moved 5.00 ft"), (LengthUnit.METRE, "moved 5.000 m")]
)
def test_a_move_is_told_by_its_distance(unit: LengthUnit, expected: str) -> None:
    before = structures()
    after = altered("easting", 1, 603.0)
    after = replace(after, northing=np.array([0.0, 4.0, 0.0, 0.0, 0.0, 0.0]))
    assert words(before, after, unit) == [("10/1", "moved", expected)]


@pytest.mark.parametrize(
    ("unit", "distance", "moved"),
    [
        (LengthUnit.FOOT, 0.004, False),
        (LengthUnit.FOOT, 0.006, True),
        (LengthUnit.US_SURVEY_FOOT, 0.006, True),
        (LengthUnit.METRE, 0.0004, False),
        (LengthUnit.METRE, 0.0006, True),
    ],
)
def test_rounding_is_no_move(unit: LengthUnit, distance: float, moved: bool) -> None:
    assert bool(words(structures(), altered("northing", 0, distance), unit)) is moved


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("elevation", 801.25, "ground elevation 800.00 ft -> 801.25 ft"),
        ("elevation", np.nan, "ground elevation 800.00 ft -> not given"),
        ("spacing", 15.5, "pole spacing 12.50 ft -> 15.50 ft"),
        ("pole_count", 3, "number of poles 2 -> 3"),
        ("rule", ArmRule.SQUARE_TO_BACK, "arm rule bisector -> square to back"),
        ("explicit_azimuth", 63.25, "listed azimuth not given -> 63.2500°"),
        ("section_break", True, "section break no -> yes"),
        ("type_code", "P3-DE", "type H-TAN -> P3-DE"),
        ("remarks", "see sheet 4", "remarks not given -> see sheet 4"),
    ],
)
def test_each_changed_column_is_told_with_both_values(name: str, value: Any, expected: str) -> None:
    assert words(structures(), altered(name, 2, value)) == [("10/2", "changed", expected)]


def test_a_difference_that_prints_the_same_is_no_change() -> None:
    assert words(structures(), altered("spacing", 2, 12.5000001)) == []


def test_one_structure_can_change_in_several_ways_and_all_stand_in_natural_order() -> None:
    before = structures()
    after = structures(
        number=["9/6", "10/1", "10/2", "12/3", "12/3B", "12/4"],
        easting=[608.0 * n for n in range(COUNT)],
        spacing=[12.5, 15.5, 12.5, 12.5, 12.5, 12.5],
    )
    assert words(before, after) == [
        ("10/1", "moved", "moved 8.00 ft"),
        ("10/1", "changed", "pole spacing 12.50 ft -> 15.50 ft"),
        ("10/2", "moved", "moved 16.00 ft"),
        ("12/3", "moved", "moved 24.00 ft"),
        ("12/3A", "removed", "removed"),
        ("12/3B", "added", "added"),
        ("12/4", "moved", "moved 40.00 ft"),
    ]


@settings(max_examples=examples(60))
@given(
    kept=st.sets(st.integers(0, COUNT - 1)),
    also=st.sets(st.integers(0, COUNT - 1)),
    moved=st.sets(st.integers(0, COUNT - 1)),
)
def test_exactly_the_changed_structures_are_flagged(kept: set[int], also: set[int], moved: set[int]) -> None:
    listed = structures()
    shift = np.array([8.0 if row in moved else 0.0 for row in range(COUNT)])
    old = listed.take(np.array(sorted(kept), dtype=np.int64))
    new = replace(listed, northing=shift).take(np.array(sorted(also), dtype=np.int64))
    found = compare(old, new, unit=LengthUnit.FOOT)
    number = listed.number
    assert {change.number for change in found if change.change == "removed"} == {
        number[n] for n in kept - also
    }
    assert {change.number for change in found if change.change == "added"} == {number[n] for n in also - kept}
    assert {change.number for change in found if change.change == "moved"} == {
        number[n] for n in kept & also & moved
    }
    assert len(found) == len(kept ^ also) + len(kept & also & moved)


def test_one_move_among_a_hundred_thousand_is_found() -> None:
    size = 100_000
    easting = np.arange(size, dtype=np.float64)
    old = Structures.from_columns(number=[str(n) for n in range(size)], easting=easting, northing=easting)
    moved = easting.copy()
    moved[7] += 8.0
    found = compare(old, replace(old, easting=moved), unit=LengthUnit.FOOT)
    moved = {"distance": 8.0, "unit": "ft", "azimuth_deg": 90.0}
    assert found == (Change(number="7", change="moved", values=moved),)
