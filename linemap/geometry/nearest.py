"""Which segments of its own route a point can be nearest to: the search behind `locate`.

A route of n segments has about √n blocks of √n segments. The box of a block tells how near it can come, its
first vertex how far off the line is at most; blocks that cannot hold the nearest segment are left out. A
point far off is so compared with a few √n segments, however far that is.

A raster of each route answers for points close to it, which is nearly all of them; a coarser raster for
points further off, or for lines of very short pieces; boxes around blocks of segments for the rest. All of
them only propose: an answer is taken only when the searched radius proves it. A tree over the segments of all
routes (shapely's STRtree) was measured too: it takes two to three times as long, most of it to make the
points, and bogs down when points lie far away from all lines, as with eastings and northings exchanged.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from linemap.geometry.cells import Cells, cells_of_segments
from linemap.geometry.segments import Points, Segments, expand, runs


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """The blocks of all routes, one route after the other."""

    #: Where each route's blocks begin, and the end of the last: (R + 1,).
    first: NDArray[np.int64]
    #: First segment of each block, and the end of the last: (B + 1,).
    segment: NDArray[np.int64]
    #: Coordinates of the vertex each block starts at: (B,), as are all that follow.
    easting: NDArray[np.float64]
    northing: NDArray[np.float64]
    #: Box around each block.
    west: NDArray[np.float64]
    east: NDArray[np.float64]
    south: NDArray[np.float64]
    north: NDArray[np.float64]

    def promising(self, points: Points, *, within: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """(point, block): every block that can hold a segment up to `within` beyond the nearest one."""
        point, block = expand(self.first, points.route)
        east, north = points.easting[point], points.northing[point]
        aside = np.maximum(np.maximum(self.west[block] - east, east - self.east[block]), 0.0)
        above = np.maximum(np.maximum(self.south[block] - north, north - self.north[block]), 0.0)
        at_least = np.hypot(aside, above)
        at_most = np.hypot(self.easting[block] - east, self.northing[block] - north)
        nearest = np.minimum.reduceat(at_most, np.flatnonzero(np.diff(point, prepend=-1)))
        # the last digits of two differently computed distances are not compared
        kept = at_least <= (nearest + within)[point] * (1.0 + 1e-12)
        return point[kept], block[kept]


def blocks_of_segments(segments: Segments) -> Blocks:
    """Cut every route into about as many blocks as a block has segments, and box them.

    >>> from linemap.geometry.segments import segments_of_vertices
    >>> line = segments_of_vertices([0, 1, 2, 3, 4, 5], [0, 0, 0, 0, 0, 0], [0, 6])
    >>> blocks_of_segments(line).segment.tolist()
    [0, 3, 5]
    """
    count = np.diff(segments.first)
    size = np.ceil(np.sqrt(count)).astype(np.int64)
    blocks = -(-count // size)
    first = np.concatenate(([0], np.cumsum(blocks)))
    route, number = expand(first, np.arange(count.size))
    begin = segments.first[route] + (number - first[route]) * size[route]
    end_east = segments.easting + segments.length * segments.east
    end_north = segments.northing + segments.length * segments.north
    return Blocks(
        first=first,
        segment=np.append(begin, segments.length.size),
        easting=segments.easting[begin],
        northing=segments.northing[begin],
        west=np.minimum.reduceat(np.minimum(segments.easting, end_east), begin),
        east=np.maximum.reduceat(np.maximum(segments.easting, end_east), begin),
        south=np.minimum.reduceat(np.minimum(segments.northing, end_north), begin),
        north=np.maximum.reduceat(np.maximum(segments.northing, end_north), begin),
    )


_PAIRS = 1_000_000
"""Point-segment pairs worked on at once: what bounds the memory."""
_WIDTHS = (1.0, 4.0, 16.0)
"""Widths of the cells of the rasters, in mean segment lengths of a route."""


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

    def at(self, rows: NDArray[np.int64]) -> Candidates:
        """Those pairs, in the order of `rows`."""
        return Candidates(
            point=self.point[rows], segment=self.segment[rows], foot=self.foot[rows], apart=self.apart[rows]
        )


_Proposed: TypeAlias = tuple[NDArray[np.int64], Candidates]
"""A block of points, and pairs whose points are numbered within the block."""


@dataclass(frozen=True, kw_only=True)
class SegmentIndex:
    """Rasters and blocks of all routes; all but the finest are laid when a point first asks for them."""

    segments: Segments
    _laid: dict[float, Cells] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._raster(_WIDTHS[0])

    @cached_property
    def blocks(self) -> Blocks:
        """Blocks of consecutive segments, for the points that no raster settles."""
        return blocks_of_segments(self.segments)

    def candidates(self, points: Points, *, within: float) -> Candidates:
        """Every segment of a point's own route no more than `within` further off than the nearest one.

        Points must be finite. What the rasters do not settle, because the line is further off than their
        margin, is compared with the blocks.
        """
        found: list[Candidates] = []
        todo = np.arange(points.route.size)
        for width in _WIDTHS:
            cells = self._raster(width)
            margin = cells.margin[points.route[todo]]
            near = todo[margin > within]
            proposed = _from_cells(cells, self.segments, points, near)
            left = _round(proposed, cells.margin[points.route], within=within, found=found)
            todo = np.concatenate((todo[margin <= within], left))
            if not todo.size:
                return _joined(found)
        proposed = self._from_blocks(points, todo, within=within)
        _round(proposed, np.full(points.route.size, np.inf), within=within, found=found)
        return _joined(found)

    def _raster(self, width: float) -> Cells:
        """Lay the raster with cells so wide, once; of two threads that ask first, each lays it."""
        if width not in self._laid:
            self._laid.setdefault(width, cells_of_segments(self.segments, width=width))
        return self._laid[width]

    def _from_blocks(self, points: Points, todo: NDArray[np.int64], *, within: float) -> Iterator[_Proposed]:
        """Pairs of the points `todo` with the segments of every block that can hold the nearest."""
        for block in _portions(np.diff(self.blocks.first)[points.route[todo]]):
            some = todo[block]
            owner, where = self.blocks.promising(points.at(some), within=within)
            begin, count = self.blocks.segment[where], np.diff(self.blocks.segment)[where]
            heads = np.flatnonzero(np.diff(owner, prepend=-1))
            heads = np.append(heads, owner.size)
            for part in _portions(np.add.reduceat(count, heads[:-1])):
                rows = slice(heads[part.start], heads[part.stop])
                which, segment = runs(begin[rows], count[rows])
                numbered = owner[rows][which] - part.start
                yield some[part], _measure(self.segments, points.at(some[part]), numbered, segment)


def _from_cells(
    cells: Cells, segments: Segments, points: Points, todo: NDArray[np.int64]
) -> Iterator[_Proposed]:
    """Pairs of the points `todo` with the segments that each one's cell lists."""
    begin, count = cells.listed(points.at(todo))
    for block in _portions(count):
        owner, place = runs(begin[block], count[block])
        yield todo[block], _measure(segments, points.at(todo[block]), owner, cells.segment[place])


