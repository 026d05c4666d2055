"""Inverse of the Lambert conformal conic projection of EPSG:6515, in plain Python.

Formulas: IOGP Guidance Note 7-2, Lambert Conic Conformal (2SP), method 9802. Ellipsoid GRS 1980. NAD83(2011)
longitudes and latitudes are taken as WGS 84, which is good for drawing and not for measuring.
"""

from __future__ import annotations

import math

__all__ = ["to_longitude_latitude"]

_FOOT = 0.3048
_A = 6378137.0
_F = 1 / 298.257222101
_E = math.sqrt(_F * (2 - _F))
_LONGITUDE_0 = math.radians(-109.5)
_LATITUDE_0 = math.radians(44.25)
_PARALLELS = (math.radians(49.0), math.radians(45.0))
_FALSE_EASTING = 600000.0


def _m(latitude: float) -> float:
    return math.cos(latitude) / math.sqrt(1 - (_E * math.sin(latitude)) ** 2)


def _t(latitude: float) -> float:
    sine = _E * math.sin(latitude)
    return math.tan(math.pi / 4 - latitude / 2) / math.pow((1 - sine) / (1 + sine), _E / 2)


_N = math.log(_m(_PARALLELS[0]) / _m(_PARALLELS[1])) / math.log(_t(_PARALLELS[0]) / _t(_PARALLELS[1]))
_RADIUS_F = _A * _m(_PARALLELS[0]) / (_N * _t(_PARALLELS[0]) ** _N)
_RADIUS_0 = _RADIUS_F * _t(_LATITUDE_0) ** _N


def to_longitude_latitude(northing_ft: float, easting_ft: float) -> tuple[float, float]:
    """Return longitude and latitude in degrees of a grid point in international feet.

    >>> [round(value, 5) for value in to_longitude_latitude(900000.0, 2250000.0)]
    [-108.37717, 46.71312]
    """
    east = easting_ft * _FOOT - _FALSE_EASTING
    north = _RADIUS_0 - northing_ft * _FOOT
    t = (math.hypot(east, north) / _RADIUS_F) ** (1 / _N)
    latitude = math.pi / 2 - 2 * math.atan(t)
    for _ in range(8):
        sine = _E * math.sin(latitude)
        latitude = math.pi / 2 - 2 * math.atan(t * ((1 - sine) / (1 + sine)) ** (_E / 2))
    longitude = math.atan2(east, north) / _N + _LONGITUDE_0
    return math.degrees(longitude), math.degrees(latitude)
