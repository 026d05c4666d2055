"""Networks of centrelines: laws that hold for every line, and agreement with shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from dose import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from linemap.geometry.alignment import Network
from linemap.geometry.bearing import wrap180
from linemap.geometry.locate import Located

Floats = NDArray[np.float64]
Line = tuple[Floats, Floats]
CORNER = Network.from_vertices([0.0, 100.0, 100.0], [0.0, 0.0, 100.0], [0, 3])


@st.composite
def lines(draw: st.DrawFn, at_least: int = 2, at_most: int = 25) -> Line:
    """A centreline in state plane numbers, turning up to 69° at each vertex."""
    count = draw(st.integers(at_least, at_most)) - 1
    length = np.array(draw(st.lists(st.floats(1.0, 4000.0), min_size=count, max_size=count)))
    turn = np.array(draw(st.lists(st.floats(-1.2, 1.2), min_size=count, max_size=count)))
    heading = draw(st.floats(0.0, 2.0 * math.pi)) + np.cumsum(turn)
    east = 2e6 + np.concatenate(([0.0], np.cumsum(length * np.sin(heading))))
    north = 6e5 + np.concatenate(([0.0], np.cumsum(length * np.cos(heading))))
    return east, north


places = st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(-300.0, 300.0)), min_size=1, max_size=8)
near = st.tuples(st.floats(-5000.0, 5000.0), st.floats(-5000.0, 5000.0))


def network(line: Line) -> Network:
    return Network.from_vertices(*line, [0, line[0].size])


def located(line: Line, east: Floats, north: Floats, within: float = 0.5) -> Located:
    return network(line).locate(east, north, 0, pi_snap=0.0, competing_within=within)


def beside(line: Line, place: list[tuple[float, float]]) -> Line:
    """Points at fractions of the line's length, moved east and a third as much south."""
    part, aside = np.array(place).T
    east, north, _ = network(line).point(0, part * network(line).length[0])
    return east + aside, north - aside / 3.0


def test_a_right_angle() -> None:
    assert CORNER.route_count == 1
    assert CORNER.length.tolist() == [200.0]
    found = CORNER.locate(
        [60.0, 104.0, -5.0, 98.0], [-4.0, 60.0, 3.0, 110.0], 0, pi_snap=0.0, competing_within=0.0
    )
    assert found.distance.tolist() == [60.0, 160.0, -5.0, 210.0]
    assert found.offset.tolist() == [4.0, 4.0, -3.0, -2.0]
    assert found.segment.tolist() == [0, 1, 0, 1]
    assert found.azimuth_back_deg.tolist() == [90.0, 0.0, 90.0, 0.0]
    assert found.before_start.tolist() == [False, False, True, False]
    assert found.past_end.tolist() == [False, False, False, True]
    assert not found.ambiguous.any()
    assert (found.pi_vertex == -1).all()


def test_points_at_distances() -> None:
    east, north, azimuth = CORNER.point(0, [-5.0, 60.0, 100.0, 210.0], [3.0, 4.0, 0.0, -2.0])
    assert east.tolist() == [-5.0, 60.0, 100.0, 98.0]
    assert north.tolist() == [-3.0, -4.0, 0.0, 110.0]
    assert azimuth.tolist() == [90.0, 90.0, 0.0, 0.0]


def test_unknown_places_give_unknown_points_and_back() -> None:
    east, north, _ = CORNER.point(0, [np.nan, 10.0])
    assert np.isnan(east).tolist() == np.isnan(north).tolist() == [True, False]
    found = CORNER.locate(
        [np.nan, 10.0, np.inf, 0.0], [1.0, 1.0, 1.0, -1e200], 0, pi_snap=1.0, competing_within=1.0
    )
    np.testing.assert_array_equal(found.distance, [np.nan, 10.0, np.nan, np.nan])
    np.testing.assert_array_equal(found.offset, [np.nan, -1.0, np.nan, np.nan])
    assert found.segment.tolist() == [-1, 0, -1, -1]
    assert not found.before_start.any()
    assert not found.at_pi.any()


def test_no_points() -> None:
    found = CORNER.locate([], [], 0, pi_snap=1.0, competing_within=1.0)
    assert found.distance.size == found.segment.size == found.ambiguous.size == 0


def test_repeated_vertices_keep_the_numbers_of_the_others() -> None:
    line = Network.from_vertices([0.0, 0.0, 50.0, 50.0, 50.0, 50.0], [0.0, 0.0, 0.0, 0.0, 30.0, 30.0], [0, 6])
    assert line.segments.vertex.tolist() == [1, 3]
    assert line.turns().vertex.tolist() == [3]
    assert line.turns().deflection_deg.tolist() == [-90.0]
    assert line.locate(50.0, -0.5, 0, pi_snap=1.0, competing_within=0.0).pi_vertex.tolist() == [3]


