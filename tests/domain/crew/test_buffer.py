"""How far a hold reaches: structures by their poles, spans by the line between, nothing by mistake."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from linemap.domain.crew.buffer import buffers_of, within_radius
from linemap.domain.crew.hold import Hold
from linemap.service.view.view import JobView

DAY = date(2026, 5, 15)


def place(view: JobView, number: str, *, right_ft: float = 0.0) -> tuple[float, float]:
    """Return a grid place beside a structure, ground feet right of the line."""
    row = view.row("", number)
    azimuth = np.radians(float(view.figures.structure_azimuth_deg[row]) + 90.0)
    east, north = view.figures.centre_of(row)
    reach = right_ft * float(view.figures.combined_factor[row])
    return float(east + reach * np.sin(azimuth)), float(north + reach * np.cos(azimuth))


def nest(view: JobView, radius: float, **more: object) -> Hold:
    """Return a hold on all work around the nest of the invented line, 420 ft left of 14/2."""
    east, north = place(view, "14/2", right_ft=-420.0)
    given = {"id": "HN-9", "easting": east, "northing": north, "radius": radius, **more}
    return within_radius(view.figures, Hold(**given))  # type: ignore[arg-type]


def test_several_radii_reach_several_structures(demo_view: JobView) -> None:
    assert nest(demo_view, 660.0).within == ("14/2",)
    assert set(nest(demo_view, 1320.0).within) == {"14/1", "14/2", "14/3"}
    hold = nest(demo_view, 660.0)
    assert hold.reach.covers(demo_view.key(0)[0], "14/2")
    assert not hold.reach.covers(demo_view.key(0)[0], "14/1")
    said = "no work at 14/2 and in the spans 14/1 to 14/2, 14/2 to 14/3, within 660 ft of its place"
    assert hold.sentence().startswith(said)


def test_where_nothing_lies_within_nothing_is_held_and_the_sentence_says_so(demo_view: JobView) -> None:
    hold = nest(demo_view, 100.0)
    assert (hold.within, hold.spans) == ((), ())
    assert not any(hold.reach.covers(*demo_view.key(row)) for row in range(len(demo_view.figures)))
    assert "at no structure of the lists" in hold.sentence()


def test_a_pole_within_is_enough_and_the_ground_is_measured(demo_view: JobView) -> None:
    row = demo_view.row("", "14/2")
    half = float(demo_view.figures.structures.spacing[row]) / 2.0
    reach = 420.0 - half
    assert nest(demo_view, reach + 0.5).within == ("14/2",), "its nearer pole"
    assert nest(demo_view, reach - 0.5).within == ()


def test_a_structure_may_be_the_place(demo_view: JobView) -> None:
    span = float(demo_view.figures.ahead_span[demo_view.row("", "14/2")])
    hold = within_radius(demo_view.figures, Hold(id="H", structures=("14/2",), radius=span + 20.0))
    assert "14/3" in hold.within
    assert "of 14/2" in hold.sentence()


def test_the_wire_of_a_span_within_is_held_and_nothing_else_at_its_back_structure(demo_view: JobView) -> None:
    (wire,) = nest(demo_view, 660.0).on_wire()
    assert wire.reach.covers(demo_view.key(0)[0], "14/1")
    assert wire.stops("strung")
    assert not wire.stops("dug")
    assert wire.sentence().startswith("no wire in the span 14/1 to 14/2")
    assert nest(demo_view, 660.0, activities=("dig",)).on_wire() == ()


def test_a_restricted_place_is_drawn_for_nobody_and_said_to_nobody(demo_view: JobView) -> None:
    open_one, kept = nest(demo_view, 660.0), nest(demo_view, 660.0, restricted=True)
    (drawn,) = buffers_of(demo_view.figures, [open_one], demo_view.projection, on=DAY)
    assert drawn.name == "HN-9: 660 ft"
    row = demo_view.row("", "14/2")
    assert drawn.geometry.contains_properly(drawn.geometry.centroid)
    west, south, east, north = drawn.geometry.bounds
    assert west < float(demo_view.figures.longitude[row]) < east
    assert south < float(demo_view.figures.latitude[row]) < north
    (drawn,) = buffers_of(demo_view.figures, [kept], demo_view.projection, on=DAY)
    assert drawn.restricted
    assert "660" not in kept.sentence()
    told = kept.without_reason()
    assert (told.easting, told.radius_text, told.within) == (None, "", ("14/2",))
    over = replace(open_one, released_on=DAY)
    assert not [*buffers_of(demo_view.figures, [over], demo_view.projection, on=DAY)]


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"easting": 1.0, "northing": 2.0}, "a place and no radius"),
        ({"radius": 0.0, "structures": ("1/1",)}, "above 0"),
    ],
)
def test_half_a_buffer_is_refused(given: dict[str, object], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        Hold(id="H", **given)  # type: ignore[arg-type]
