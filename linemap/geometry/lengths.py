"""The three lengths of a line that must never be mixed: grid, ground and geodesic."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from linemap.geometry.crs import FloatArray
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

#: Mean radius of the Earth, metres (NOAA Manual NOS NGS 5, 4.2: 20,906,000 ft, rounded).
MEAN_RADIUS_M: Final = 6_372_000.0

_GRS80_A_M: Final = 6_378_137.0
_GRS80_E2: Final = 0.006_694_380_022_90


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LineLengths:
    """Three lengths of the same lines, all in the unit of the projection."""

    #: Straight distance between grid coordinates.
    grid: FloatArray
    #: Grid divided by the combined factor: what a tape or total station reads at ground height.
    ground: FloatArray
    #: Shortest distance on the ellipsoid of the projection.
    geodesic: FloatArray


def line_lengths(
    projection: Projection,
    start: tuple[ArrayLike, ArrayLike],
    end: tuple[ArrayLike, ArrayLike],
    *,
    combined_factor: ArrayLike,
) -> LineLengths:
    """Return grid, ground and geodesic length of straight grid lines, in the projection's unit.

    Parameters
    ----------
    projection : Projection
        Of the coordinates.
    start, end : tuple of array_like
        Easting and northing of each end.
    combined_factor : array_like
        Grid / ground, of each line or one for all.

    >>> montana = Projection.from_text("EPSG:6515")
    >>> seen = line_lengths(montana, (2250000.0, 900000.0), (2250000.0, 901000.0), combined_factor=0.999217)
    >>> seen.grid.item(), seen.ground.round(2).item(), seen.geodesic.round(2).item()
    (1000.0, 1000.78, 1000.59)
    """
    grid = np.asarray(np.hypot(np.subtract(end[0], start[0]), np.subtract(end[1], start[1])))
    ground = grid_to_ground(grid, combined_factor)
    return LineLengths(grid=grid, ground=ground, geodesic=projection.geodesic_length(start, end))


def gaussian_radius_m(latitude_deg: ArrayLike) -> FloatArray:
    """Return the mean radius sqrt(M N) of the GRS80 ellipsoid at a latitude, metres.

    >>> gaussian_radius_m(37.3933).round().item()
    6372485.0
    """
    sine = np.sin(np.radians(np.asarray(latitude_deg, dtype=np.float64)))
    return np.asarray(_GRS80_A_M * math.sqrt(1.0 - _GRS80_E2) / (1.0 - _GRS80_E2 * sine * sine))


def elevation_factor(
    height: ArrayLike, unit: LengthUnit, *, radius_m: float | FloatArray = MEAN_RADIUS_M
) -> FloatArray:
    """Return ellipsoid length / ground length at a height: R / (R + h).

    Parameters
    ----------
    height : array_like
        Ellipsoid height (orthometric height plus geoid height), in `unit`.
    unit : LengthUnit
        Unit of `height`.
    radius_m : float or ndarray
        Mean radius, metres: 6,372,000, or `gaussian_radius_m`. At 1,000 m, 10 km of it are 0.25 ppm.

    Notes
    -----
    NOAA Manual NOS NGS 5 (Stem, 1989), 4.2.

    >>> elevation_factor(765.0, LengthUnit.FOOT, radius_m=20_906_000 * 0.3048).round(7).item()
    0.9999634
    """
    return np.asarray(radius_m / (radius_m + np.asarray(height, dtype=np.float64) * unit.metres))


def combined_factor(grid_scale: ArrayLike, elevation_factor: ArrayLike) -> FloatArray:
    """Return grid length / ground length: scale times elevation factor.

    >>> combined_factor(1.0000450, 0.9999634).round(7).item()
    1.0000084
    """
    return np.asarray(np.multiply(grid_scale, elevation_factor, dtype=np.float64))


def grid_to_ground(length: ArrayLike, combined_factor: ArrayLike) -> FloatArray:
    """Return the ground length of a grid length: divided by the combined factor.

    >>> grid_to_ground(4805.508, 1.0000084).round(3).item()
    4805.468
    """
    return np.asarray(np.divide(length, combined_factor, dtype=np.float64))


def ground_to_grid(length: ArrayLike, combined_factor: ArrayLike) -> FloatArray:
    """Return the grid length of a ground length: times the combined factor.

    >>> ground_to_grid(4805.468, 1.0000084).round(3).item()
    4805.508
    """
    return np.asarray(np.multiply(length, combined_factor, dtype=np.float64))