def test_turns_of_several_routes() -> None:
    east = [0.0, 0.0, 10.0, 5.0, 6.0, 8.0, 0.0, 0.0, 0.0]
    north = [0.0, 10.0, 10.0, 5.0, 5.0, 5.0, 0.0, 9.0, 1.0]
    turns = Network.from_vertices(east, north, [0, 3, 6, 9]).turns()
    route, vertex, distance, deflection = turns
    assert route.tolist() == [0, 1, 2]
    assert vertex.tolist() == [1, 4, 7]
    assert distance.tolist() == [10.0, 1.0, 9.0]
    assert deflection.tolist() == [90.0, 0.0, 180.0]


def test_lines_that_double_back() -> None:
    line = Network.from_vertices([0.0, 100.0, 1.0, 1.0], [0.0, 0.0, 1.0, 50.0], [0, 4])
    assert line.doubled_back().tolist() == [1]
    assert CORNER.doubled_back().size == 0


@pytest.mark.parametrize(
    ("east", "north", "start", "message"),
    [
        ([0.0, 1.0, 5.0, 5.0], [0.0, 1.0, 5.0, 5.0], [0, 2, 4], "route 1 has fewer than 2 distinct points"),
        ([0.0, 1.0, 5.0], [0.0, 1.0, 5.0], [0, 2, 3], "route 1 has fewer than 2 distinct points"),
        ([0.0, 1.0], [0.0, 1.0], [0, 0, 2], "route 0 has fewer"),
        ([0.0, 1.0, 2.0, np.nan], [0.0] * 4, [0, 2, 4], "vertex 3 of route 1 is not finite"),
        ([0.0, 1.0], [0.0], [0, 2], "2 eastings and 1 northings"),
        ([0.0, 1.0], [0.0, 1.0], [0, 3], "route offsets must rise from 0 to the 2 vertices"),
        ([0.0, 1.0], [0.0, 1.0], [0], "route offsets"),
    ],
)
def test_refused_networks(east: list[float], north: list[float], start: list[int], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Network.from_vertices(east, north, start)


def test_refused_questions() -> None:
    with pytest.raises(ValueError, match="routes are numbered 0 to 0"):
        CORNER.locate(0.0, 0.0, 1, pi_snap=0.0, competing_within=0.0)
    with pytest.raises(ValueError, match="routes are numbered 0 to 0"):
        CORNER.point([-1], [0.0])
    with pytest.raises(ValueError, match="routes are numbered"):
        CORNER.point([0.0], [0.0])
    with pytest.raises(ValueError, match="pi_snap is -1"):
        CORNER.locate(0.0, 0.0, 0, pi_snap=-1.0, competing_within=0.0)
    with pytest.raises(ValueError, match="competing_within is nan"):
        CORNER.locate(0.0, 0.0, 0, pi_snap=0.0, competing_within=math.nan)


def test_the_nearest_route_does_not_count_only_the_own() -> None:
    crossing = Network.from_vertices([0.0, 100.0, 50.0, 50.0], [0.0, 0.0, -50.0, 50.0], [0, 2, 4])
    found = crossing.locate([51.0, 51.0], [20.0, 20.0], [0, 1], pi_snap=0.0, competing_within=1.0)
    assert found.distance.tolist() == [51.0, 70.0]
    assert found.offset.tolist() == [-20.0, 1.0]


def test_a_thousand_routes_on_top_of_each_other_answer_alike() -> None:
    copies = 1000
    line = Network.from_vertices(
        np.tile([0.0, 1000.0, 1000.0], copies), np.tile([0.0, 0.0, 500.0], copies), np.arange(copies + 1) * 3
    )
    found = line.locate(400.0, -7.0, np.arange(copies), pi_snap=0.0, competing_within=5.0)
    assert (found.distance == 400.0).all()
    assert (found.offset == 7.0).all()
    assert (found.segment == 2 * np.arange(copies)).all()


def test_a_point_on_a_later_route_is_as_exact_as_on_the_first() -> None:
    routes = 300
    east = np.tile([0.0, 100_000.0, 100_000.0], routes)
    north = np.tile([0.0, 0.0, 100_000.0], routes)
    many = Network.from_vertices(east, north, np.arange(routes + 1) * 3)
    east_at, north_at, azimuth = many.point(np.arange(routes), 100_000.0 + 1 / 3)
    assert (east_at == 100_000.0).all()
    assert (north_at == north_at[0]).all()
    assert (azimuth == 0.0).all()
    _, _, at_vertex = many.point(np.arange(routes), 100_000.0)
    assert (at_vertex == 0.0).all()


def test_at_every_vertex_of_every_route_the_tangent_ahead_counts() -> None:
    random = np.random.default_rng(3)
    east, north = np.cumsum(random.normal(0.0, 1e5, (2, 400, 6)), axis=2)
    many = Network.from_vertices(east.ravel(), north.ravel(), np.arange(401) * 6)
    turns = many.turns()
    _, _, at_vertex = many.point(turns.route, turns.distance)
    _, _, before_it = many.point(turns.route, np.nextafter(turns.distance, 0.0))
    ahead = np.flatnonzero(~np.isnan(many.segments.deflection_deg))
    np.testing.assert_array_equal(at_vertex, many.segments.azimuth_deg[ahead])
    np.testing.assert_array_equal(before_it, many.segments.azimuth_deg[ahead - 1])


@given(lines(), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=8))
@settings(max_examples=examples(80))
def test_station_of_a_point_on_the_line(line: Line, part: list[float]) -> None:
    distance = np.array(part) * network(line).length[0]
    east, north, _ = network(line).point(0, distance)
    found = located(line, east, north)
    assert np.abs(found.offset).max() < 1e-6
    assert ((np.abs(found.distance - distance) < 1e-6) | found.ambiguous).all()


