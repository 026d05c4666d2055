"""The structure's own frame: which way it faces, and where its poles belong.

The frame has its origin at the design centre, *ahead* along the structure's azimuth and *right* square to
it. At an angle structure ahead is the bisector of the line, so "along" and "across" mean the same thing
for every structure. Azimuths are degrees clockwise from grid north.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linemap.geometry.bearing import bisector_azimuth_deg, wrap360

ComplexArray = NDArray[np.complex128]


class ArmRule(IntEnum):
    """Which direction the crossarm is square to."""

    BISECTOR = 0
    """Square to the bisector of back and ahead tangents; on a tangent, square to the line."""
    SQUARE_TO_BACK = 1
    """Square to the back tangent."""
    SQUARE_TO_AHEAD = 2
    """Square to the ahead tangent."""
    AZIMUTH = 3
    """Square to an azimuth written in the structure list."""


def structure_azimuth_deg(
    azimuth_back: ArrayLike, azimuth_ahead: ArrayLike, *, rule: ArrayLike = 0, explicit: ArrayLike = np.nan
) -> NDArray[np.float64]:
    """Return the azimuth a structure faces, looking ahead.

    Parameters
    ----------
    azimuth_back, azimuth_ahead : (n,) array_like
        Azimuths of the two tangents, both in the direction of the line, degrees. Where one is nan (a line
        end) the other serves for both.
    rule : (n,) array_like of ArmRule
        One for all, or one a structure.
    explicit : (n,) array_like
        The structure's ahead azimuth for ``ArmRule.AZIMUTH``; ignored elsewhere.

    Returns
    -------
    (n,) ndarray
        Degrees in [0, 360).

    Raises
    ------
    ValueError
        If a rule is none of ArmRule.

    Notes
    -----
    The bisector is back + deflection / 2, never the mean of two azimuths: 350 and 10 face 0, not 180.
    "Structures at angles should be set to bisect the line angle" is the general rule of erection guides.

    >>> structure_azimuth_deg([350.0, 40.0], [10.0, 40.0]).tolist()
    [0.0, 40.0]
    """
    columns = (azimuth_back, azimuth_ahead, explicit)
    *azimuths, rules = np.broadcast_arrays(*(np.asarray(a, dtype=np.float64) for a in columns), rule)
    back, ahead, given = (np.atleast_1d(column) for column in azimuths)
    chosen = np.atleast_1d(rules)
    if np.any((chosen < min(ArmRule)) | (chosen > max(ArmRule))):
        raise ValueError(f"arm rule {rules.tolist()} is not 0 to 3; see ArmRule")
    back, ahead = np.where(np.isnan(back), ahead, back), np.where(np.isnan(ahead), back, ahead)
    azimuth = back.copy()
    turning = (chosen == ArmRule.BISECTOR) & (back != ahead)
    azimuth[turning] = bisector_azimuth_deg(back[turning], ahead[turning])
    for choice, other in ((ArmRule.SQUARE_TO_AHEAD, ahead), (ArmRule.AZIMUTH, given)):
        rows = chosen == choice
        azimuth[rows] = other[rows]
    return wrap360(azimuth).reshape(rules.shape)


def arm_azimuth_deg(structure_azimuth: ArrayLike, a_left: ArrayLike) -> NDArray[np.float64]:
    """Return the design azimuth from pole A to pole B, degrees in [0, 360).

    Parameters
    ----------
    structure_azimuth : (n,) array_like
        Azimuth the structure faces, degrees.
    a_left : (n,) array_like of bool
        True where pole A is the left one, looking ahead.

    >>> arm_azimuth_deg([56.0736, 56.0736], [True, False]).round(4).tolist()
    [146.0736, 326.0736]
    """
    turn = np.where(np.asarray(a_left, dtype=np.bool_), 90.0, -90.0)
    return np.asarray(wrap360(np.asarray(structure_azimuth, dtype=np.float64) + turn), dtype=np.float64)


def ahead_right(
    east: ArrayLike, north: ArrayLike, structure_azimuth: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far ahead and how far right a way of the grid leads in a structure's frame.

    Parameters
    ----------
    east, north : array_like
        The way, from the centre or any other place, in any unit.
    structure_azimuth : array_like
        Azimuth the structure faces, degrees; all three broadcast.

    >>> [round(float(way), 6) for way in ahead_right(3.0, 4.0, 90.0)]
    [3.0, -4.0]
    """
    e, n = np.asarray(east, dtype=np.float64), np.asarray(north, dtype=np.float64)
    angle = np.radians(np.asarray(structure_azimuth, dtype=np.float64))
    sine, cosine = np.sin(angle), np.cos(angle)
    return e * sine + n * cosine, e * cosine - n * sine


