"""The straight pieces of many centrelines as flat columns, and the corners between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linemap.geometry.bearing import azimuth_deg

_ZERO_LENGTH = 1e-9
"""Two vertices no further apart than this are one point, in the unit of the coordinates."""
_PI_TURN_DEG = 0.01
"""A vertex that turns no more than this is no PI."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Points and the route each belongs to."""

    #: Coordinates of each point.
    easting: NDArray[np.float64]
    northing: NDArray[np.float64]
    #: Route of each point.
    route: NDArray[np.int64]

    def at(self, which: NDArray[np.int64] | NDArray[np.bool_] | slice) -> Points:
        """Those points of `which`, in its order."""
        return Points(easting=self.easting[which], northing=self.northing[which], route=self.route[which])


@dataclass(frozen=True, slots=True, kw_only=True)
class Segments:
    """Segments of all routes, one route after the other, each in line order; S segments, R routes."""

    #: Where each route's segments begin, and the end of the last: (R + 1,).
    first: NDArray[np.int64]
    #: Length of each route, grid: (R,).
    route_length: NDArray[np.float64]
    #: Route of each segment: (S,), as are all that follow.
    route: NDArray[np.int64]
    #: Vertex a segment starts at, as numbered in the arrays the network was made from.
    vertex: NDArray[np.int64]
    #: Coordinates of that vertex.
    easting: NDArray[np.float64]
    northing: NDArray[np.float64]
    #: Unit direction ahead, east and north part.
    east: NDArray[np.float64]
    north: NDArray[np.float64]
    #: Azimuth of that direction.
    azimuth_deg: NDArray[np.float64]
    #: Grid length.
    length: NDArray[np.float64]
    #: Grid distance of the segment's start from the start of its route.
    distance: NDArray[np.float64]
    #: How far the line turns at the segment's start, right positive; nan at the start of a route.
    deflection_deg: NDArray[np.float64]


def segments_of_vertices(easting: ArrayLike, northing: ArrayLike, route_start: ArrayLike) -> Segments:
    """Cut polylines into segments; zero-length ones are dropped, the others keep their vertex numbers.

    Arguments and errors are those of `linemap.geometry.alignment.Network.from_vertices`.

    >>> line = segments_of_vertices([0, 0, 0, 30], [0, 40, 40, 40], [0, 4])
    >>> line.vertex.tolist(), line.distance.tolist(), line.deflection_deg.tolist()
    ([0, 2], [0.0, 40.0], [nan, 90.0])
    """
    east, north = np.asarray(easting, dtype=np.float64), np.asarray(northing, dtype=np.float64)
    start = np.asarray(route_start, dtype=np.int64)
    _check(east, north, start)
    route_of_vertex = np.repeat(np.arange(start.size - 1), np.diff(start))
    step_east, step_north = np.diff(east), np.diff(north)
    step = np.hypot(step_east, step_north)
    kept = np.flatnonzero((np.diff(route_of_vertex) == 0) & (step > _ZERO_LENGTH))
    route, length = route_of_vertex[kept], step[kept]
    count = np.bincount(route, minlength=start.size - 1)
    if np.any(count == 0):
        raise ValueError(f"route {int(np.argmin(count))} has fewer than 2 distinct points; give it a line")
    first = np.concatenate(([0], np.cumsum(count)))
    unit_east, unit_north = step_east[kept] / length, step_north[kept] / length
    distance = _distances(length, first)
    return Segments(
        first=first,
        route_length=distance[first[1:] - 1] + length[first[1:] - 1],
        route=route,
        vertex=kept,
        easting=east[kept],
        northing=north[kept],
        east=unit_east,
        north=unit_north,
        azimuth_deg=azimuth_deg(unit_east, unit_north),
        length=length,
        distance=distance,
        deflection_deg=_turns(unit_east, unit_north, first),
    )