@given(lines(), places)
@settings(max_examples=examples(80))
def test_point_at_the_located_place_is_the_point(line: Line, place: list[tuple[float, float]]) -> None:
    east, north = beside(line, place)
    found = located(line, east, north)
    back_east, back_north, _ = network(line).point(0, found.distance, found.offset)
    apart = np.hypot(back_east - east, back_north - north)
    assert ((apart < 1e-5) | found.on_outer_wedge).all()


@given(lines(), places)
@settings(max_examples=examples(80))
def test_a_line_read_backwards(line: Line, place: list[tuple[float, float]]) -> None:
    east, north = beside(line, place)
    length = network(line).length[0]
    forward = located(line, east, north)
    backward = located((line[0][::-1], line[1][::-1]), east, north)
    sure = ~(forward.ambiguous | backward.ambiguous)
    np.testing.assert_allclose(length - backward.distance[sure], forward.distance[sure], atol=1e-5)
    np.testing.assert_allclose(-backward.offset[sure], forward.offset[sure], atol=1e-6)
    off_the_end = sure & (np.abs(forward.distance) > 1e-5)
    assert (forward.before_start == backward.past_end)[off_the_end].all()
    turned = wrap180(backward.azimuth_ahead_deg - forward.azimuth_back_deg - 180.0)
    inner = sure & ~forward.on_outer_wedge & ~backward.on_outer_wedge & (np.abs(forward.offset) > 1e-6)
    assert (np.abs(turned) < 1e-6)[inner].all()


@given(lines(), places, st.floats(0.0, 6.28), near)
@settings(max_examples=examples(80))
def test_moving_and_turning_everything(
    line: Line, place: list[tuple[float, float]], turn: float, shift: tuple[float, float]
) -> None:
    def moved(points: Line) -> Line:
        east, north = points[0] - 2e6, points[1] - 6e5
        cosine, sine = math.cos(turn), math.sin(turn)
        return (
            2e6 + shift[0] + cosine * east + sine * north,
            6e5 + shift[1] - sine * east + cosine * north,
        )

    points = beside(line, place)
    here, there = located(line, *points), located(moved(line), *moved(points))
    sure = ~(here.ambiguous | there.ambiguous)
    np.testing.assert_allclose(there.distance[sure], here.distance[sure], atol=1e-5)
    np.testing.assert_allclose(there.offset[sure], here.offset[sure], atol=1e-5)
    sure &= ~(here.on_outer_wedge ^ there.on_outer_wedge) & (here.segment == there.segment)
    turned = wrap180(there.azimuth_ahead_deg - here.azimuth_ahead_deg - math.degrees(turn))
    assert (np.abs(turned) < 1e-4)[sure].all()


@given(lines(), st.lists(st.integers(0, 24), min_size=1, max_size=6), near)
@settings(max_examples=examples(80))
def test_duplicate_vertices_change_nothing(line: Line, doubled: list[int], at: tuple[float, float]) -> None:
    count = line[0].size
    order = np.sort(np.concatenate((np.arange(count), [which % count for which in doubled])))
    east, north = np.array([line[0][0] + at[0]]), np.array([line[1][0] + at[1]])
    once, twice = located(line, east, north), located((line[0][order], line[1][order]), east, north)
    for column in ("distance", "offset", "azimuth_back_deg", "competing_distance", "segment"):
        np.testing.assert_array_equal(getattr(once, column), getattr(twice, column))