def design_poles(
    easting: ArrayLike,
    northing: ArrayLike,
    *,
    structure_azimuth_deg: ArrayLike,
    spacing: ArrayLike,
    pole_count: ArrayLike,
    a_left: ArrayLike,
) -> NDArray[np.float64]:
    """Return where the poles belong.

    Parameters
    ----------
    easting, northing : (n,) array_like
        Design centres, grid.
    structure_azimuth_deg : (n,) array_like
        Azimuth each structure faces.
    spacing : (n,) array_like
        Distance between neighbouring poles in grid units (ground spacing times the combined factor); nan
        gives nan poles.
    pole_count : (n,) array_like of int
        2 or 3.
    a_left : (n,) array_like of bool
        True where pole A is the left one, looking ahead.

    Returns
    -------
    (n, 3, 2) ndarray
        Easting and northing of A, B and C; C is nan for two poles. B of three stands on the centre.

    Raises
    ------
    ValueError
        If a pole count is neither 2 nor 3.

    >>> design_poles([0.0], [1000.0], structure_azimuth_deg=[15.0], spacing=[15.5], pole_count=[2],
    ...              a_left=[True]).round(3).tolist()
    [[[-7.486, 1002.006], [7.486, 997.994], [nan, nan]]]
    """
    three = np.flatnonzero(checked_counts(pole_count) == 3)
    arm = np.radians(arm_azimuth_deg(structure_azimuth_deg, a_left))
    reach = 0.5 * np.asarray(spacing, dtype=np.float64)
    reach[three] *= 2.0
    poles = np.empty((*np.shape(easting), 3, 2))
    for axis, (centre, step) in enumerate(((easting, reach * np.sin(arm)), (northing, reach * np.cos(arm)))):
        middle = np.asarray(centre, dtype=np.float64)
        poles[:, 0, axis] = middle - step
        poles[:, 1, axis] = middle + step
        poles[:, 2, axis] = np.nan
        poles[three, 2, axis] = poles[three, 1, axis]
        poles[three, 1, axis] = (middle + 0.0 * step)[three]
    return poles


def checked_counts(pole_count: ArrayLike) -> NDArray[np.int64]:
    """Return the pole counts as a column of whole numbers; another than 2 or 3 raises ValueError."""
    count = np.atleast_1d(np.asarray(pole_count))
    wrong = count[(count != 2) & (count != 3)]
    if wrong.size:
        raise ValueError(f"pole count {wrong[0]} is neither 2 nor 3; give the poles of the H-frame")
    return count.astype(np.int64)


def grid_points(easting: ArrayLike, northing: ArrayLike) -> ComplexArray:
    """Points of the grid as east + i north: a product with a unit vector's conjugate turns the axes."""
    return np.asarray(easting, dtype=np.float64) + 1j * np.asarray(northing, dtype=np.float64)


def unit_ahead(azimuth: ArrayLike) -> ComplexArray:
    """Make unit vectors of azimuths, east + i north."""
    angle = np.radians(np.asarray(azimuth, dtype=np.float64))
    return grid_points(np.sin(angle), np.cos(angle))
