"""Blocks of consecutive segments with the boxes around them: the search for points far from their line.

A route of n segments has about √n blocks of √n segments. The box of a block tells how near it can come, its
first vertex how far off the line is at most; blocks that cannot hold the nearest segment are left out. A
point far off is so compared with a few √n segments, however far that is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linemap.geometry.segments import Points, Segments, expand

__all__ = ["Blocks", "blocks_of_segments"]


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
