"""A raster for every route: which of its segments pass near a place, looked up in one step.

The cells of a route are square, as wide as a given number of its segments are long on average, so that a
cell knows few segments whatever their number. A cell lists the segments that come within a margin of it, a
quarter of its width: for a point in the cell, the list is complete up to that distance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linemap.geometry.batches import batches, in_batches
from linemap.geometry.segments import Points, Segments, runs

_MARGIN = 0.25
"""Margin around a cell, in its widths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """The rasters of all routes; a cell is known by one number."""

    #: Lower left corner of each route's raster: (R,), as are all down to `base`.
    west: NDArray[np.float64]
    south: NDArray[np.float64]
    #: Width of a cell.
    width: NDArray[np.float64]
    #: Distance from a point up to which its cell lists every segment.
    margin: NDArray[np.float64]
    #: Cells side by side and one above the other.
    columns: NDArray[np.int64]
    rows: NDArray[np.int64]
    #: Number of the route's first cell.
    base: NDArray[np.int64]
    #: Numbers of the cells that list a segment, rising: (C,).
    number: NDArray[np.int64]
    #: Where their segments begin in `segment`, and the end of the last: (C + 1,).
    first: NDArray[np.int64]
    #: Segments of one cell after the other, rising within each.
    segment: NDArray[np.int64]

    def listed(self, points: Points) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """(first, count): the part of `segment` that each point's cell lists; count 0 off the raster."""
        column = self._step(points.easting, self.west, self.columns, points.route)
        row = self._step(points.northing, self.south, self.rows, points.route)
        number = self.base[points.route] + row * self.columns[points.route] + column
        place = np.minimum(np.searchsorted(self.number, number), self.number.size - 1)
        known = (self.number[place] == number) & (column >= 0) & (row >= 0)
        known &= (column < self.columns[points.route]) & (row < self.rows[points.route])
        return self.first[place], np.where(known, self.first[place + 1] - self.first[place], 0)

    def _step(
        self,
        coordinate: NDArray[np.float64],
        origin: NDArray[np.float64],
        steps: NDArray[np.int64],
        route: NDArray[np.int64],
    ) -> NDArray[np.int64]:
        """Column or row of points, -1 below the raster and one too many above it."""
        step = np.floor((coordinate - origin[route]) / self.width[route])
        return np.clip(step, -1, steps[route]).astype(np.int64)


def cells_of_segments(segments: Segments, *, width: float) -> Cells:
    """Lay rasters with cells `width` mean segment lengths wide, and list the segments near every cell.

    >>> from linemap.geometry.segments import segments_of_vertices
    >>> corner = segments_of_vertices([0, 100, 100], [0, 0, 100], [0, 3])
    >>> cells = cells_of_segments(corner, width=1.0)
    >>> point = Points(easting=np.array([80.0]), northing=np.array([20.0]), route=np.array([0]))
    >>> [part.tolist() for part in cells.listed(point)], cells.segment.tolist()
    ([[1], [2]], [0, 0, 1, 1])
    """
    side = width * segments.route_length / np.diff(segments.first)
    margin = _MARGIN * side
    end_east = segments.easting + segments.length * segments.east
    end_north = segments.northing + segments.length * segments.north
    west, columns = _extent(segments, segments.easting, end_east, side, margin)
    south, rows = _extent(segments, segments.northing, end_north, side, margin)
    base = np.concatenate(([0], np.cumsum(columns * rows)))[:-1]

    def listed(part: slice) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """(cell, segment) of whole routes, by cell: those of the next routes have higher numbers."""
        segment, column, row = _touched(segments, part, west=west, south=south, width=side, margin=margin)
        route = segments.route[segment]
        number = base[route] + row * columns[route] + column
        order = np.argsort(number, kind="stable")
        return number[order], segment[order]

    parts = in_batches(listed, batches(segments.first))
    number, segment = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    head = np.flatnonzero(np.diff(number, prepend=-1))
    return Cells(
        west=west,
        south=south,
        width=side,
        margin=0.999 * margin,  # what the rounding of cell borders may cost is far less
        columns=columns,
        rows=rows,
        base=base,
        number=number[head],
        first=np.append(head, number.size),
        segment=segment,
    )


def _extent(
    segments: Segments,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    width: NDArray[np.float64],
    margin: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Origin of each route's raster along one axis, and how many cells it takes."""
    low = np.minimum.reduceat(np.minimum(start, end), segments.first[:-1]) - margin
    high = np.maximum.reduceat(np.maximum(start, end), segments.first[:-1]) + margin
    return low, np.floor((high - low) / width).astype(np.int64) + 1


def _touched(
    segments: Segments,
    part: slice,
    *,
    west: NDArray[np.float64],
    south: NDArray[np.float64],
    width: NDArray[np.float64],
    margin: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """(segment, column, row) of every cell that a segment of `part` comes within the margin of, or more."""
    route, length = segments.route[part], segments.length[part]
    wide, apart = width[route], margin[route]
    east, north = segments.easting[part] - west[route], segments.northing[part] - south[route]
    run, rise = length * segments.east[part], length * segments.north[part]
    segment, column = _steps(np.minimum(east, east + run) - apart, np.maximum(east, east + run) + apart, wide)
    left = column * wide[segment] - apart[segment] - east[segment]
    right = left + wide[segment] + 2.0 * apart[segment]
    # a piece steeper than its margin is wide is taken whole: dividing by its run would lose digits
    steep = np.abs(run) <= apart
    slope = np.where(steep, 0.0, rise / np.where(steep, 1.0, run))
    low_run, high_run = np.minimum(run, 0.0), np.maximum(run, 0.0)
    one = slope[segment] * np.clip(left, low_run[segment], high_run[segment])
    other = slope[segment] * np.clip(right, low_run[segment], high_run[segment])
    whole = steep[segment]
    low = np.where(whole, np.minimum(rise, 0.0)[segment], np.minimum(one, other)) + north[segment]
    high = np.where(whole, np.maximum(rise, 0.0)[segment], np.maximum(one, other)) + north[segment]
    which, row = _steps(low - apart[segment], high + apart[segment], wide[segment])
    return part.start + segment[which], column[which], row


def _steps(
    low: NDArray[np.float64], high: NDArray[np.float64], width: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """(which, step): every step of `width` that the ranges from `low` to `high` touch."""
    begin = np.maximum(np.floor(low / width), 0.0).astype(np.int64)
    count = np.floor(high / width).astype(np.int64) - begin + 1
    return runs(begin, count)
