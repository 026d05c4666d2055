"""The search finds what comparing every segment finds, on lines made to be hard to search."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from linemap.geometry.alignment import Network
from linemap.geometry.cells import cells_of_segments
from linemap.geometry.nearest import SegmentIndex
from linemap.geometry.segments import Points, segments_of_vertices

Floats = NDArray[np.float64]
Shape = Callable[[np.random.Generator, int], tuple[Floats, Floats]]


def tangle(random: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    return np.cumsum(random.normal(0.0, 100.0, count)), np.cumsum(random.normal(0.0, 100.0, count))


def hairpins(random: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    side = np.where(np.arange(count) % 2 == 0, 0.0, 5000.0)
    return side + random.normal(0.0, 1.0, count), np.linspace(0.0, 10.0 * count, count)


def smooth(random: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    return np.linspace(0.0, 300.0 * count, count), np.cumsum(random.normal(0.0, 40.0, count))


def spiral(random: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    turn = np.sqrt(np.linspace(0.0, count, count)) + random.uniform(0.0, 1e-3)
    return 20.0 * turn * np.cos(turn), 20.0 * turn * np.sin(turn)


def lattice(random: np.random.Generator, count: int) -> tuple[Floats, Floats]:
    """Whole numbers, repeated vertices and exact ties."""
    return np.cumsum(8.0 * random.integers(-2, 3, count)), np.cumsum(8.0 * random.integers(-2, 3, count))


def distances_to_all(
    east: Floats, north: Floats, point_east: Floats, point_north: Floats
) -> tuple[Floats, Floats]:
    """Distance to every piece and distance along the line of the foot on it, written without the package."""
    step = np.stack([np.diff(east), np.diff(north)], axis=1)
    length = np.hypot(step[:, 0], step[:, 1])
    step, start, length = (
        step[length > 1e-9],
        np.stack([east, north], axis=1)[:-1][length > 1e-9],
        length[length > 1e-9],
    )
    to_point = np.stack([point_east, point_north], axis=1)[:, None, :] - start[None, :, :]
    part = np.clip((to_point * step).sum(axis=2) / length**2, 0.0, 1.0)
    apart = np.linalg.norm(to_point - part[:, :, None] * step, axis=2)
    return apart, np.concatenate(([0.0], np.cumsum(length)))[:-1] + part * length


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("count", [60, 333, 1500])
@pytest.mark.parametrize("shape", [tangle, hairpins, smooth, spiral, lattice])
def test_equals_comparing_every_segment(shape: Shape, count: int, seed: int) -> None:
    random = np.random.default_rng([seed, count])
    east, north = shape(random, count)
    which = random.integers(0, count, 250)
    point_east = east[which] + np.round(random.normal(0.0, 5.0, 250))
    point_north = north[which] + np.round(random.normal(0.0, 5.0, 250))
    point_east[::7] += random.normal(0.0, 3000.0, point_east[::7].size)
    found = Network.from_vertices(east, north, [0, count]).locate(
        point_east, point_north, 0, pi_snap=0.0, competing_within=1.0
    )
    apart, along = distances_to_all(east, north, point_east, point_north)
    nearest = apart.min(axis=1)
    inner = ~(found.before_start | found.past_end)
    np.testing.assert_allclose(np.abs(found.offset[inner]), nearest[inner], atol=1e-8)
    first = np.where(apart <= nearest[:, None] + 1e-8, along, np.inf).min(axis=1)
    np.testing.assert_allclose(found.distance[inner], first[inner], atol=1e-6)
    told = np.flatnonzero(found.ambiguous)
    gap = np.where(
        np.abs(along[told] - found.competing_distance[told, None]) < 1e-6, apart[told], np.inf
    ).min(axis=1)
    assert (gap <= nearest[told] + 1.0 + 1e-6).all()


@pytest.mark.parametrize("within", [1e-6, 20.0, 5000.0])
def test_every_segment_within_reach_is_proposed(within: float) -> None:
    random = np.random.default_rng(5)
    east, north = tangle(random, 400)
    segments = segments_of_vertices(east, north, [0, 400])
    index = SegmentIndex(segments=segments)
    points = Points(
        easting=random.uniform(east.min() - 9e4, east.max(), 300),
        northing=random.uniform(north.min(), north.max(), 300),
        route=np.zeros(300, dtype=np.int64),
    )
    pairs = index.candidates(points, within=within)
    apart, _ = distances_to_all(east, north, points.easting, points.northing)
    expected = np.argwhere(apart <= apart.min(axis=1, keepdims=True) + within)
    order = np.lexsort((pairs.segment, pairs.point))
    np.testing.assert_array_equal(np.stack([pairs.point, pairs.segment], axis=1)[order], expected)
    np.testing.assert_allclose(pairs.apart[order], apart[tuple(expected.T)], atol=1e-8)
    assert (np.diff(pairs.point) >= 0).all()


def test_points_continents_away_are_located_too() -> None:
    line = Network.from_vertices([2e6, 2.1e6, 2.1e6], [6e5, 6e5, 7e5], [0, 3])
    found = line.locate([6e5, 2e9], [2e6, -3e9], 0, pi_snap=5.0, competing_within=5.0)
    assert found.past_end.tolist() == [False, False]
    assert found.before_start.tolist() == [True, False]
    assert found.distance[0] == pytest.approx(-1.4e6)
    assert found.offset[0] == pytest.approx(-1.4e6)
    assert found.on_outer_wedge.tolist() == [False, True]


def test_many_points_are_located_in_chunks_as_in_one() -> None:
    line = Network.from_vertices([0.0, 1000.0, 1000.0], [0.0, 0.0, 1000.0], [0, 3])
    east = np.linspace(-10.0, 1010.0, 450_001)
    found = line.locate(east, 3.0, 0, pi_snap=5.0, competing_within=1.0)
    every = slice(None, None, 9000)
    some = line.locate(east[every], 3.0, 0, pi_snap=5.0, competing_within=1.0)
    np.testing.assert_array_equal(found.distance[every], some.distance)
    np.testing.assert_array_equal(found.competing_distance[every], some.competing_distance)
    np.testing.assert_array_equal(found.at_pi[every], some.at_pi)


def test_the_raster_settles_points_near_the_line_by_itself() -> None:
    """Every segment within the margin of a point is listed by its cell."""
    random = np.random.default_rng(11)
    for shape in (tangle, hairpins, smooth, spiral):
        east, north = shape(random, 300)
        segments = segments_of_vertices(east, north, [0, 300])
        cells = cells_of_segments(segments, width=2.0)
        low, high = np.array([east.min(), north.min()]), np.array([east.max(), north.max()])
        at = random.uniform(low - cells.margin, high + cells.margin, (500, 2))
        points = Points(easting=at[:, 0], northing=at[:, 1], route=np.zeros(500, dtype=np.int64))
        begin, count = cells.listed(points)
        apart, _ = distances_to_all(east, north, points.easting, points.northing)
        for row in range(500):
            listed = cells.segment[begin[row] : begin[row] + count[row]]
            assert (np.diff(listed) > 0).all()
            assert set(np.flatnonzero(apart[row] <= cells.margin[0]).tolist()) <= set(listed.tolist())


def test_points_off_the_raster_are_listed_nothing() -> None:
    cells = cells_of_segments(segments_of_vertices([0.0, 100.0, 100.0], [0.0, 0.0, 100.0], [0, 3]), width=2.0)
    outside = np.array([-1e300, 1e300, 0.0, 0.0, 400.0])
    points = Points(
        easting=outside, northing=np.array([0.0, 0.0, -1e300, 1e300, 50.0]), route=np.zeros(5, dtype=np.int64)
    )
    assert cells.listed(points)[1].tolist() == [0, 0, 0, 0, 0]


def test_the_middle_of_a_circle_is_equally_far_from_every_piece() -> None:
    """More pairs than are worked on at once: 1,100 points with 2,000 segments each."""
    turn = np.linspace(0.0, 2.0 * np.pi, 2001)
    circle = Network.from_vertices(5000.0 * np.sin(turn), 5000.0 * np.cos(turn), [0, 2001])
    found = circle.locate(np.zeros(1100), np.zeros(1100), 0, pi_snap=1.0, competing_within=1.0)
    np.testing.assert_allclose(found.distance, 0.5 * circle.length[0] / 2000, rtol=1e-6)
    np.testing.assert_allclose(found.offset, 5000.0 * np.cos(np.pi / 2000), rtol=1e-12)
    assert found.ambiguous.all()


def test_a_line_of_very_short_pieces() -> None:
    """The margin of the fine raster is shorter than what competes, so the coarse one must answer."""
    east = np.linspace(0.0, 1000.0, 2001)
    line = Network.from_vertices(east, np.where(east < 500.0, 0.0, 0.4), [0, 2001])
    found = line.locate([250.0, 750.0, 750.0], [3.0, -3.0, 40.0], 0, pi_snap=0.0, competing_within=5.0)
    np.testing.assert_allclose(found.offset, [-3.0, 3.4, -39.6], atol=1e-12)
    assert not found.ambiguous.any()