@given(lines(at_least=3), st.integers(0, 30), st.floats(0.01, 0.99), near, st.sampled_from([0.0, 40.0]))
@settings(max_examples=examples(80))
def test_collinear_vertices_change_nothing(
    line: Line, where: int, part: float, at: tuple[float, float], snap: float
) -> None:
    where %= line[0].size - 1
    more = tuple(
        np.insert(axis, where + 1, axis[where] + part * (axis[where + 1] - axis[where])) for axis in line
    )
    corner = 1 + where % (line[0].size - 2)
    scale = 0.002 if snap else 1.0
    east = np.array([line[0][corner] + scale * at[0]])
    north = np.array([line[1][corner] + scale * at[1]])
    plain = network(line).locate(east, north, 0, pi_snap=snap, competing_within=0.5)
    longer = network((more[0], more[1])).locate(east, north, 0, pi_snap=snap, competing_within=0.5)
    assume(not plain.ambiguous[0] and not longer.ambiguous[0])
    # the ends of the pieces are rounded; beyond an end the line goes on as its outermost piece lies
    beyond = plain.before_start[0] or plain.past_end[0]
    np.testing.assert_allclose(longer.distance, plain.distance, atol=2e-4 if beyond else 1e-5)
    np.testing.assert_allclose(longer.offset, plain.offset, atol=2e-4 if beyond else 1e-6)
    assert longer.at_pi.tolist() == plain.at_pi.tolist()


@given(lines(), near)
@settings(max_examples=examples(120))
def test_equals_shapely(line: Line, at: tuple[float, float]) -> None:
    drawn = shapely.LineString(np.column_stack(line))
    point = shapely.Point(line[0][0] + at[0], line[1][0] + at[1])
    found = located(line, np.array([point.x]), np.array([point.y]))
    if found.before_start[0] or found.past_end[0]:
        along = np.clip(found.distance[0], 0.0, drawn.length)
        beyond = found.distance[0] - along
        assert math.hypot(beyond, found.offset[0]) == pytest.approx(drawn.distance(point), abs=1e-7)
    else:
        assert abs(found.offset[0]) == pytest.approx(drawn.distance(point), abs=1e-7)
        assert abs(found.distance[0] - drawn.project(point)) < 1e-5 or found.ambiguous[0]


@given(st.lists(lines(at_most=8), min_size=2, max_size=5), st.data())
@settings(max_examples=examples(40))
def test_many_routes_at_once_are_routes_one_by_one(several: list[Line], data: st.DataObject) -> None:
    start = np.concatenate(([0], np.cumsum([line[0].size for line in several])))
    east, north = (np.concatenate([line[axis] for line in several]) for axis in (0, 1))
    together = Network.from_vertices(east, north, start)
    route = np.array(data.draw(st.lists(st.integers(0, len(several) - 1), min_size=1, max_size=6)))
    at = np.array(data.draw(st.lists(near, min_size=route.size, max_size=route.size)))
    found = together.locate(2e6 + at[:, 0], 6e5 + at[:, 1], route, pi_snap=5.0, competing_within=5.0)
    for row, which in enumerate(route.tolist()):
        alone = network(several[which]).locate(
            2e6 + at[row, 0], 6e5 + at[row, 1], 0, pi_snap=5.0, competing_within=5.0
        )
        assert alone.distance[0] == found.distance[row]
        assert alone.offset[0] == found.offset[row]
        np.testing.assert_array_equal(alone.competing_distance[0], found.competing_distance[row])


@given(lines(at_least=3))
@settings(max_examples=examples(60))
def test_deflections_negate_on_reversal_and_in_a_mirror(line: Line) -> None:
    forward = network(line).turns().deflection_deg
    assume(np.abs(forward).max() < 179.9)
    backward = network((line[0][::-1], line[1][::-1])).turns().deflection_deg
    np.testing.assert_allclose(backward[::-1], -forward, atol=1e-4)
    mirrored = network((-line[0], line[1])).turns().deflection_deg
    np.testing.assert_allclose(mirrored, -forward, atol=1e-9)


@given(
    st.lists(lines(at_most=8), min_size=1, max_size=4),
    st.lists(near, min_size=1, max_size=8),
    st.floats(1.0, 1e6),
)
def test_the_nearest_of_all_routes_is_as_far_as_shapely_says(
    routes: list[Line], aside: list[tuple[float, float]], times: float
) -> None:
    start = np.cumsum([0, *(east.size for east, _ in routes)])
    columns = (np.concatenate(column) for column in zip(*routes, strict=True))
    points = np.array([2e6, 6e5]) + np.array(aside) * times
    shapes = shapely.multilinestrings([shapely.linestrings(*route) for route in routes])
    expected = shapely.distance(shapely.points(points), shapes)
    assert Network.from_vertices(*columns, start).apart(points) == pytest.approx(expected, rel=1e-9, abs=1e-6)


def test_what_is_no_place_is_infinitely_far() -> None:
    points = np.array([[np.nan, 0.0], [0.0, np.inf], [1e101, 0.0], [100.0, 50.0]])
    assert CORNER.apart(points).tolist() == [np.inf, np.inf, np.inf, 0.0]
