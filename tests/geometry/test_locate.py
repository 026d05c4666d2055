"""Corners, ends and second feet: the places where the nearest foot alone is not the answer."""

from __future__ import annotations

import math

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.geometry.alignment import Network
from linemap.geometry.bearing import bisector_azimuth_deg
from linemap.geometry.locate import END_DEAD_BAND, Located

#: East for 100, then left to the north for 100: a PI of 90° L at (100, 0).
LEFT = Network.from_vertices([0.0, 100.0, 100.0], [0.0, 0.0, 100.0], [0, 3])


def one(line: Network, east: float, north: float, *, snap: float = 0.0, within: float = 0.5) -> Located:
    return line.locate(east, north, 0, pi_snap=snap, competing_within=within)


def turning(deflection_deg: float, length: float = 100.0) -> Network:
    """East for `length`, then turned right by `deflection_deg` for as much again."""
    azimuth = math.radians(90.0 + deflection_deg)
    return Network.from_vertices(
        [0.0, length, length + length * math.sin(azimuth)], [0.0, 0.0, length * math.cos(azimuth)], [0, 3]
    )


def test_outside_of_a_turn_the_corner_is_the_foot() -> None:
    found = one(LEFT, 103.0, -4.0)
    assert found.distance.tolist() == [100.0]
    assert found.offset.tolist() == [5.0]
    assert found.on_outer_wedge.tolist() == [True]
    assert found.at_pi.tolist() == [False]
    assert found.azimuth_back_deg.tolist() == found.azimuth_ahead_deg.tolist() == [45.0]
    assert not found.ambiguous[0]


def test_exact_tie_takes_the_lower_distance_and_reports_the_other() -> None:
    found = one(LEFT, 96.0, 4.0)
    assert found.distance.tolist() == [96.0]
    assert found.offset.tolist() == [-4.0]
    assert found.competing_distance.tolist() == [104.0]
    assert found.ambiguous.tolist() == [True]


@pytest.mark.parametrize("mirror", [1.0, -1.0])
def test_exact_tie_does_not_depend_on_the_side(mirror: float) -> None:
    line = Network.from_vertices([0.0, 100.0, 100.0], [0.0, 0.0, mirror * 100.0], [0, 3])
    assert one(line, 96.0, mirror * 4.0).distance.tolist() == [96.0]


@pytest.mark.parametrize("pi_snap", [0.0, 5.0])
def test_ten_feet_inside_a_right_angle_the_feet_are_14_14_apart(pi_snap: float) -> None:
    inside = 10.0 / math.sqrt(2.0)
    found = one(LEFT, 100.0 - inside, inside, snap=pi_snap, within=5.0)
    assert abs(found.competing_distance[0] - found.distance[0]) == pytest.approx(20.0 * math.sin(math.pi / 4))
    assert found.at_pi.tolist() == [False]


@given(st.floats(5.0, 170.0), st.floats(1.0, 20.0), st.sampled_from([1.0, -1.0]))
@settings(max_examples=examples(80))
def test_feet_inside_a_turn(deflection: float, depth: float, side: float) -> None:
    """On the inside bisector, d from the PI, the feet are 2·d·sin(Δ/2) apart along the line."""
    line = turning(side * deflection)
    inward = math.radians(bisector_azimuth_deg(90.0, 90.0 + side * deflection) + side * 90.0)
    found = one(line, 100.0 + depth * math.sin(inward), depth * math.cos(inward), within=1.0)
    expected = 2.0 * depth * math.sin(math.radians(deflection / 2.0))
    assert found.competing_distance[0] - found.distance[0] == pytest.approx(expected, abs=1e-6)
    assert found.offset[0] * side > 0.0


@pytest.mark.parametrize("deflection", [10.0, 90.0, 150.0, 179.0, -10.0, -90.0, -150.0, -179.0])
def test_side_in_the_outer_wedge(deflection: float) -> None:
    """The two tangents disagree about the side past 90°; the outside is left of a right turn."""
    line = turning(deflection)
    side = math.copysign(1.0, deflection)
    out = bisector_azimuth_deg(90.0, 90.0 + deflection) - side * 90.0
    spread = np.linspace(-0.49, 0.49, 31) * deflection
    azimuth = np.radians(out + spread)
    found = line.locate(
        100.0 + 2.0 * np.sin(azimuth), 2.0 * np.cos(azimuth), 0, pi_snap=0.0, competing_within=0.5
    )
    np.testing.assert_allclose(found.distance, 100.0, atol=1e-9)
    np.testing.assert_allclose(found.offset, -side * 2.0, atol=1e-9)
    assert found.on_outer_wedge.all()


