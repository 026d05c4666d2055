"""Fixes: where a phone stands, never told better than its fix, and whether it is where it records."""

from __future__ import annotations

import re

import numpy as np
import pytest
import shapely
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew.fix import (
    POOR_M,
    Sites,
    Where,
    digits_exchanged,
    nearness,
    where_on_line,
    wrong_place,
)
from linemap.domain.design.surroundings import ContextFeature
from linemap.service.view.view import JobView

FOOT = 0.3048


def stand(
    view: JobView,
    true: float,
    right: float = 0.0,
    *,
    accuracy_m: float | None = 16 * FOOT,
    areas: tuple[ContextFeature, ...] = (),
) -> Where | None:
    """Stand at a true distance, some feet right of the line."""
    factor = view.figures.lines[0].combined_factor
    east, north, _ = view.network.point([0], [true * factor], [right * factor])
    longitude, latitude = view.projection.to_lonlat(east, north)
    return where_on_line(
        view.figures,
        view.network,
        view.projection,
        longitude=float(longitude[0]),
        latitude=float(latitude[0]),
        accuracy_m=accuracy_m,
        areas=areas,
    )


def told(view: JobView, true: float, right: float = 0.0, *, accuracy_m: float | None = 16 * FOOT) -> str:
    found = stand(view, true, right, accuracy_m=accuracy_m)
    assert found is not None
    return found.sentence


def test_between_two_structures_with_station_offset_and_accuracy(demo_view: JobView) -> None:
    assert told(demo_view, 43_420.0, -12.0) == "between 9/2 and 9/3, 434+20, 12 L, ±16 ft"
    assert told(demo_view, 43_100.0, -12.0) == "between 9/1 and 9/2, 431+00, 12 L, ±16 ft"


def test_a_poor_fix_is_rounded_as_it_deserves(demo_view: JobView) -> None:
    assert told(demo_view, 43_023.0, 12.0, accuracy_m=100.0) == "between 9/1 and 9/2, 430+20, 10 R, ±329 ft"


def test_near_a_structure_neither_side_is_claimed(demo_view: JobView) -> None:
    assert told(demo_view, 43_385.0).startswith("at or near 9/2, ")
    assert told(demo_view, 43_420.0, accuracy_m=40.0).startswith("at or near 9/2, ")


def test_a_station_that_stands_twice_carries_its_region(demo_view: JobView) -> None:
    assert "953+40 (R2)" in told(demo_view, 94_955.75, 100.0, accuracy_m=2.0)
    assert "(R" not in told(demo_view, 43_420.0)


def test_a_fix_without_accuracy_is_not_taken_for_a_good_one(demo_view: JobView) -> None:
    assert told(demo_view, 43_100.0, accuracy_m=None).endswith("on line, ±50 ft taken, the device gives none")


def test_no_fix_is_better_than_the_step_between_two_datums(demo_view: JobView) -> None:
    assert told(demo_view, 43_100.0, accuracy_m=0.0).endswith("±7 ft")


def test_beyond_the_end_and_far_away(demo_view: JobView) -> None:
    assert told(demo_view, -400.0).startswith("beyond 1/1, toward Brindle Gap, -4+00")
    far = stand(demo_view, 43_100.0, 9_000.0)
    assert far is not None
    assert (far.sentence, far.station_text) == (
        "1.7 mi from the line, nearest between 9/1 and 9/2, ±16 ft",
        "",
    )


def test_open_areas_are_named_and_restricted_ones_are_not(demo_view: JobView) -> None:
    everywhere = shapely.box(-180.0, -90.0, 180.0, 90.0)
    areas = (
        ContextFeature(layer="Parcel", name="T-08", geometry=everywhere),
        ContextFeature(layer="parcel", name="secret", restricted=True, geometry=everywhere),
        ContextFeature(layer="river", name="Tallow", geometry=everywhere),
    )
    found = stand(demo_view, 43_100.0, areas=areas)
    assert found is not None
    assert found.sentence.endswith("±16 ft, parcel T-08")


def test_off_the_globe_has_no_answer(demo_view: JobView) -> None:
    assert stand(demo_view, float("nan")) is None


@settings(max_examples=examples(60))
@given(
    true=st.floats(-2_000.0, 119_000.0),
    right=st.floats(-3_000.0, 3_000.0),
    accuracy_m=st.floats(0.0, 3_000.0),
)
def test_never_told_better_than_the_fix(
    demo_view: JobView, true: float, right: float, accuracy_m: float
) -> None:
    found = stand(demo_view, true, right, accuracy_m=accuracy_m)
    assert found is not None
    shown = float(found.accuracy_text[1:].split()[0].replace(",", "")) * FOOT
    assert shown >= accuracy_m
    assert re.search(r"\d\.\d\d", found.sentence) is None


@pytest.mark.parametrize("row", [0, 40, 120])
def test_at_a_structure_its_number_is_named(demo_view: JobView, row: int) -> None:
    number = str(demo_view.figures.structures.number[row])
    assert f"at or near {number}," in told(demo_view, float(demo_view.figures.true_distance[row]) + 3.0)


