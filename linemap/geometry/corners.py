"""Corners of a line: which vertices are PIs, and the frame of the bisector at one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linemap.geometry.segments import Points, Segments

__all__ = ["Corners", "corners_of", "in_bisector_frame"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corners:
    """PIs by the segment that starts at them, and the nearest one on either side of each segment."""

    #: True where a segment starts at a PI: (S,), as are all that follow.
    is_pi: NDArray[np.bool_]
    #: Segment starting at the last PI at or behind a segment's start; -1 if none on its route.
    behind: NDArray[np.int64]
    #: Segment starting at the first PI at or ahead of a segment's end; -1 if none on its route.
    ahead: NDArray[np.int64]


def corners_of(segments: Segments, min_pi_deflection_deg: float) -> Corners:
    """Find the PIs: interior vertices that turn more than `min_pi_deflection_deg`.

    >>> from linemap.geometry.segments import segments_of_vertices
    >>> corner = segments_of_vertices([0, 50, 100, 100], [0, 0, 0, 100], [0, 4])
    >>> corners_of(corner, 0.01).ahead.tolist()
    [2, 2, -1]
    """
    size = segments.length.size
    is_pi = np.abs(segments.deflection_deg) > min_pi_deflection_deg
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

    >>> from linemap.geometry.segments import segments_of_vertices
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