@pytest.mark.parametrize(
    ("east", "north", "point"),
    [
        ([0.0, 100.0, 40.0], [0.0, 0.0, 0.0], (103.0, 1.0)),
        ([0.0, 0.0, 0.0], [0.0, 100.0, 40.0], (-1.0, 103.0)),
    ],
)
def test_a_line_straight_back_on_itself_counts_as_turning_right(
    east: list[float], north: list[float], point: tuple[float, float]
) -> None:
    found = one(Network.from_vertices(east, north, [0, 3]), *point, snap=5.0)
    assert found.at_pi.tolist() == [True]
    assert found.distance.tolist() == [100.0]
    assert found.along_from_pi.tolist() == [-1.0]
    assert found.offset.tolist() == [-3.0]


def test_borders_of_the_wedge_belong_to_it_and_the_pi_itself_does_not() -> None:
    found = LEFT.locate([105.0, 100.0, 100.0], [0.0, -5.0, 0.0], 0, pi_snap=0.0, competing_within=0.0)
    assert found.distance.tolist() == [100.0, 100.0, 100.0]
    assert found.offset.tolist() == [5.0, 5.0, 0.0]
    assert found.on_outer_wedge.tolist() == [True, True, False]
    assert found.azimuth_back_deg.tolist() == [45.0, 45.0, 90.0]


def test_snapping_to_a_pi() -> None:
    found = one(LEFT, 101.0, 2.0, snap=5.0)
    root = math.sqrt(0.5)
    assert found.at_pi.tolist() == [True]
    assert found.pi_vertex.tolist() == [1]
    assert found.distance.tolist() == [100.0]
    assert found.along_from_pi[0] == pytest.approx(3.0 * root)
    assert found.offset[0] == pytest.approx(-1.0 * root)
    assert (found.azimuth_back_deg[0], found.azimuth_ahead_deg[0]) == (90.0, 0.0)
    assert not found.ambiguous[0]
    assert not found.on_outer_wedge[0]


def test_snapping_stops_at_its_distance() -> None:
    assert one(LEFT, 95.0, 0.0, snap=5.0).at_pi.tolist() == [True]
    beyond = one(LEFT, 94.999, 0.0, snap=5.0)
    assert beyond.at_pi.tolist() == [False]
    assert np.isnan(beyond.along_from_pi).all()
    assert beyond.azimuth_back_deg.tolist() == beyond.azimuth_ahead_deg.tolist() == [90.0]


def test_a_snapped_point_is_not_in_the_wedge_azimuth() -> None:
    found = one(LEFT, 102.0, -2.0, snap=5.0)
    assert found.at_pi.tolist() == [True]
    assert (found.azimuth_back_deg[0], found.azimuth_ahead_deg[0]) == (90.0, 0.0)


def test_a_straight_vertex_never_snaps() -> None:
    line = Network.from_vertices([0.0, 100.0, 200.0], [0.0, 0.0, 0.01], [0, 3])
    assert line.turns().deflection_deg[0] == pytest.approx(-0.00573, abs=1e-5)
    assert one(line, 100.0, 1.0, snap=5.0).at_pi.tolist() == [False]
    bent = Network.from_vertices([0.0, 100.0, 200.0], [0.0, 0.0, 0.02], [0, 3])
    assert one(bent, 100.0, 1.0, snap=5.0).at_pi.tolist() == [True]


def test_a_straight_vertex_in_between_does_not_hide_the_pi() -> None:
    line = Network.from_vertices([0.0, 97.0, 100.0, 100.0], [0.0, 0.0, 0.0, 100.0], [0, 4])
    found = one(line, 96.0, 0.0, snap=5.0)
    assert found.pi_vertex.tolist() == [2]
    assert found.distance.tolist() == [100.0]


def test_the_nearer_of_two_pis_is_taken() -> None:
    line = Network.from_vertices([0.0, 100.0, 100.0, 200.0], [0.0, 0.0, 6.0, 6.0], [0, 4])
    found = line.locate([100.0, 100.0], [2.0, 4.0], 0, pi_snap=5.0, competing_within=0.0)
    assert found.pi_vertex.tolist() == [1, 2]


def test_ends_of_the_line_are_no_pis() -> None:
    found = LEFT.locate([0.0, 100.0], [1.0, 100.0], 0, pi_snap=5.0, competing_within=0.0)
    assert not found.at_pi.any()
    assert found.distance.tolist() == [0.0, 200.0]