@pytest.fixture(scope="module")
def sites(demo_view: JobView) -> Sites:
    return Sites(figures=demo_view.figures, projection=demo_view.projection, row_of=demo_view.row_of)


def ask(
    sites: Sites, recorded: str, at: str, *, east_ft: float = 0.0, accuracy_m: float | None = 16 * FOOT
) -> str:
    """Record one structure while standing `east_ft` feet east of another."""
    line = sites.figures.lines[0].name
    row = sites.row_of[line, at]
    structures = sites.figures.structures
    longitude, latitude = sites.projection.to_lonlat(
        structures.easting[row] + east_ft, structures.northing[row]
    )
    return wrong_place(
        sites,
        line=line,
        structure=recorded,
        longitude=float(longitude),
        latitude=float(latitude),
        accuracy_m=accuracy_m,
    )


def test_recording_5_2_while_standing_at_2_5_asks_for_exchanged_digits(sites: Sites) -> None:
    asked = ask(sites, "5/2", "2/5")
    assert asked == "recorded 5/2, but at 2/5 (±16 ft) and 2.5 mi from 5/2: digits exchanged?"


def test_sixty_feet_from_the_structure_is_at_it(sites: Sites) -> None:
    assert ask(sites, "5/2", "5/2", east_ft=60.0) == ""


def test_the_next_structure_is_asked_for_by_its_name(sites: Sites) -> None:
    asked = ask(sites, "5/2", "5/3")
    assert asked.startswith("recorded 5/2, but at 5/3 (")
    assert asked.endswith("is 5/3 meant?")


def test_far_from_everything_says_how_far(sites: Sites) -> None:
    assert ask(sites, "5/2", "5/2", east_ft=30_000.0) == "recorded 5.7 mi (±16 ft) away from 5/2"


@pytest.mark.parametrize("accuracy_m", [None, POOR_M + 1.0, float("nan"), -1.0])
def test_a_poor_fix_asks_nothing(sites: Sites, accuracy_m: float | None) -> None:
    assert ask(sites, "5/2", "2/5", accuracy_m=accuracy_m) == ""


def test_of_an_unknown_structure_or_a_place_off_the_globe_nothing_is_asked(sites: Sites) -> None:
    assert ask(sites, "99/9", "2/5") == ""
    line = sites.figures.lines[0].name
    assert (
        wrong_place(sites, line=line, structure="5/2", longitude=np.inf, latitude=0.0, accuracy_m=5.0) == ""
    )


@settings(max_examples=examples(60))
@given(east_ft=st.floats(-150.0, 150.0), accuracy_m=st.floats(0.0, POOR_M))
def test_within_the_work_of_its_structure_nothing_is_ever_asked(
    sites: Sites, east_ft: float, accuracy_m: float
) -> None:
    assert ask(sites, "5/2", "5/2", east_ft=east_ft, accuracy_m=accuracy_m) == ""


@settings(max_examples=examples(60))
@given(east_ft=st.floats(-9000.0, 9000.0), sharp=st.floats(0.0, 30.0), blur=st.floats(0.0, 120.0))
def test_a_worse_fix_never_calls_far_away_what_a_better_one_did_not(
    sites: Sites, east_ft: float, sharp: float, blur: float
) -> None:
    better = ask(sites, "5/2", "5/3", east_ft=east_ft, accuracy_m=sharp)
    worse = ask(sites, "5/2", "5/3", east_ft=east_ft, accuracy_m=sharp + blur)
    assert better or not worse.endswith("away from 5/2")


@given(st.text("0123456789/", max_size=6), st.text("0123456789/", max_size=6))
def test_exchanged_digits_go_both_ways(one: str, other: str) -> None:
    assert digits_exchanged(one, other) == digits_exchanged(other, one)
    assert not digits_exchanged(one, one)


def test_a_phone_is_at_a_structure_only_where_its_fix_reaches() -> None:
    assert nearness(215.0, 90.0, 5.0) == "away"
    assert nearness(9.0, 200.0, 5.0) == "near"
    assert nearness(4.0, 200.0, 5.0) == "at"
    assert nearness(4.0, 50.0, 55.0) == "perhaps"
    assert nearness(100.0, 300.0, 149.0) == "perhaps"
    assert nearness(0.0, 300.0, POOR_M + 1.0) == "too coarse"
    assert nearness(0.0, 300.0, float("nan")) == "too coarse"


def test_beside_a_structure_but_far_off_the_line_is_not_at_it(demo_view: JobView) -> None:
    at = float(demo_view.figures.true_distance[demo_view.row("", "9/2")])
    assert told(demo_view, at, 705.0) == "between 9/2 and 9/3, 433+81, 705 R, ±16 ft"


def test_too_coarse_a_fix_names_no_structure_as_its_place(demo_view: JobView) -> None:
    said = told(demo_view, 43_385.0, accuracy_m=160.0)
    assert said.startswith("about 9/2, too coarse a fix to tell structures apart, ")
