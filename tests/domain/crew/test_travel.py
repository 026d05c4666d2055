"""Travel by the access network: roads where they are joined, the right of way where nothing cuts it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import pytest
import shapely
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew.access import build_access
from linemap.domain.crew.travel import AccessNetwork, Start, Travel, travel_from, travel_words
from linemap.domain.design.figures import Figures
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.geometry.projection import Projection
from linemap.service.view.view import JobView
from linemap.units import LengthUnit

FOOT = LengthUnit.FOOT
MILE = 1609.344
#: Where the line of five structures, 1,000 ft apart and due north, begins.
EAST, NORTH = 2_250_000.0, 900_000.0
CRS = Projection.from_text("EPSG:6515")
DETOUR = [(0, 1900), (-3000, 1900), (-3000, 3100), (0, 3100)]
RIVER = [(-2000, 2400), (2000, 2400), (2000, 2600), (-2000, 2600)]


def lonlat(points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Places given in feet east and north of the first structure."""
    return [tuple(float(v) for v in CRS.to_lonlat(EAST + x, NORTH + y)) for x, y in points]  # type: ignore[misc]


def road(points: Iterable[tuple[float, float]], name: str = "Mill Road", **more: str) -> ContextFeature:
    return ContextFeature(
        layer="road", name=name, geometry=shapely.LineString(lonlat(points)), properties=more
    )


def river(points: Iterable[tuple[float, float]] = RIVER) -> ContextFeature:
    return ContextFeature(layer="river", name="Tallow", geometry=shapely.Polygon(lonlat(points)))


def network(
    figures: Figures, *features: ContextFeature, crossings: tuple[Crossing, ...] = ()
) -> AccessNetwork:
    return build_access(figures, features, crossings, projection=CRS)


def at(net: AccessNetwork, figures: Figures, row: int) -> Start:
    return Start(
        line=int(figures.line_index[row]),
        along=float(net.node_along[net.structure_node[row]]),
        easting=float(figures.structures.easting[row]),
        northing=float(figures.structures.northing[row]),
        row=row,
    )


def go(figures: Figures, row: int, *features: ContextFeature, closed: tuple[int, ...] = ()) -> Travel:
    net = network(figures, *features)
    return travel_from(net, figures, at(net, figures, row), closed=closed)


def feet(travel: Travel) -> list[float]:
    return [round(float(metres) / 0.3048, 1) for metres in travel.metres]


def test_without_roads_the_right_of_way_is_driven(north: Figures) -> None:
    travel = go(north, 1)
    assert feet(travel) == [1000.0, 0.0, 1000.0, 2000.0, 3000.0]
    assert not travel.network.has_roads
    assert travel_words(travel, 2, FOOT) == "1,000 ft along the right of way"
    assert travel_words(travel, 1, FOOT) == "here"


def test_a_river_cuts_the_right_of_way(north: Figures) -> None:
    travel = go(north, 1, river())
    assert np.isinf(travel.metres[3:]).all()
    assert travel_words(travel, 3, FOOT) == (
        "no crossing on the right of way (river); no roads in the job; 2,000 ft along the line"
    )


def test_a_road_round_the_river_is_found_and_told(north: Figures) -> None:
    long_way = [(0, 1900), (-3000, 1900), (-3000, 3100), (0, 3100)]
    travel = go(north, 2, river(), road(long_way))
    # 100 ft back to the road, 7,200 ft by it, 100 ft back to 2/1
    assert feet(travel)[3] == pytest.approx(7_400.0, abs=0.5)
    assert travel_words(travel, 3, FOOT) == (
        "no crossing on the right of way (river); 1.4 mi by Mill Road, 1.4 mi in all with the right of way"
    )
    assert [(strand.name, strand.line >= 0) for strand, _ in travel.legs(3)] == [
        ("right of way", True), ("Mill Road", False), ("right of way", True),
    ]  # fmt: skip


SHORT = [(0, 1900), (-500, 1900), (-500, 3100), (0, 3100)]


@pytest.mark.parametrize(
    ("more", "driven"),
    [({}, False), ({"bridge": "no"}, False), ({"bridge": "yes"}, True), ({"ford_tons": "20"}, True)],
)
def test_a_road_drawn_through_a_river_is_no_bridge(
    north: Figures, more: dict[str, str], driven: bool
) -> None:
    travel = go(north, 2, river(), road(SHORT, **more))
    assert bool(np.isfinite(travel.metres[3])) is driven
    if "ford_tons" in more:
        assert "(20-ton ford)" in travel_words(travel, 3, FOOT)


def test_the_detour_that_a_crossing_names_is_driven(north: Figures) -> None:
    crossing = Crossing(
        line="North", what="Tallow River", true_distance=2500.0,
        rule="no crossing on the right of way; Mill Road detour",
    )  # fmt: skip
    net = network(north, river(), road(SHORT), crossings=(crossing,))
    travel = travel_from(net, north, at(net, north, 2))
    assert feet(travel)[3] == pytest.approx(2_400.0, abs=0.5)
    assert len(net.breaks) == 1


