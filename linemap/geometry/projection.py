"""Map projection of a line: its unit, convergence and scale, the way to WGS 84, and grid against ground.

Grid convergence keeps PROJ's sign: true azimuth = grid azimuth + convergence, at the point occupied. Some
published tables print it the other way round. Grid, ground and geodesic lengths are never mixed: ground is
grid / combined factor, geodesic the shortest distance on the ellipsoid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final, Self

import numpy as np
from numpy.typing import ArrayLike
from pyproj import CRS, Proj

from linemap.errors import Problem
from linemap.geometry.crs import Bounds, FloatArray, Operation, finite, geodesic, projected_unit, read_crs
from linemap.units import LengthUnit

#: Mean radius of the Earth, metres (NOAA Manual NOS NGS 5, 4.2: 20,906,000 ft, rounded).
MEAN_RADIUS_M: Final = 6_372_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Projection:
    """The projected coordinate reference of a line. Build it with `from_text`, once a job."""

    #: The text it was made from, e.g. "EPSG:6515".
    text: str
    #: Its registered name.
    name: str
    #: Unit of easting and northing.
    unit: LengthUnit
    #: West, south, east, north of its area of use in degrees; None when not registered.
    bounds: Bounds | None
    #: How WGS 84 longitude and latitude are reached.
    to_wgs84: Operation
    #: The coordinate reference itself, horizontal part.
    crs: CRS = field(repr=False, compare=False)
    _proj: Proj = field(repr=False, compare=False)

    @classmethod
    @lru_cache(maxsize=64)
    def from_text(cls, text: str) -> Self:
        """Read a projected coordinate reference as `--crs` gives it: EPSG code, WKT or PROJ text.

        Raises
        ------
        InputRefused
            If the text is unknown, not projected, not in metres or feet, or its axes do not run east and
            north; or if no true operation to WGS 84 is installed.

        >>> montana = Projection.from_text("EPSG:6515")
        >>> montana.name, montana.unit.symbol, montana.to_wgs84.accuracy_m
        ('NAD83(2011) / Montana (ft)', 'ft', 2.0)
        """
        asked = Problem(file="", column="--crs", value=text, reason="")
        crs = read_crs(text, column=asked.column)
        unit = projected_unit(crs, column=asked.column, text=text)
        bounds = crs.area_of_use.bounds if crs.area_of_use else None
        operation = Operation.between(crs, CRS.from_epsg(4326), bounds=bounds, asked=asked)
        return cls(
            text=text, name=crs.name, unit=unit, bounds=bounds, to_wgs84=operation, crs=crs, _proj=Proj(crs),
        )  # fmt: skip

    def __reduce__(self) -> tuple[Callable[[str], Projection], tuple[str]]:
        """Make it anew from its text where it is sent to another process."""
        return type(self).from_text, (self.text,)

    def to_lonlat(self, easting: ArrayLike, northing: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return WGS 84 longitude and latitude, degrees; nan where the projection has no answer.

        >>> lon, lat = Projection.from_text("EPSG:6515").to_lonlat(2_250_000.0, 900_000.0)
        >>> round(float(lon), 5), round(float(lat), 5)
        (-108.37717, 46.71312)
        """
        return self.to_wgs84.forward(easting, northing)

    def from_lonlat(self, longitude: ArrayLike, latitude: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return easting and northing of WGS 84 longitude and latitude; nan where there is no answer."""
        return self.to_wgs84.backward(longitude, latitude)

    def to_geodetic(self, easting: ArrayLike, northing: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return longitude and latitude on the projection's own datum, degrees; nan where impossible."""
        east, north = _columns(easting, northing)
        longitude, latitude = self._proj(east.ravel(), north.ravel(), inverse=True)
        return finite(longitude, east.shape), finite(latitude, east.shape)

    def from_geodetic(self, longitude: ArrayLike, latitude: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return easting and northing of longitude and latitude on the projection's own datum."""
        lon, lat = _columns(longitude, latitude)
        easting, northing = self._proj(lon.ravel(), lat.ravel())
        return finite(easting, lon.shape), finite(northing, lon.shape)

    def factors(self, longitude: ArrayLike, latitude: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return grid scale and convergence (degrees) at points.

        Parameters
        ----------
        longitude, latitude : array_like
            Degrees, on the projection's own datum. WGS 84 serves for NAD83 and its like (2 m move the
            convergence by less than 0.1"); for NAD27 use `factors_at`.

        Returns
        -------
        grid_scale, convergence_deg : ndarray
            Scale is grid / ellipsoid along the meridian, which in the conformal projections of surveys is
            the scale in every direction. True azimuth = grid azimuth + convergence. nan where the
            projection has no answer.

        >>> scale, convergence = Projection.from_text("EPSG:6515").factors(-108.37717, 46.71312)
        >>> round(float(scale), 6), round(float(convergence), 3)
        (0.999406, 0.821)
        """
        lon, lat = _columns(longitude, latitude)
        if not lon.size:  # which PROJ refuses
            return np.empty(lon.shape), np.empty(lon.shape)
        seen = self._proj.get_factors(lon.ravel(), lat.ravel())
        return finite(seen.meridional_scale, lon.shape), finite(seen.meridian_convergence, lon.shape)

    def factors_at(self, easting: ArrayLike, northing: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return grid scale and convergence (degrees) at grid points, through the own datum."""
        return self.factors(*self.to_geodetic(easting, northing))

    def lonlat_and_factors(
        self, easting: ArrayLike, northing: ArrayLike
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return WGS 84 longitude and latitude, grid scale and convergence of grid points at once.

        The same as `to_lonlat` and `factors_at`; where the step from the own datum to WGS 84 changes
        nothing (NAD83 and its like), the points are unprojected once and not twice.

        >>> [round(float(part), 3) for part in Projection.from_text("EPSG:6515").lonlat_and_factors(
        ...     2_250_000.0, 900_000.0)]
        [-108.377, 46.713, 0.999, 0.821]
        """
        own = self.to_geodetic(easting, northing)
        lon, lat = own if self._is_wgs84 else self.to_lonlat(easting, northing)
        return lon, lat, *self.factors(*own)

    def made_for(self, longitude: float, latitude: float) -> bool:
        """Say whether a place, degrees, lies in the area of use; True where none is registered.

        >>> Projection.from_text("EPSG:6515").made_for(-98.6, 49.1)
        False
        """
        if self.bounds is None:
            return True
        west, south, east, north = self.bounds
        across = west <= longitude <= east if west <= east else not east < longitude < west
        return across and south <= latitude <= north

    @property
    def _is_wgs84(self) -> bool:
        """True when own and WGS 84 coordinates are the same numbers, tried amid the area of use."""
        if self.bounds is None:
            return False
        middle = (self.bounds[0] + self.bounds[2]) / 2.0, (self.bounds[1] + self.bounds[3]) / 2.0
        there = self.to_lonlat(*self.from_geodetic(*middle))
        return bool(np.abs(np.subtract(there, middle)).max() < 1e-11)

    def geodesic_length(
        self, start: tuple[ArrayLike, ArrayLike], end: tuple[ArrayLike, ArrayLike]
    ) -> FloatArray:
        """Return the shortest distance on the own ellipsoid between grid points, in `unit`."""
        ends = np.broadcast_arrays(*self.to_geodetic(*start), *self.to_geodetic(*end))
        return np.asarray(geodesic(*ends, geod=self.crs.get_geod())[0] / self.unit.metres)


@lru_cache(maxsize=64)
def unit_of(text: str) -> LengthUnit:
    """Return the unit of a projected coordinate reference, read and checked once for each text.

    A job's lines name their reference one by one, and reading it takes PROJ some milliseconds. Refuses what
    `Projection.from_text` does.
    """
    return Projection.from_text(text).unit


def other_crs_to(
    projection: Projection, source_crs: str, x: ArrayLike, y: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return easting and northing, in the line's projection, of coordinates in another reference.

    That one may be geographic; `x` is easting or longitude, whatever order the reference says. InputRefused
    if its text is unknown, or only a ballpark operation is installed.

    >>> e, n = other_crs_to(Projection.from_text("EPSG:6515"), "EPSG:4326", -108.37717, 46.71312)
    >>> round(float(e), -1), round(float(n), -1)
    (2250000.0, 900000.0)
    """
    asked = Problem(file="", column="crs", value=source_crs, reason="")
    source = read_crs(source_crs, column=asked.column)
    way = Operation.between(source, projection.crs, bounds=projection.bounds, asked=asked)
    return way.forward(x, y)


def elevation_factor(height: ArrayLike, unit: LengthUnit, *, radius_m: float = MEAN_RADIUS_M) -> FloatArray:
    """Return ellipsoid length / ground length at a height: R / (R + h).

    NOAA Manual NOS NGS 5 (Stem, 1989), 4.2. The height is the ellipsoid's (orthometric height plus geoid
    height); at 1,000 m, 10 km of the mean radius are 0.25 ppm.

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


def _columns(first: ArrayLike, second: ArrayLike) -> tuple[FloatArray, FloatArray]:
    one, two = np.broadcast_arrays(np.asarray(first, np.float64), np.asarray(second, np.float64))
    return one, two