@pytest.mark.parametrize("turning_first", [True, False])
def test_pis_of_other_routes_do_not_count(turning_first: bool) -> None:
    bent, straight = ([0.0, 100.0, 100.0], [0.0, 0.0, 100.0]), ([0.0, 100.0, 200.0], [0.0, 0.0, 0.0])
    lines = (bent, straight) if turning_first else (straight, bent)
    both = Network.from_vertices(lines[0][0] + lines[1][0], lines[0][1] + lines[1][1], [0, 3, 6])
    found = both.locate([101.0, 101.0], [1.0, 1.0], [0, 1], pi_snap=5.0, competing_within=0.0)
    assert found.pi_vertex.tolist() == ([1, -1] if turning_first else [-1, 4])


def test_dead_band_at_the_ends() -> None:
    inside, outside = 0.5 * END_DEAD_BAND, 2.0 * END_DEAD_BAND
    found = LEFT.locate(
        [-inside, -outside, 100.0, 100.0],
        [0.0, 0.0, 100.0 + inside, 100.0 + outside],
        0,
        pi_snap=0.0,
        competing_within=0.0,
    )
    assert found.before_start.tolist() == [False, True, False, False]
    assert found.past_end.tolist() == [False, False, False, True]
    assert found.distance.tolist() == [0.0, -outside, 200.0, 200.0 + outside]


def test_out_and_back_twelve_apart_is_reported() -> None:
    line = Network.from_vertices([0.0, 1000.0, 1000.0, 0.0], [0.0, 0.0, 12.0, 12.0], [0, 4])
    found = line.locate([500.0, 500.0, 500.0], [5.0, 7.0, 1.0], 0, pi_snap=5.0, competing_within=4.0)
    assert found.distance.tolist() == [500.0, 1512.0, 500.0]
    assert found.competing_distance[:2].tolist() == [1512.0, 500.0]
    assert found.ambiguous.tolist() == [True, True, False]


def test_the_nearest_of_several_second_feet_is_reported() -> None:
    """Around its middle the line passes 10 away, then 12, then 11."""
    line = Network.from_vertices([-50.0, 12.0, 12.0, -50.0], [-10.0, -10.0, 11.0, 11.0], [0, 4])
    found = one(line, 0.0, 0.0, within=3.0)
    assert found.distance.tolist() == [50.0]
    assert found.competing_distance.tolist() == [95.0]


def test_vertices_next_to_the_foot_are_no_second_feet() -> None:
    """Far off a line of short pieces, all vertices near the foot are nearly as near."""
    line = Network.from_vertices(np.arange(0.0, 1000.0, 10.0), np.zeros(100), [0, 100])
    found = line.locate([503.0, 500.0], [300.0, 300.0], 0, pi_snap=0.0, competing_within=5.0)
    assert found.distance.tolist() == [503.0, 500.0]
    assert not found.ambiguous.any()


def test_an_end_is_no_second_foot_of_points_beyond_it() -> None:
    found = LEFT.locate([-30.0, 101.0], [1.0, 140.0], 0, pi_snap=5.0, competing_within=5.0)
    assert found.distance.tolist() == [-30.0, 240.0]
    assert not found.ambiguous.any()


def test_the_other_end_is_a_second_foot_of_a_point_between_the_ends() -> None:
    ring = Network.from_vertices([0.0, 0.0, 300.0, 300.0, 9.0], [0.0, 300.0, 300.0, 0.0, 0.0], [0, 5])
    found = one(ring, 4.0, 1.0, within=2.0)
    assert found.distance.tolist() == [1.0]
    assert found.competing_distance.tolist() == [ring.length[0]]


def test_a_slight_bend_is_no_second_foot() -> None:
    """10 inside a bend of 0.05° the feet are 0.009 apart: one foot for every purpose."""
    line = turning(0.05)
    found = one(line, 100.0, -10.0, within=5.0)
    assert found.ambiguous.tolist() == [False]


def test_second_feet_can_be_switched_off() -> None:
    found = one(LEFT, 96.0, 4.0, within=0.0)
    assert found.distance.tolist() == [96.0]
    assert not found.ambiguous.any()


def test_rows_can_be_taken() -> None:
    found = LEFT.locate([60.0, 103.0], [-4.0, -4.0], 0, pi_snap=0.0, competing_within=0.5)
    taken = found.take(np.array([1, 0, 1]))
    assert taken.distance.tolist() == [100.0, 60.0, 100.0]
    assert taken.on_outer_wedge.tolist() == [True, False, True]