@pytest.mark.parametrize(
    "place",
    [{"true_distance": 2500.0}, {"back_structure": "1/3", "ahead_structure": "2/1"}],
)
def test_a_crossing_alone_cuts_the_right_of_way(north: Figures, place: dict[str, object]) -> None:
    rule = "no crossing on the right of way"
    crossing = Crossing(line="", what="canal", rule=rule, **place)  # type: ignore[arg-type]
    net = network(north, crossings=(crossing, Crossing(line="South", what="x", true_distance=1.0, rule=rule)))
    travel = travel_from(net, north, at(net, north, 0))
    assert np.isfinite(travel.metres).tolist() == [True, True, True, False, False]
    assert "(canal)" in travel_words(travel, 4, FOOT)


def test_a_loose_end_is_joined_when_near_and_not_when_far(north: Figures) -> None:
    for gap, joined in ((200, True), (1500, False)):
        ways = (river(), road([(-gap, 1900), (-3000, 1900), (-3000, 3100), (-gap, 3100)]))
        assert bool(np.isfinite(go(north, 2, *ways).metres[3])) is joined


def test_gates_are_told(north: Figures) -> None:
    travel = go(north, 2, river(), road(DETOUR, gate="G-7"))
    assert "by Mill Road (gate G-7)" in travel_words(travel, 3, FOOT)


def test_a_restricted_road_is_neither_driven_nor_named(north: Figures) -> None:
    secret = ContextFeature(
        layer="access", name="secret", restricted=True, geometry=shapely.LineString(lonlat(DETOUR))
    )
    assert not network(north, secret).has_roads


def test_a_closed_structure_is_reached_and_not_passed(north: Figures) -> None:
    travel = go(north, 0, closed=(2,))
    assert np.isfinite(travel.metres).tolist() == [True, True, True, False, False]
    assert np.isfinite(go(north, 2, closed=(2,)).metres).all()


def test_a_place_beside_the_line_goes_to_it_first(north: Figures) -> None:
    net = network(north)
    start = Start(line=0, along=1400.0, easting=EAST + 50.0, northing=NORTH + 1400.0)
    assert feet(travel_from(net, north, start)) == [1450.0, 450.0, 650.0, 1650.0, 2650.0]
    far = Start(line=0, along=1400.0, easting=EAST + 50_000.0, northing=NORTH + 1400.0)
    assert np.isinf(travel_from(net, north, far).metres).all()


def test_no_straight_leg_leads_through_water(north: Figures) -> None:
    moat = river([(20, 0), (40, 0), (40, 4000), (20, 4000)])
    net = network(north, moat)
    start = Start(line=0, along=1400.0, easting=EAST + 50.0, northing=NORTH + 1400.0)
    assert np.isinf(travel_from(net, north, start).metres).all()


def test_two_lines_are_joined_by_a_road_only(build: Callable[..., Figures]) -> None:
    two = build(names=("North", "South"))
    assert np.isinf(go(two, 0).metres[5:]).all()
    assert "no way is known" in travel_words(go(two, 0), 5, FOOT)
    joined = go(two, 0, road([(0, 0), (5000, 0)]))
    assert feet(joined)[5] == pytest.approx(5000.0, abs=0.5)


ROADS = st.lists(
    st.lists(
        st.tuples(st.integers(-3000, 3000), st.integers(-500, 4500)), min_size=2, max_size=4, unique=True
    ),
    max_size=3,
)


@settings(max_examples=examples(40))
@given(lines=ROADS)
def test_ways_are_as_long_there_as_back_and_no_shorter_than_the_crow_flies(
    north: Figures, lines: list[list[tuple[float, float]]]
) -> None:
    net = network(north, river(), *(road(points) for points in lines))
    ways = np.array([travel_from(net, north, at(net, north, row)).metres for row in range(5)])
    assert np.allclose(ways, ways.T, atol=1e-3, equal_nan=True) or np.isinf(ways).any()
    finite = np.isfinite(ways)
    assert (finite == finite.T).all()
    crow = np.abs(np.subtract.outer(np.arange(5), np.arange(5))) * 304.8
    assert (ways >= crow - 1e-3).all()


@settings(max_examples=examples(40))
@given(lines=ROADS, row=st.integers(0, 4))
def test_the_legs_make_up_the_way(north: Figures, lines: list[list[tuple[float, float]]], row: int) -> None:
    travel = go(north, 2, *(road(points) for points in lines))
    legs = travel.legs(row)
    # joins off the roads are no legs, and each is no longer than 300 m
    assert sum(metres for _, metres in legs) <= travel.metres[row] + 0.01
    if len(legs) <= 1:
        assert sum(metres for _, metres in legs) == pytest.approx(float(travel.metres[row]), abs=0.01)


def test_a_road_added_never_makes_a_way_longer(north: Figures) -> None:
    alone = go(north, 0, river(), road(DETOUR)).metres
    more = go(north, 0, river(), road(DETOUR), road(SHORT, bridge="yes")).metres
    assert (more <= alone + 1e-6).all()


def test_from_11_6_to_12_1_by_lantern_bridge_road(demo_view: JobView) -> None:
    net = build_access(
        demo_view.figures, demo_view.context, demo_view.crossings, projection=demo_view.projection
    )
    travel = travel_from(net, demo_view.figures, at(net, demo_view.figures, demo_view.row("", "11/6")))
    row = demo_view.row("", "12/1")
    words = travel_words(travel, row, FOOT)
    assert words.startswith("no crossing on the right of way (river); 9.6 mi by Lantern Bridge Road")
    assert travel.metres[row] / MILE == pytest.approx(9.6 + (625.5 + 614.5) / 5280.0, abs=0.01)
    assert np.isfinite(travel.metres).all()
