"""Where a phone stands on the line, never told better than its fix."""

from __future__ import annotations

import re

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew.where import Where, where_on_line
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


@settings(max_examples=60, deadline=None)
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
