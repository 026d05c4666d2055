"""Which segments of its own route a point can be nearest to: the search behind `locate`.

A raster of each route answers for the points close to it, which is nearly all of them. For the others every
route is moved to a lane of its own, away from all others, and the segments of all lanes go into one
STR tree (Leutenegger, Lopez and Edgington 1997, as shapely has it). So routes that cross, run side by side
or lie on top of each other do not slow each other down. Raster and tree only propose: distances are
computed from the unmoved coordinates, and an answer is taken only when the searched radius proves it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from linemap.geometry.cells import Cells, cells_of_segments
from linemap.geometry.segments import Points, Segments, expand, runs

__all__ = ["Candidates", "SegmentIndex", "index_of_segments"]

_PAIRS = 4_000_000
"""Point-segment pairs worked on at once: what bounds the memory."""
_GROWTH = 8.0
_TREE_ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidates:
    """Point-segment pairs, all of one point together, points in order; every point has one or more."""

    #: Index of the point.
    point: NDArray[np.int64]
    #: Index of the segment.
    segment: NDArray[np.int64]
    #: Distance along the segment of its point nearest to the point, between 0 and its length.
    foot: NDArray[np.float64]
    #: Distance from the point to that foot.
    apart: NDArray[np.float64]


_Proposed: TypeAlias = tuple[NDArray[np.int64], Candidates]
"""A block of points, and pairs whose points are numbered within the block."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentIndex:
    """Rasters of all routes, and a tree over their segments, each route moved to its own lane."""

    #: Rasters of the routes.
    cells: Cells
    #: Tree over the moved segments, in segment order.
    tree: shapely.STRtree
    #: What to add to the coordinates of each route and of its points: (R,) each.
    move_east: NDArray[np.float64]
    move_north: NDArray[np.float64]
    #: Added to every radius, for the digits lost in moving.
    slack: float
    #: Segments per length of the densest route.
    density: float

    def candidates(self, segments: Segments, points: Points, *, within: float) -> Candidates:
        """Every segment of a point's own route no more than `within` further off than the nearest one.

        Points must be finite. The rasters come first. What they do not settle is asked of the tree, with a
        radius that grows; what it has not settled after a few rounds is compared with the whole route.
        """
        radius = self.cells.margin[points.route]
        found: list[Candidates] = []
        todo = _round(self._from_cells(segments, points), radius, within=within, found=found)
        for _ in range(_TREE_ROUNDS):
            todo = _round(self._from_tree(segments, points, todo, radius), radius, within=within, found=found)
        radius[todo] = np.inf
        _round(_from_whole_route(segments, points, todo), radius, within=within, found=found)
        return _joined(found)

    def _from_cells(self, segments: Segments, points: Points) -> Iterator[_Proposed]:
        """Pairs with the segments that each point's cell lists."""
        begin, count = self.cells.listed(points)
        portion = np.cumsum(count) // _PAIRS
        cuts = np.flatnonzero(np.diff(portion)) + 1
        for block in np.split(np.arange(count.size), cuts):
            owner, place = runs(begin[block], count[block])
            yield block, _measure(segments, points.at(block), owner, self.cells.segment[place])

    def _from_tree(
        self, segments: Segments, points: Points, todo: NDArray[np.int64], radius: NDArray[np.float64]
    ) -> Iterator[_Proposed]:
        """Pairs of the points `todo` that the tree finds no further apart than each point's radius."""
        pairs = 2.0 + 2.0 * float(np.max(radius[todo], initial=0.0)) * self.density
        size = max(64, int(_PAIRS / pairs))
        for begin in range(0, todo.size, size):
            block = todo[begin : begin + size]
            yield block, self._query(segments, points.at(block), radius[block])

    def _query(self, segments: Segments, points: Points, radius: NDArray[np.float64]) -> Candidates:
        """Pairs on the points' own routes that the tree finds no further apart than each point's radius."""
        east = points.easting + self.move_east[points.route]
        north = points.northing + self.move_north[points.route]
        point, segment = self.tree.query(
            shapely.points(east, north), predicate="dwithin", distance=radius + self.slack
        )
        own = segments.route[segment] == points.route[point]
        if not own.all():
            point, segment = point[own], segment[own]
        return _measure(segments, points, point, segment)


