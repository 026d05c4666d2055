"""Shortest lines on the ellipsoid: length and the azimuths at both ends."""

from __future__ import annotations

import math
from typing import overload

import numpy as np
from pyproj import Geod

from linemap.geometry.crs import FloatArray, finite

__all__ = ["geodesic", "geodesics"]


@overload
def geodesic(
    lon1: float, lat1: float, lon2: float, lat2: float, *, ellipsoid: str = ...
) -> tuple[float, float, float]: ...
@overload
def geodesic(
    lon1: FloatArray, lat1: FloatArray, lon2: FloatArray, lat2: FloatArray, *, ellipsoid: str = ...
) -> tuple[FloatArray, FloatArray, FloatArray]: ...
def geodesic(
    lon1: float | FloatArray,
    lat1: float | FloatArray,
    lon2: float | FloatArray,
    lat2: float | FloatArray,
    *,
    ellipsoid: str = "WGS84",
) -> tuple[float | FloatArray, float | FloatArray, float | FloatArray]:
    """Return length (metres) and both end azimuths of the shortest line between points.

    Parameters
    ----------
    lon1, lat1, lon2, lat2 : float or ndarray
        Degrees; all numbers, or arrays of one shape.
    ellipsoid : str
        PROJ name, e.g. "WGS84", "GRS80", "clrk66".

    Returns
    -------
    length_m, azimuth_forward_deg, azimuth_back_deg
        Azimuths from true north in [0, 360): at the first point towards the second, and at the second
        towards the first. In arrays, coincident points have length 0 and azimuths nan.

    Raises
    ------
    ValueError
        If two single points coincide, because no azimuth exists, or a coordinate is not finite.

    Notes
    -----
    Karney, J. Geod. 87 (2013) 43-55, as built into PROJ.

    >>> [round(value, 4) for value in geodesic(0.0, 40.0, 137.84490004377, 41.79331020506)]
    [10000000.0, 30.0, 329.0902]
    """
    points = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in (lon1, lat1, lon2, lat2)))
    length, forward, back = geodesics(Geod(ellps=ellipsoid), *points)
    if length.ndim:
        return length, forward, back
    if not math.isfinite(forward):
        raise ValueError(f"no azimuth from {lon1}, {lat1} to {lon2}, {lat2}; give two different points")
    return float(length), float(forward), float(back)


def geodesics(
    geod: Geod, lon1: FloatArray, lat1: FloatArray, lon2: FloatArray, lat2: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return lengths (metres) and end azimuths on a given ellipsoid, from arrays of one shape.

    Azimuths as `geodesic` gives them: where points coincide PROJ says 180, here they are nan.

    >>> geodesics(Geod(ellps="GRS80"), *np.zeros((4, 1)))
    (array([0.]), array([nan]), array([nan]))
    """
    seen = geod.inv(lon1.ravel(), lat1.ravel(), lon2.ravel(), lat2.ravel())
    forward, back, length = (finite(values, lon1.shape) for values in seen)
    apart = length > 0.0
    return length, np.where(apart, forward % 360.0, np.nan), np.where(apart, back % 360.0, np.nan)
