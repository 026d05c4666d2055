"""Station and offset of points: from candidate segments to one answer, with its doubts, per point.

What is done at a corner of the line, where the nearest point alone does not say enough:

- outside of the turn, every point of a wedge is nearest to the corner itself: its side is taken from the
  mean direction of the two tangents, because past 90° they disagree about it;
- inside of the turn a point has a foot on both tangents: the nearer is taken, on a tie the one with the
  lower distance, and the other is reported;
- close to a corner that turns (a PI) the point takes the PI's distance, and its offset along the bisector.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linemap.geometry.batches import Columns, even_batches, in_batches
from linemap.geometry.bearing import bisector_azimuth_deg
from linemap.geometry.nearest import Candidates, SegmentIndex
from linemap.geometry.segments import Corners, Points, Segments, in_bisector_frame

END_DEAD_BAND = 1e-6
"""A point no further than this beyond an end of the line, or past a corner, is not beyond it."""
TIE = 1e-8
"""Two feet whose distances differ by less are equally near: what state plane coordinates can resolve."""
_LEAST_SEPARATION = 0.01
"""Two feet closer along the line than this are one: stations are printed to 0.01."""
FARTHEST = 1e100
"""Coordinates from here on are no places, and their squares may be no numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Located:
    """Where points stand on their own routes; one row a point, lengths grid; nan if a point is no place."""

    #: Distance of the foot from the route's start; below 0 or above the length on the extended ends.
    distance: NDArray[np.float64]
    #: Distance from the line, right of the direction ahead positive.
    offset: NDArray[np.float64]
    #: Segment of the foot, as numbered in the network's segments; -1 for points that are no places.
    segment: NDArray[np.int64]
    #: Vertex of the PI the point was snapped to, as numbered in the network's input; else -1.
    pi_vertex: NDArray[np.int64]
    #: Azimuth of the line behind and ahead of the foot. They differ only at a PI that was snapped to; in
    #: the wedge outside a PI, further off than the snap, both are the bisector.
    azimuth_back_deg: NDArray[np.float64]
    azimuth_ahead_deg: NDArray[np.float64]
    #: How far ahead of the PI, square to its bisector, a snapped point stands; nan for the others.
    along_from_pi: NDArray[np.float64]
    #: Distance from the route's start of the nearest other foot that could be the right one; nan if none.
    competing_distance: NDArray[np.float64]
    #: True before the start of the route.
    before_start: NDArray[np.bool_]
    #: True past the end of the route.
    past_end: NDArray[np.bool_]
    #: True where the point was snapped to a PI.
    at_pi: NDArray[np.bool_]
    #: True in the wedge outside a PI and on its borders, where the PI is the foot; False on the PI itself.
    on_outer_wedge: NDArray[np.bool_]
    #: True where there is a competing foot.
    ambiguous: NDArray[np.bool_]

    def take(self, index: NDArray[np.int64] | slice) -> Located:
        """Return the rows at `index`, in that order."""
        return Located(**{name: column[index] for name, column in self.columns().items()})

    def columns(self) -> dict[str, NDArray[Any]]:
        """Return the columns by name."""
        return {field.name: getattr(self, field.name) for field in fields(self)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Locator:
    """All that is the same for every point that is located; see `Network.locate` for the limits."""

    segments: Segments
    index: SegmentIndex
    corners: Corners
    pi_snap: float
    competing_within: float

    def locate(self, points: Points) -> Located:
        """Locate every point on its own route, batch by batch."""
        size = points.route.size
        found = Columns(size=size)
        in_batches(lambda part: found.put(part, self._batch(points.at(part)).columns()), even_batches(size))
        return Located(**found.whole)

    def nearest_pi(self, points: Points, located: Located) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Return the segment that starts at the PI nearest to each point (-1 = there is none), and how far.

        Of the PIs behind and ahead of the point's own foot; a point that is no place has none.
        """
        placed = located.segment >= 0
        corner = np.full(placed.size, -1)
        apart = np.full(placed.size, np.inf)
        rows = np.flatnonzero(placed)
        corner[rows], apart[rows] = _nearest_corner(
            self.segments, self.corners, points.at(rows), located.segment[rows]
        )
        return corner, apart

    def put_at_pi(
        self, points: Points, located: Located, rows: NDArray[np.int64], corner: NDArray[np.int64]
    ) -> None:
        """Give some points the PIs at the start of segments `corner`, however far they stand from them."""
        _put_at(self.segments, points, located, rows, corner)

    def _batch(self, points: Points) -> Located:
        finite = (np.abs(points.easting) < FARTHEST) & (np.abs(points.northing) < FARTHEST)
        if finite.all():
            return self._finite(points)
        return _spread(self._finite(points.at(finite)), finite)

    def _finite(self, points: Points) -> Located:
        """Locate finite points: nearest foot, then ends, corners and competing feet."""
        segments, corners = self.segments, self.corners
        pairs = self.index.candidates(points, within=max(self.competing_within, TIE))
        best = _best(pairs)
        located = _at_foot(segments, corners, points, best)
        if self.pi_snap > 0.0:
            _snap(segments, corners, points, located, pi_snap=self.pi_snap)
        if self.competing_within > 0.0:
            _compete(segments, points, pairs, located, separation=max(self.pi_snap, _LEAST_SEPARATION))
        return located


def _best(pairs: Candidates) -> Candidates:
    """One pair per point: the nearest, on a tie the one with the lower distance from the route's start."""
    heads = np.flatnonzero(np.diff(pairs.point, prepend=-1))
    if heads.size == pairs.point.size:
        return pairs
    count = np.diff(heads, append=pairs.point.size)
    near = pairs.apart <= np.repeat(np.minimum.reduceat(pairs.apart, heads) + TIE, count)
    rows = np.flatnonzero(near)
    order = np.lexsort((pairs.segment[rows], pairs.point[rows]))  # segments of a route are in distance order
    rows = rows[order]
    rows = rows[np.diff(pairs.point[rows], prepend=-1) != 0]
    return pairs.at(rows)


def _at_foot(segments: Segments, corners: Corners, points: Points, best: Candidates) -> Located:
    """Answer by the nearest foot alone: distance and offset, extended ends, outer wedges."""
    segment, size = best.segment, best.segment.size
    east, north = segments.east[segment], segments.north[segment]
    to_east = points.easting - segments.easting[segment]
    to_north = points.northing - segments.northing[segment]
    along = to_east * east + to_north * north
    length = segments.length[segment]
    before = (along < -END_DEAD_BAND) & (segment == segments.first[points.route])
    past = (along > length + END_DEAD_BAND) & (segment + 1 == segments.first[points.route + 1])
    azimuth = segments.azimuth_deg[segment]
    located = Located(
        distance=segments.distance[segment] + np.where(before | past, along, best.foot),
        offset=to_east * north - to_north * east,
        segment=segment,
        pi_vertex=np.full(size, -1),
        azimuth_back_deg=azimuth,
        azimuth_ahead_deg=azimuth.copy(),
        along_from_pi=np.full(size, np.nan),
        competing_distance=np.full(size, np.nan),
        before_start=before,
        past_end=past,
        at_pi=np.zeros(size, dtype=bool),
        on_outer_wedge=np.zeros(size, dtype=bool),
        ambiguous=np.zeros(size, dtype=bool),
    )
    at_vertex = ((along <= 0.0) | (along >= length)) & ~(before | past)
    _outer_wedge(segments, corners, points, best, located, np.flatnonzero(at_vertex))
    return located


def _outer_wedge(
    segments: Segments,
    corners: Corners,
    points: Points,
    best: Candidates,
    located: Located,
    rows: NDArray[np.int64],
) -> None:
    """Take the side from the mean direction where the nearest point of the line is an inner vertex."""
    corner = best.segment[rows] + (best.foot[rows] > 0.0)
    inner = (corner > segments.first[points.route[rows]]) & (corner < segments.first[points.route[rows] + 1])
    rows, corner = rows[inner], corner[inner]
    _, right = in_bisector_frame(segments, points.at(rows), corner)
    side = np.where(right == 0.0, located.offset[rows], right)
    located.offset[rows] = np.copysign(best.apart[rows], side)
    wedge = corners.is_pi[corner] & (best.apart[rows] > END_DEAD_BAND)  # inside, a tangent is nearer
    located.on_outer_wedge[rows] = wedge
    rows, corner = rows[wedge], corner[wedge]
    middle = bisector_azimuth_deg(segments.azimuth_deg[corner - 1], segments.azimuth_deg[corner])
    located.azimuth_back_deg[rows] = middle
    located.azimuth_ahead_deg[rows] = middle


def _snap(segments: Segments, corners: Corners, points: Points, located: Located, *, pi_snap: float) -> None:
    """Give points within `pi_snap` of a PI the PI's distance, and their place in the bisector's frame."""
    behind, ahead = corners.behind[located.segment], corners.ahead[located.segment]
    rows = np.flatnonzero(
        _close(segments, points, behind, within=pi_snap) | _close(segments, points, ahead, within=pi_snap)
    )
    corner, apart = _nearest_corner(segments, corners, points.at(rows), located.segment[rows])
    snapped = apart <= pi_snap
    _put_at(segments, points, located, rows[snapped], corner[snapped])


def _nearest_corner(
    segments: Segments, corners: Corners, points: Points, segment: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the nearer of the PIs behind and ahead of the segment of each point, and how far it is."""
    behind, ahead = corners.behind[segment], corners.ahead[segment]
    apart_behind, apart_ahead = (_apart_from(segments, points, corner) for corner in (behind, ahead))
    corner = np.where(apart_behind <= apart_ahead, behind, ahead)
    return corner, np.minimum(apart_behind, apart_ahead)


def _put_at(
    segments: Segments,
    points: Points,
    located: Located,
    rows: NDArray[np.int64],
    corner: NDArray[np.int64],
) -> None:
    """Give points the distance of the PIs at the start of segments `corner`, and their place in its frame."""
    along, right = in_bisector_frame(segments, points.at(rows), corner)
    located.distance[rows] = segments.distance[corner]
    located.offset[rows] = right
    located.along_from_pi[rows] = along
    located.pi_vertex[rows] = segments.vertex[corner]
    located.azimuth_back_deg[rows] = segments.azimuth_deg[corner - 1]
    located.azimuth_ahead_deg[rows] = segments.azimuth_deg[corner]
    located.at_pi[rows] = True
    located.before_start[rows] = False
    located.past_end[rows] = False


def _close(
    segments: Segments, points: Points, corner: NDArray[np.int64], *, within: float
) -> NDArray[np.bool_]:
    """Mark the points that can be `within` of the start of segment `corner`, and perhaps a few more."""
    east, north = points.easting - segments.easting[corner], points.northing - segments.northing[corner]
    return east * east + north * north <= within * within * (1.0 + 1e-9)


def _apart_from(segments: Segments, points: Points, corner: NDArray[np.int64]) -> NDArray[np.float64]:
    """Distance from each point to the vertex at the start of segment `corner`; inf where that is -1."""
    apart = np.hypot(points.easting - segments.easting[corner], points.northing - segments.northing[corner])
    return np.where(corner < 0, np.inf, apart)


def _compete(
    segments: Segments,
    points: Points,
    pairs: Candidates,
    located: Located,
    *,
    separation: float,
) -> None:
    """Report the nearest other foot that lies further than `separation` away along the line."""
    distance = segments.distance[pairs.segment] + pairs.foot
    own = np.clip(
        located.distance, 0.0, segments.route_length[points.route]
    )  # of the foot, not beyond an end
    rows = np.flatnonzero(np.abs(distance - own[pairs.point]) > separation)
    rows = rows[_is_foot(segments, points, pairs, rows)]
    rows = rows[np.lexsort((distance[rows], np.round(pairs.apart[rows] / TIE), pairs.point[rows]))]
    rows = rows[np.diff(pairs.point[rows], prepend=-1) != 0]
    located.competing_distance[pairs.point[rows]] = distance[rows]
    located.ambiguous[pairs.point[rows]] = True


def _is_foot(
    segments: Segments, points: Points, pairs: Candidates, rows: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Tell feet of the line from mere ends of a segment, past which the line comes nearer still."""
    point, segment, foot = pairs.point[rows], pairs.segment[rows], pairs.foot[rows]
    at_start, at_end = foot <= 0.0, foot >= segments.length[segment]
    neighbour = np.where(at_start, segment - 1, segment + 1)
    first, beyond = segments.first[points.route[point]], segments.first[points.route[point] + 1]
    inner = (at_start | at_end) & (neighbour >= first) & (neighbour < beyond)
    neighbour = np.where(inner, neighbour, segment)
    corner = np.where(at_start, segment, neighbour)
    along = (points.easting[point] - segments.easting[corner]) * segments.east[neighbour] + (
        points.northing[point] - segments.northing[corner]
    ) * segments.north[neighbour]
    return ~inner | np.where(at_start, along >= -END_DEAD_BAND, along <= END_DEAD_BAND)


def _spread(part: Located, finite: NDArray[np.bool_]) -> Located:
    """Put the rows of the finite points where they belong; the others are nan, -1 and False."""
    columns = {}
    for name, column in part.columns().items():
        empty = {"f": np.nan, "i": -1, "b": False}[column.dtype.kind]
        columns[name] = np.full(finite.size, empty, dtype=column.dtype)
        columns[name][finite] = column
    return Located(**columns)
