"""The nearest hospital comes from the job's own list, by its roads where they lead to it."""

from __future__ import annotations

import shapely

from linemap.domain.crew.access import build_access
from linemap.domain.crew.emergency import CALL_FIRST, Hospitals, is_hospital
from linemap.domain.design.surroundings import ContextFeature
from linemap.geometry.crs import geodesic
from linemap.service.view.view import JobView


def place(view: JobView, number: str, *, east: float = 0.0, north: float = 0.0) -> shapely.Point:
    row = view.row("", number)
    return shapely.Point(float(view.figures.longitude[row]) + east, float(view.figures.latitude[row]) + north)


def hospital(shape: shapely.Point, name: str, **said: str) -> ContextFeature:
    return ContextFeature(layer="hospital", name=name, geometry=shape, properties=said)


def of(view: JobView, *features: ContextFeature, roads: tuple[ContextFeature, ...] | None) -> Hospitals:
    network = (
        None
        if roads is None
        else build_access(view.figures, roads, view.crossings, projection=view.projection)
    )
    return Hospitals.of(features, view.figures, projection=view.projection, network=network)


def test_without_roads_the_nearest_in_a_straight_line_is_said_to_be_one(demo_view: JobView) -> None:
    near = hospital(place(demo_view, "9/2", north=0.05), "Amber Sill General", Phone="555-0142")
    far = hospital(place(demo_view, "9/2", north=-0.4), "Cold Ford Clinic")
    words = of(demo_view, far, near, roads=None).words(demo_view.row("", "9/2"))
    assert len(words) == 2
    metres = geodesic(*shapely.get_coordinates(near.geometry)[0], *place(demo_view, "9/2").coords[0])[0]
    assert (
        f"Amber Sill General, {float(metres) / 1609.344:.1f} mi in a straight line, no way measured"
        in words[0]
    )
    assert "telephone 555-0142" in words[0]
    assert words[1] == CALL_FIRST
    assert "check it before work" in CALL_FIRST


def test_the_roads_of_the_job_lead_and_a_nearer_one_without_a_way_is_said_too(demo_view: JobView) -> None:
    by_road = hospital(place(demo_view, "9/2", north=0.06), "By Road")
    off_road = hospital(place(demo_view, "9/2", east=0.02, north=-0.02), "Off Road")
    farther = hospital(place(demo_view, "9/2", east=0.9, north=-0.9), "Farther")
    road = ContextFeature(
        layer="road",
        name="Mill Road",
        geometry=shapely.LineString([place(demo_view, "9/2"), place(demo_view, "9/2", north=0.06)]),
    )
    row = demo_view.row("", "9/2")
    words = of(demo_view, by_road, off_road, farther, roads=(road,)).words(row)
    assert "By Road" in words[0]
    assert "by the roads of the job" in words[0]
    assert "no telephone listed" in words[0]
    assert "Off Road" in words[1]
    assert "in a straight line" in words[1]
    assert words[2:] == (CALL_FIRST,)
    words = of(demo_view, by_road, farther, roads=(road,)).words(row)
    assert len(words) == 2, "one that lies farther off than the way by road is not the nearest"


def test_a_hospital_is_told_by_its_layer_or_its_kind_and_a_restricted_one_by_nobody() -> None:
    here = shapely.Point(0, 0)
    assert is_hospital(ContextFeature(layer="Hospital", geometry=here))
    assert is_hospital(ContextFeature(layer="emergency", geometry=here, properties={"Kind": "hospital"}))
    assert not is_hospital(ContextFeature(layer="emergency", geometry=here, properties={"Kind": "muster"}))
    assert not is_hospital(ContextFeature(layer="hospital", geometry=here, restricted=True))


def test_a_job_without_hospitals_says_nothing(demo_view: JobView) -> None:
    assert of(demo_view, roads=None).words(0) == ()
