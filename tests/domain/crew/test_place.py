"""The wrong-place guard: it asks where the fix can tell, is silent where it cannot, and decides no pole."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew.place import POOR_M, PlaceCheck, Sites, digits_exchanged, wrong_place
from linemap.service.view.view import JobView

FOOT = 0.3048


@pytest.fixture(scope="module")
def sites(demo_view: JobView) -> Sites:
    return Sites.of(demo_view.figures, demo_view.projection)


def ask(
    sites: Sites, recorded: str, at: str, *, east_ft: float = 0.0, accuracy_m: float | None = 16 * FOOT
) -> PlaceCheck:
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
    found = ask(sites, "5/2", "2/5")
    assert (found.verdict, found.at, found.exchanged) == ("elsewhere", "2/5", True)
    assert found.sentence == "recorded 5/2, but at 2/5 (±16 ft) and 2.5 mi from 5/2: digits exchanged?"


def test_sixty_feet_from_the_structure_is_at_it(sites: Sites) -> None:
    found = ask(sites, "5/2", "5/2", east_ft=60.0)
    assert (found.verdict, found.sentence) == ("here", "")
    assert found.distance_m == pytest.approx(60 * FOOT, rel=1e-3)


def test_the_next_structure_is_asked_for_by_its_name(sites: Sites) -> None:
    found = ask(sites, "5/2", "5/3")
    assert (found.at, found.exchanged) == ("5/3", False)
    assert found.sentence.endswith("is 5/3 meant?")


def test_far_from_everything_says_how_far(sites: Sites) -> None:
    found = ask(sites, "5/2", "5/2", east_ft=30_000.0)
    assert (found.verdict, found.at) == ("elsewhere", "")
    assert found.sentence == "recorded 5.7 mi (±16 ft) away from 5/2"


@pytest.mark.parametrize("accuracy_m", [None, POOR_M + 1.0, float("nan"), -1.0])
def test_a_poor_fix_asks_nothing(sites: Sites, accuracy_m: float | None) -> None:
    found = ask(sites, "5/2", "2/5", accuracy_m=accuracy_m)
    assert (found.verdict, found.sentence) == ("cannot tell", "")


def test_an_unknown_structure_or_a_place_off_the_globe_cannot_be_told(sites: Sites) -> None:
    assert ask(sites, "99/9", "2/5").verdict == "cannot tell"
    line = sites.figures.lines[0].name
    lost = wrong_place(sites, line=line, structure="5/2", longitude=np.inf, latitude=0.0, accuracy_m=5.0)
    assert lost.verdict == "cannot tell"


def test_no_answer_has_room_for_a_pole() -> None:
    assert {field.name for field in fields(PlaceCheck)} == {
        "verdict",
        "at",
        "exchanged",
        "distance_m",
        "sentence",
    }


@settings(max_examples=60, deadline=None)
@given(east_ft=st.floats(-150.0, 150.0), accuracy_m=st.floats(0.0, POOR_M))
def test_within_the_work_of_its_structure_nothing_is_ever_asked(
    sites: Sites, east_ft: float, accuracy_m: float
) -> None:
    assert ask(sites, "5/2", "5/2", east_ft=east_ft, accuracy_m=accuracy_m).verdict == "here"


@settings(max_examples=60, deadline=None)
@given(east_ft=st.floats(-9000.0, 9000.0), sharp=st.floats(0.0, 30.0), blur=st.floats(0.0, 120.0))
def test_a_worse_fix_never_asks_where_a_better_one_did_not(
    sites: Sites, east_ft: float, sharp: float, blur: float
) -> None:
    better = ask(sites, "5/2", "5/3", east_ft=east_ft, accuracy_m=sharp)
    worse = ask(sites, "5/2", "5/3", east_ft=east_ft, accuracy_m=sharp + blur)
    if better.verdict == "here":
        assert worse.verdict == "here" or worse.at


@given(st.text("0123456789/", max_size=6), st.text("0123456789/", max_size=6))
def test_exchanged_digits_go_both_ways(one: str, other: str) -> None:
    assert digits_exchanged(one, other) == digits_exchanged(other, one)
    assert not digits_exchanged(one, one)
