"""The structure's own frame: which way it faces, where its poles belong, and how they were set.

The frame has its origin at the design centre, *ahead* along the structure's azimuth and *right* square to
it. At an angle structure ahead is the bisector of the line, so "along" and "across" mean the same thing
for every structure. Azimuths are degrees clockwise from grid north.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linemap.geometry.bearing import azimuth_deg, bisector_azimuth_deg, wrap180, wrap360

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

    `a_left` is true where pole A is the left one for who faces the structure's azimuth, looking ahead.

    >>> arm_azimuth_deg([56.0736, 56.0736], [True, False]).round(4).tolist()
    [146.0736, 326.0736]
    """
    turn = np.where(np.asarray(a_left, dtype=np.bool_), 90.0, -90.0)
    return np.asarray(wrap360(np.asarray(structure_azimuth, dtype=np.float64) + turn), dtype=np.float64)


def ahead_right(
    east: ArrayLike, north: ArrayLike, structure_azimuth: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far ahead and how far right a way of the grid leads in a structure's frame.

    The way may begin at any place and be in any unit; all three broadcast.

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
    three = np.flatnonzero(_checked_counts(pole_count) == 3)
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AsSet:
    """How structures stand against their design: one value a structure, nan where a pole is missing."""

    #: Rotation of the frame, degrees, clockwise positive, in (-90, 90]: a reversal is taken out first.
    rotation_deg: NDArray[np.float64]
    #: True where first and last pole stand the other way round.
    reversed: NDArray[np.bool_]
    #: Frame centre from the design centre along the structure's azimuth, ground units, ahead positive.
    along: NDArray[np.float64]
    #: Frame centre from the design centre square to that, ground units, right positive.
    across: NDArray[np.float64]
    #: Measured minus design spacing, ground units; of three poles, the neighbouring gap that is worse.
    spacing_error: NDArray[np.float64]
    #: Middle pole from the line through the outer two, ground units, ahead positive; nan for two poles.
    collinearity: NDArray[np.float64]
    #: The spacing that `spacing_error` speaks of, ground units.
    measured_spacing: NDArray[np.float64]


def as_set(
    design_centre_e: ArrayLike,
    design_centre_n: ArrayLike,
    *,
    structure_azimuth_deg: ArrayLike,
    spacing_grid: ArrayLike,
    pole_count: ArrayLike,
    a_left: ArrayLike,
    set_poles: ArrayLike,
    combined_factor: ArrayLike = 1.0,
) -> AsSet:
    """Compare surveyed poles with the design, in each structure's own frame.

    Parameters
    ----------
    design_centre_e, design_centre_n : (n,) array_like
        Design centres, grid.
    structure_azimuth_deg, spacing_grid, pole_count, a_left : (n,) array_like
        As `design_poles` takes them; nan spacing leaves `spacing_error` nan.
    set_poles : (n, 3, 2) array_like
        Surveyed easting and northing of A, B, C, grid; nan where not shot. C of two poles is not read.
    combined_factor : (n,) array_like
        Grid / ground.

    Returns
    -------
    AsSet
        Lengths in ground units. A row with a pole missing is nan, and not reversed.

    Raises
    ------
    ValueError
        If a pole count is neither 2 nor 3.

    Notes
    -----
    Rotation is taken between the outer poles (A to B, or A to C), the centre is their midpoint. Outer
    poles in one place have no direction: rotation nan, the rest stands.

    >>> seen = as_set([0.0], [0.0], structure_azimuth_deg=[0.0], spacing_grid=[12.5], pole_count=[2],
    ...     a_left=[True], set_poles=[[[6.0, 0.5], [-6.0, 0.5], [np.nan, np.nan]]])
    >>> seen.reversed.item(), seen.rotation_deg.item(), seen.along.item(), seen.spacing_error.item()
    (True, 0.0, 0.5, -0.5)
    """
    three = np.flatnonzero(_checked_counts(pole_count) == 3)
    first, middle, last = _outer_and_middle(set_poles, three)
    facing = np.radians(np.asarray(structure_azimuth_deg, dtype=np.float64))
    ahead = _grid_points(np.sin(facing), np.cos(facing))
    offset = ((first + last) / 2.0 - _grid_points(design_centre_e, design_centre_n)) * ahead.conjugate()
    rotation, turned = _rotation(last - first, arm_azimuth_deg(structure_azimuth_deg, a_left))
    spacing = np.asarray(spacing_grid, dtype=np.float64)
    measured = np.abs(middle - first)
    bow = np.full(measured.shape, np.nan)
    if three.size:
        far, near, wanted = np.abs(last - middle)[three], measured[three], spacing[three]
        measured[three] = np.where(np.abs(far - wanted) > np.abs(near - wanted), far, near)
        bow[three] = _bow(first[three], middle[three], last[three], ahead[three])
    factor = np.asarray(combined_factor, dtype=np.float64)
    return AsSet(
        rotation_deg=rotation,
        reversed=turned,
        along=offset.real / factor,
        across=-offset.imag / factor,
        spacing_error=(measured - spacing) / factor,
        collinearity=bow / factor,
        measured_spacing=measured / factor,
    )


def _outer_and_middle(
    set_poles: ArrayLike, three: NDArray[np.int64]
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """First, middle and last pole; of two poles the second is both. First is nan if any needed one is."""
    poles = np.ascontiguousarray(set_poles, dtype=np.float64).view(np.complex128)[..., 0]
    first, middle, last = poles[:, 0].copy(), poles[:, 1].copy(), poles[:, 1].copy()
    last[three] = poles[three, 2]
    first[np.isnan(middle) | np.isnan(last)] = complex(np.nan, np.nan)
    return first, middle, last


def _rotation(
    first_to_last: ComplexArray, arm: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Rotation in (-90, 90] and whether half a turn was taken out to bring it there."""
    seen = np.asarray(azimuth_deg(first_to_last.real, first_to_last.imag), dtype=np.float64)
    raw = np.asarray(wrap180(seen - arm), dtype=np.float64)
    turned = (raw > 90.0) | (raw <= -90.0)
    return np.where(turned, raw - np.copysign(180.0, raw), raw), turned


def _bow(
    first: ComplexArray, middle: ComplexArray, last: ComplexArray, ahead: ComplexArray
) -> NDArray[np.float64]:
    """Middle pole from the line first-last, positive on its ahead side; nan where that line has no length."""
    chord = (last - first).conjugate()
    length = np.abs(chord)
    left = ((middle - first) * chord).imag / np.where(length > 0.0, length, np.nan)
    return np.copysign(1.0, (ahead * chord).imag) * left


def _checked_counts(pole_count: ArrayLike) -> NDArray[np.int64]:
    """Return the pole counts as a column of whole numbers; another than 2 or 3 raises ValueError."""
    count = np.atleast_1d(np.asarray(pole_count))
    wrong = count[(count != 2) & (count != 3)]
    if wrong.size:
        raise ValueError(f"pole count {wrong[0]} is neither 2 nor 3; give the poles of the H-frame")
    return count.astype(np.int64)


def _grid_points(easting: ArrayLike, northing: ArrayLike) -> ComplexArray:
    """Points of the grid as east + i north: a product with a unit vector's conjugate turns the axes."""
    return np.asarray(easting, dtype=np.float64) + 1j * np.asarray(northing, dtype=np.float64)