def index_of_segments(segments: Segments) -> SegmentIndex:
    """Lay the rasters, move every route to its own lane and build the tree."""
    end_east = segments.easting + segments.length * segments.east
    end_north = segments.northing + segments.length * segments.north
    begin = segments.first[:-1]
    west = np.minimum.reduceat(np.minimum(segments.easting, end_east), begin)
    south = np.minimum.reduceat(np.minimum(segments.northing, end_north), begin)
    width = np.maximum.reduceat(np.maximum(segments.easting, end_east), begin) - west
    height = np.maximum.reduceat(np.maximum(segments.northing, end_north), begin) - south
    lane = height + float(np.max(np.maximum(width, height)))
    foot_of_lane = np.concatenate(([0.0], np.cumsum(lane)))[:-1]
    move_east, move_north = -west, foot_of_lane - south
    shift_east, shift_north = move_east[segments.route], move_north[segments.route]
    ends = np.empty((segments.length.size, 2, 2))
    ends[:, 0, 0], ends[:, 0, 1] = segments.easting + shift_east, segments.northing + shift_north
    ends[:, 1, 0], ends[:, 1, 1] = end_east + shift_east, end_north + shift_north
    largest = max(float(np.abs(move_east).max()), float(np.abs(move_north).max()), float(ends.max()))
    return SegmentIndex(
        cells=cells_of_segments(segments),
        tree=shapely.STRtree(np.asarray(shapely.linestrings(ends))),
        move_east=move_east,
        move_north=move_north,
        slack=16.0 * float(np.spacing(largest)),
        density=float(np.max(np.diff(segments.first) / segments.route_length)),
    )


def _measure(
    segments: Segments, points: Points, point: NDArray[np.int64], segment: NDArray[np.int64]
) -> Candidates:
    """Foot and distance of each pair."""
    east, north = segments.east[segment], segments.north[segment]
    to_east = points.easting[point] - segments.easting[segment]
    to_north = points.northing[point] - segments.northing[segment]
    foot = np.clip(to_east * east + to_north * north, 0.0, segments.length[segment])
    off_east, off_north = to_east - foot * east, to_north - foot * north
    apart = np.sqrt(off_east * off_east + off_north * off_north)  # hypot takes three times as long
    return Candidates(point=point, segment=segment, foot=foot, apart=apart)


def _round(
    proposed: Iterable[_Proposed], radius: NDArray[np.float64], *, within: float, found: list[Candidates]
) -> NDArray[np.int64]:
    """Keep the pairs of the points that are settled, widen the radius of the others and return those.

    A point is settled when everything up to `within` beyond its nearest segment lies inside its radius.
    """
    left = [np.zeros(0, dtype=np.int64)]
    for block, pairs in proposed:
        nearest = _nearest(pairs, block.size)
        settled = nearest + within <= radius[block]
        limit = np.where(settled, nearest + within, -1.0)
        kept = _kept(pairs, pairs.apart <= limit[pairs.point])
        found.append(replace(kept, point=block[kept.point]))
        left.append(block[~settled])
        radius[block] = np.where(np.isfinite(nearest), nearest + within, radius[block] * _GROWTH)
    return np.concatenate(left)


def _nearest(pairs: Candidates, size: int) -> NDArray[np.float64]:
    """Distance to the nearest segment proposed for each of `size` points; inf where there is none."""
    nearest = np.full(size, np.inf)
    heads = np.flatnonzero(np.diff(pairs.point, prepend=-1))
    if heads.size:
        nearest[pairs.point[heads]] = np.minimum.reduceat(pairs.apart, heads)
    return nearest


def _from_whole_route(segments: Segments, points: Points, todo: NDArray[np.int64]) -> Iterator[_Proposed]:
    """Pairs of the points `todo` with every segment of their routes."""
    size = max(1, _PAIRS // int(np.diff(segments.first).max()))
    for begin in range(0, todo.size, size):
        block = todo[begin : begin + size]
        some = points.at(block)
        yield block, _measure(segments, some, *expand(segments.first, some.route))


def _kept(pairs: Candidates, keep: NDArray[np.bool_]) -> Candidates:
    """Those pairs for which `keep` is true."""
    if keep.all():
        return pairs
    return Candidates(
        point=pairs.point[keep], segment=pairs.segment[keep], foot=pairs.foot[keep], apart=pairs.apart[keep]
    )


def _joined(found: list[Candidates]) -> Candidates:
    """Put the parts together, in the order of the points."""
    if len(found) == 1:
        return found[0]
    if not found:
        none = np.zeros(0, dtype=np.int64)
        return Candidates(point=none, segment=none, foot=np.zeros(0), apart=np.zeros(0))
    point = np.concatenate([part.point for part in found])
    order = np.argsort(point, kind="stable")
    return Candidates(
        point=point[order],
        segment=np.concatenate([part.segment for part in found])[order],
        foot=np.concatenate([part.foot for part in found])[order],
        apart=np.concatenate([part.apart for part in found])[order],
    )
