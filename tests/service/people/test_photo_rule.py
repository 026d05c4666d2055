"""Photos of restricted places are for the manager and for whoever took them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
import shapely

from linemap.domain.design.surroundings import ContextFeature
from linemap.domain.record.event import Event
from linemap.domain.record.person import Person, Role
from linemap.service.people.restricted import NEAR_M, may_see_photo, shows_restricted_place
from linemap.service.view.view import JobView

LINE = "Brindle Gap - Amber Sill 115 kV"
NOW = dt.datetime(2026, 5, 15, 12, tzinfo=dt.UTC)


def record(structure: str) -> Event:
    return Event(
        id="e",
        line=LINE,
        structure=structure,
        step="framed",
        happened_at=NOW,
        received_at=NOW,
        actor="Rae Holm",
    )


@pytest.mark.parametrize(
    ("structure", "expected"),
    [("14/2", True), ("14/1", True), ("21/3", True), ("9/2", False), ("11/4", False), ("13/2", False)],
)
def test_a_restricted_hold_makes_a_place_restricted_an_open_one_does_not(
    demo_view: JobView, structure: str, expected: bool
) -> None:
    assert shows_restricted_place(demo_view, record(structure)) is expected


def test_so_does_a_restricted_feature_within_a_quarter_of_a_mile(demo_view: JobView) -> None:
    row = demo_view.row("", "9/2")
    lon, lat = float(demo_view.figures.longitude[row]), float(demo_view.figures.latitude[row])
    for metres, expected in ((NEAR_M - 20.0, True), (NEAR_M + 20.0, False)):
        spot = shapely.Point(lon, lat + metres / 111_160.0)
        nest = ContextFeature(layer="nest", name="", geometry=spot, restricted=True)
        view = replace(demo_view, context=(*demo_view.context, nest))
        assert shows_restricted_place(view, record("9/2")) is expected


def test_who_may_look(demo_view: JobView) -> None:
    people = {
        "taker": Person(name="Rae Holm", role=Role.CREW),
        "manager": Person(name="Bo", role=Role.MANAGER),
        "machine": Person.at_the_machine(),
        "other crew": Person(name="Kit", role=Role.CREW),
        "inspector": Person(name="Ada", role=Role.INSPECTOR),
        "viewer": Person(name="Vi", role=Role.VIEWER),
    }
    seen = {
        place: {name for name, who in people.items() if may_see_photo(demo_view, record(place), who)}
        for place in ("9/2", "14/2")
    }
    assert seen["14/2"] == {"taker", "manager", "machine"}
    assert seen["9/2"] == {"taker", "manager", "machine", "other crew", "inspector"}
