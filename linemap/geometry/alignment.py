"""Centrelines: where points stand on them, and which point stands at a distance.

A `Network` holds the centrelines of many lines at once, so that a million structures on a thousand lines
are located in one call. Distances are grid lengths from each route's own start; offsets are right positive.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linemap.geometry.locate import FARTHEST, Located, Locator
from linemap.geometry.nearest import SegmentIndex
from linemap.geometry.segments import Points, Segments, corners_of, segments_of_vertices


class Turns(NamedTuple):
    """The interior vertices of all routes, in line order; one row a vertex."""

    #: Route of each vertex.
    route: NDArray[np.int64]
    #: Vertex, as numbered in the arrays the network was made from.
    vertex: NDArray[np.int64]
    #: Grid distance from the route's start.
    distance: NDArray[np.float64]
    #: How far the line turns, right positive.
    deflection_deg: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """The centrelines of many routes, ready to locate points on."""

    #: The straight pieces of all routes.
    segments: Segments
    #: Search tree over them.
    index: SegmentIndex

    @classmethod
    def from_vertices(cls, easting: ArrayLike, northing: ArrayLike, route_start: ArrayLike) -> Network:
        """Make a network of polylines.

        Segments no longer than 1e-9 are dropped; the vertices keep their numbers.

        Parameters
        ----------
        easting, northing : (V,) float array
            Vertices of all routes in line order, one route after the other.
        route_start : (R + 1,) int array
            Offset of each route's first vertex, and V at the end.

        Raises
        ------
        ValueError
            If the offsets do not fit, a coordinate is not finite, or a route has fewer than two distinct
            points; the message names the route.

        >>> Network.from_vertices([0, 0, 50], [0, 100, 100], [0, 3]).length.tolist()
        [150.0]
        """
        segments = segments_of_vertices(easting, northing, route_start)
        return cls(segments=segments, index=SegmentIndex(segments=segments))

    @property
    def route_count(self) -> int:
        """Number of routes."""
        return self.segments.route_length.size

    @property
    def length(self) -> NDArray[np.float64]:
        """Grid length of each route."""
        return self.segments.route_length

    def locate(
        self,
        easting: ArrayLike,
        northing: ArrayLike,
        route: ArrayLike,
        *,
        pi_snap: float,
        competing_within: float,
    ) -> Located:
        """Distance and offset of points, each on its own route.

        The nearest foot counts; of two equally near, the one with the lower distance. Beyond an end the
        tangent is extended, and the distance is negative or exceeds the length. Memory does not grow with
        the number of points beyond that of the answer.

        Parameters
        ----------
        easting, northing : (n,) float array
            Points, in the coordinates of the vertices. nan, and anything beyond 1e100, gives nan rows.
        route : int or (n,) int array
            Route of each point.
        pi_snap : float
            A point no further than this from a PI, a vertex that turns more than 0.01°, takes the PI's
            distance, and its offset along the bisector. 0 switches this off.
        competing_within : float
            A second foot is reported when it is no more than this further from the point than the nearest,
            and more than `pi_snap` (at least 0.01) away from it along the line. Foot means a place where the
            line stops coming nearer, so the vertices next to the nearest foot do not count. 0 switches this
            off.

        Raises
        ------
        ValueError
            If a route does not exist, or a limit is negative or not finite.

        >>> corner = Network.from_vertices([0, 100, 100], [0, 0, 100], [0, 3])
        >>> found = corner.locate([60, 90], [-4, 10], 0, pi_snap=5, competing_within=5)
        >>> found.distance.tolist(), found.offset.tolist(), found.competing_distance.tolist()
        ([60.0, 90.0], [4.0, -10.0], [nan, 110.0])
        """
        east, north, line = self._rows(easting, northing, route)
        locator = self.locator(pi_snap=pi_snap, competing_within=competing_within)
        return locator.locate(Points(easting=east, northing=north, route=line))

    def locator(self, *, pi_snap: float, competing_within: float) -> Locator:
        """Make ready what `locate` does, once for many calls; limits and their errors are the same."""
        for name, limit in (("pi_snap", pi_snap), ("competing_within", competing_within)):
            if not 0.0 <= limit < np.inf:
                raise ValueError(f"{name} is {limit}; give a length of 0 or more")
        return Locator(
            segments=self.segments,
            index=self.index,
            corners=corners_of(self.segments),
            pi_snap=pi_snap,
            competing_within=competing_within,
        )

    def apart(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Distance of points, (n, 2) easting and northing, from the nearest of all routes.

        It is inf for nan and for anything beyond 1e100.

        >>> two = Network.from_vertices([0, 0, 50, 50], [0, 100, 0, 100], [0, 2, 4])
        >>> two.apart(np.array([[10.0, 50.0], [47.0, 104.0], [np.nan, 0.0]])).tolist()
        [10.0, 5.0, inf]
        """
        every = self.segments
        as_one = replace(
            every,
            first=np.array([0, every.length.size]),
            route_length=every.route_length.sum(keepdims=True),
            route=np.zeros_like(every.route),
        )
        near = np.flatnonzero((np.abs(points) < FARTHEST).all(axis=1))
        easting, northing = points[near].T
        here = Points(easting=easting, northing=northing, route=np.zeros_like(near))
        found = SegmentIndex(segments=as_one).candidates(here, within=0.0)
        distance = np.full(len(points), np.inf)
        distance[near[found.point]] = found.apart
        return distance

    def point(
        self, route: ArrayLike, distance: ArrayLike, offset: ArrayLike = 0.0
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Easting, northing and azimuth of the line at grid distances along routes.

        Distances beyond an end run on along its tangent. `offset` is square to the line, right positive. At a
        vertex the tangent ahead of it counts. A route that does not exist raises ValueError.

        >>> corner = Network.from_vertices([0, 100, 100], [0, 0, 100], [0, 3])
        >>> [column.tolist() for column in corner.point(0, [60.0, 120.0], [4.0, -1.0])]
        [[60.0, 99.0], [-4.0, 20.0], [90.0, 0.0]]
        """
        along, aside, line = self._rows(distance, offset, route)
        segment = self._segment_at(line, along)
        rest = along - self.segments.distance[segment]
        east, north = self.segments.east[segment], self.segments.north[segment]
        return (
            self.segments.easting[segment] + rest * east + aside * north,
            self.segments.northing[segment] + rest * north - aside * east,
            self.segments.azimuth_deg[segment],
        )

    def turns(self) -> Turns:
        """Every interior vertex of every route, with how far the line turns there.

        >>> Network.from_vertices([0, 100, 100], [0, 0, 100], [0, 3]).turns().deflection_deg.tolist()
        [-90.0]
        """
        ahead = np.flatnonzero(~np.isnan(self.segments.deflection_deg))
        return Turns(
            route=self.segments.route[ahead],
            vertex=self.segments.vertex[ahead],
            distance=self.segments.distance[ahead],
            deflection_deg=self.segments.deflection_deg[ahead],
        )

    def doubled_back(self) -> NDArray[np.int64]:
        """Vertices at which a line turns by more than 170°: almost always a drawing fault.

        >>> Network.from_vertices([0, 100, 1], [0, 0, 1], [0, 3]).doubled_back().tolist()
        [1]
        """
        return self.segments.vertex[np.abs(self.segments.deflection_deg) > 170.0]

    def _segment_at(self, route: NDArray[np.int64], distance: NDArray[np.float64]) -> NDArray[np.int64]:
        """Segment a distance falls on: the last that starts no later, the first one before the start."""
        first = self.segments.first
        base = np.concatenate(([0.0], np.cumsum(self.length)))
        within = np.clip(np.nan_to_num(distance), 0.0, self.length[route])
        guess = np.searchsorted(
            self.segments.distance + base[self.segments.route], within + base[route], "right"
        )
        segment = np.clip(guess - 1, first[route], first[route + 1] - 1)
        # the sums over all routes are rounded, which can merge a distance with a vertex just ahead of it
        return segment - ((within < self.segments.distance[segment]) & (segment > first[route]))

    def _rows(
        self, one: ArrayLike, other: ArrayLike, route: ArrayLike
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
        """Two float columns and the route column, broadcast together and checked."""
        line = np.asarray(route)
        if line.size and not (np.issubdtype(line.dtype, np.integer) and self._exist(line)):
            raise ValueError(f"routes are numbered 0 to {self.route_count - 1}; one of those given is not")
        columns = np.broadcast_arrays(
            np.atleast_1d(np.asarray(one, dtype=np.float64)), np.asarray(other, dtype=np.float64), line
        )
        return columns[0], columns[1], columns[2].astype(np.int64)

    def _exist(self, route: NDArray[np.int64]) -> bool:
        """Whether all routes are of this network."""
        return bool(np.all((route >= 0) & (route < self.route_count)))
