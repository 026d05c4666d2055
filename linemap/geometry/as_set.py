"""How a structure was set: azimuth, spacing, bow and A/B letters from the shots of its poles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from linemap.geometry.bearing import azimuth_deg, wrap180
from linemap.geometry.frame import ComplexArray, arm_azimuth_deg, checked_counts, grid_points, unit_ahead


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
    structure_azimuth_deg : (n,) array_like
        Azimuth each structure faces.
    spacing_grid : (n,) array_like
        Design distance between neighbouring poles, grid units; nan leaves `spacing_error` nan.
    pole_count : (n,) array_like of int
        2 or 3.
    a_left : (n,) array_like of bool
        True where pole A is the left one.
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
    three = np.flatnonzero(checked_counts(pole_count) == 3)
    first, middle, last = _outer_and_middle(set_poles, three)
    ahead = unit_ahead(structure_azimuth_deg)
    offset = ((first + last) / 2.0 - grid_points(design_centre_e, design_centre_n)) * ahead.conjugate()
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