def _portions(count: NDArray[np.int64]) -> list[slice]:
    """Cut rows with `count` pairs each into runs of rows with about `_PAIRS` pairs."""
    cuts = np.flatnonzero(np.diff(np.cumsum(count) // _PAIRS)) + 1
    edges = [0, *cuts.tolist(), count.size]
    return [slice(begin, end) for begin, end in pairwise(edges) if end > begin]


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
    """Keep the pairs of the points that are settled, and return the points that are not.

    A point is settled when everything up to `within` beyond its nearest segment lies inside its radius.
    """
    left = [np.zeros(0, dtype=np.int64)]
    for block, pairs in proposed:
        nearest = _nearest(pairs, block.size)
        settled = nearest + within <= radius[block]
        limit = np.where(settled, nearest + within, -1.0)
        near = pairs.apart <= limit[pairs.point]
        kept = pairs if near.all() else pairs.at(np.flatnonzero(near))
        found.append(replace(kept, point=block[kept.point]))
        left.append(block[~settled])
    return np.concatenate(left)


def _nearest(pairs: Candidates, size: int) -> NDArray[np.float64]:
    """Distance to the nearest segment proposed for each of `size` points; inf where there is none."""
    nearest = np.full(size, np.inf)
    heads = np.flatnonzero(np.diff(pairs.point, prepend=-1))
    if heads.size:
        nearest[pairs.point[heads]] = np.minimum.reduceat(pairs.apart, heads)
    return nearest


def _joined(found: list[Candidates]) -> Candidates:
    """Put the parts together, in the order of the points."""
    if len(found) == 1:
        return found[0]
    if not found:
        none = np.zeros(0, dtype=np.int64)
        return Candidates(point=none, segment=none, foot=np.zeros(0), apart=np.zeros(0))
    whole = Candidates(
        point=np.concatenate([part.point for part in found]),
        segment=np.concatenate([part.segment for part in found]),
        foot=np.concatenate([part.foot for part in found]),
        apart=np.concatenate([part.apart for part in found]),
    )
    return whole.at(np.argsort(whole.point, kind="stable"))