def expand(first: NDArray[np.int64], which: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """List the members of the runs `which`: (position in `which`, member), run after run.

    >>> [column.tolist() for column in expand(np.array([0, 2, 5]), np.array([1, 0]))]
    [[0, 0, 0, 1, 1], [2, 3, 4, 0, 1]]
    """
    return runs(first[which], first[which + 1] - first[which])


def runs(begin: NDArray[np.int64], count: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Count up from each `begin`, `count` numbers each: (which run, number), run after run.

    >>> [column.tolist() for column in runs(np.array([7, 2]), np.array([2, 1]))]
    [[0, 0, 1], [7, 8, 2]]
    """
    which = np.repeat(np.arange(count.size), count)
    return which, np.arange(which.size) + (begin - np.cumsum(count) + count)[which]


def _check(east: NDArray[np.float64], north: NDArray[np.float64], start: NDArray[np.int64]) -> None:
    """Refuse coordinates and offsets that make no polylines."""
    if east.ndim != 1 or east.shape != north.shape:
        raise ValueError(f"{east.size} eastings and {north.size} northings; give one of each per vertex")
    if start.ndim != 1 or start.size < 2 or start[0] or start[-1] != east.size or np.any(np.diff(start) < 0):
        raise ValueError(
            f"route offsets must rise from 0 to the {east.size} vertices, with one route or more"
        )
    bad = np.flatnonzero(~(np.isfinite(east) & np.isfinite(north)))
    if bad.size:
        route = int(np.searchsorted(start, bad[0], side="right")) - 1
        raise ValueError(f"vertex {int(bad[0])} of route {route} is not finite; correct or remove it")


def _distances(length: NDArray[np.float64], first: NDArray[np.int64]) -> NDArray[np.float64]:
    """Distance of each segment's start from its own route's start.

    Summed route by route: one sum over all routes would lose digits on the later ones.
    """
    distance = np.zeros(length.size)
    for begin, end in zip(first[:-1].tolist(), first[1:].tolist(), strict=True):
        np.cumsum(length[begin : end - 1], out=distance[begin + 1 : end])
    return distance


def _turns(
    east: NDArray[np.float64], north: NDArray[np.float64], first: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Deflection at each segment's start; an exact reversal counts as +180."""
    cross = np.zeros(east.size)
    along = np.ones(east.size)
    cross[1:] = north[:-1] * east[1:] - east[:-1] * north[1:]
    along[1:] = east[:-1] * east[1:] + north[:-1] * north[1:]
    turn = np.degrees(np.arctan2(cross, along))
    turn[first[:-1]] = np.nan
    return np.where(turn == -180.0, 180.0, turn)


@dataclass(frozen=True, slots=True, kw_only=True)
class Corners:
    """PIs by the segment that starts at them, and the nearest one on either side of each segment."""

    #: True where a segment starts at a PI: (S,), as are all that follow.
    is_pi: NDArray[np.bool_]
    #: Segment starting at the last PI at or behind a segment's start; -1 if none on its route.
    behind: NDArray[np.int64]
    #: Segment starting at the first PI at or ahead of a segment's end; -1 if none on its route.
    ahead: NDArray[np.int64]


def corners_of(segments: Segments) -> Corners:
    """Find the PIs: interior vertices that turn more than 0.01°.

    >>> corner = segments_of_vertices([0, 50, 100, 100], [0, 0, 0, 100], [0, 4])
    >>> corners_of(corner).ahead.tolist()
    [2, 2, -1]
    """
    size = segments.length.size
    is_pi = np.abs(segments.deflection_deg) > _PI_TURN_DEG
    number = np.arange(size)
    behind = np.maximum.accumulate(np.where(is_pi, number, -1))
    behind = np.where(behind >= segments.first[segments.route], behind, -1)
    following = np.minimum.accumulate(np.where(is_pi, number, size)[::-1])[::-1]
    ahead = np.append(following[1:], size)
    ahead = np.where(ahead < segments.first[segments.route + 1], ahead, -1)
    return Corners(is_pi=is_pi, behind=behind, ahead=ahead)


def in_bisector_frame(
    segments: Segments, points: Points, corner: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(ahead along, right of) the bisector of the corner at the start of segment `corner`, seen from it.

    Where the line doubles back exactly, the turn counts as right and ahead is square to the back tangent.

    >>> corner = segments_of_vertices([0, 100, 100], [0, 0, 100], [0, 3])
    >>> point = Points(easting=np.array([101.0]), northing=np.array([-1.0]), route=np.array([0]))
    >>> [part.round(4).tolist() for part in in_bisector_frame(corner, point, np.array([1]))]
    [[0.0], [1.4142]]
    """
    east = segments.east[corner - 1] + segments.east[corner]
    north = segments.north[corner - 1] + segments.north[corner]
    size = np.hypot(east, north)
    doubled = size < 1e-9
    size = np.where(doubled, 1.0, size)
    east = np.where(doubled, segments.north[corner - 1], east / size)
    north = np.where(doubled, -segments.east[corner - 1], north / size)
    to_east = points.easting - segments.easting[corner]
    to_north = points.northing - segments.northing[corner]
    return to_east * east + to_north * north, to_east * north - to_north * east
