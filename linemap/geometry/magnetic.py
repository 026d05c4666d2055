"""Magnetic declination and magnetic bearings, dated and with their uncertainty.

From the World Magnetic Model 2025 (NOAA/NCEI and British Geological Survey, public domain), which holds from
2025-01-01 to 2029-12-31. It knows the field of the Earth's core only: iron, trucks and energized wires turn a
needle by many degrees and are not in its uncertainty. So a magnetic bearing exists only with a date, and is
printed to 0.1 degree.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Final

from pygeomag import GeoMag
from pygeomag.wmm.wmm_2025 import WMM_2025

from linemap.geometry.bearing import wrap180, wrap360

#: The model holds from this day ...
FIRST_DAY: Final = dt.date(2025, 1, 1)
#: ... to this one.
LAST_DAY: Final = dt.date(2029, 12, 31)

#: Below this horizontal intensity (nT) a compass says nothing: the model's blackout zones.
_BLACKOUT_NT = 2000.0
#: Heights the model is made for, metres.
_LOWEST_M, _HIGHEST_M = -1_000.0, 850_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Declination:
    """How far magnetic north stands from true north at one place on one day."""

    #: Degrees, east positive, in (-180, 180].
    declination_deg: float
    #: Its standard uncertainty, degrees; disturbances nearby are not in it.
    sigma_deg: float
    #: The day it is for.
    on: dt.date

    @classmethod
    def at(cls, longitude: float, latitude: float, *, on: dt.date) -> Declination:
        """Return the declination at a place on a day. One for a line of some miles is enough.

        On the ellipsoid: 1,000 m of height change it by thousandths of a degree. Longitude and latitude are
        WGS 84, degrees.

        Raises
        ------
        ValueError
            If the day or the place is outside the model, or a compass says nothing there (horizontal
            intensity below 2,000 nT, near the magnetic poles).

        >>> round(Declination.at(-105.0, 39.7, on=dt.date(2026, 7, 2)).magnetic_azimuth_deg(100.0), 1)
        92.5
        """
        degrees, sigma, horizontal = magnetic_field(longitude, latitude, year=decimal_year(on))
        if horizontal < _BLACKOUT_NT:
            raise ValueError(
                f"a compass says nothing at latitude {latitude:g}, longitude {longitude:g}: the horizontal "
                f"field is {horizontal:.0f} nT; use grid or true bearings"
            )
        return cls(declination_deg=degrees, sigma_deg=sigma, on=on)

    def magnetic_azimuth_deg(self, true_azimuth_deg: float) -> float:
        """Return the magnetic azimuth of a true one, degrees in [0, 360): true minus declination.

        >>> Declination(declination_deg=7.5, sigma_deg=0.4, on=FIRST_DAY).magnetic_azimuth_deg(3.0)
        355.5
        """
        return wrap360(true_azimuth_deg - self.declination_deg)

    def magnetic_of_grid_deg(self, grid_azimuth_deg: float, *, convergence_deg: float) -> float:
        """Return the magnetic azimuth of a grid one: grid plus convergence (= true) minus declination.

        >>> Declination(declination_deg=7.5, sigma_deg=0.4, on=FIRST_DAY).magnetic_of_grid_deg(
        ...     62.0, convergence_deg=0.8)
        55.3
        """
        return self.magnetic_azimuth_deg(grid_azimuth_deg + convergence_deg)

    def __str__(self) -> str:
        """Print the declination with its side, uncertainty, model and day.

        >>> str(Declination(declination_deg=-13.69, sigma_deg=0.37, on=dt.date(2028, 7, 4)))
        'declination 13.7° W ± 0.4° (WMM2025, 2028-07-04)'
        """
        size = f"{abs(self.declination_deg):.1f}°"
        side = "" if float(size[:-1]) == 0.0 else " E" if self.declination_deg > 0.0 else " W"
        return f"declination {size}{side} ± {self.sigma_deg:.1f}° (WMM2025, {self.on.isoformat()})"


def decimal_year(on: dt.date) -> float:
    """Return a day of the model's years as a decimal year; 1 January is the whole year.

    Raises
    ------
    ValueError
        If the model does not hold on that day.

    >>> decimal_year(dt.date(2026, 1, 1)), round(decimal_year(dt.date(2028, 7, 1)), 4)
    (2026.0, 2028.4973)
    """
    if not FIRST_DAY <= on <= LAST_DAY:
        raise ValueError(
            f"{on.isoformat()} is outside the World Magnetic Model 2025 ({FIRST_DAY.isoformat()} to "
            f"{LAST_DAY.isoformat()}); give a day within it, or use grid or true bearings"
        )
    days = (dt.date(on.year + 1, 1, 1) - dt.date(on.year, 1, 1)).days
    return on.year + (on.timetuple().tm_yday - 1) / days


def magnetic_field(
    longitude: float, latitude: float, *, year: float, height_m: float = 0.0
) -> tuple[float, float, float]:
    """Return declination (degrees, east positive), its standard uncertainty and the horizontal intensity, nT.

    Places are WGS 84, degrees, with the height above the ellipsoid; years are decimal, from 2025.0 to 2030.0.
    ValueError if one of them is outside the model. The uncertainty is sqrt(0.26² + (5417 / H)²) degrees with
    H the horizontal intensity in nT: the error model of the WMM2025 technical report.

    >>> tuple(round(value, 2) for value in magnetic_field(-71.35, 42.283, year=2028.5, height_m=1000.0)[:2])
    (-13.69, 0.37)
    """
    _refuse_outside(longitude, latitude, year, height_m)
    result = GeoMag(coefficients_data=WMM_2025).calculate(
        glat=latitude, glon=wrap180(longitude), alt=height_m / 1000.0, time=year
    )
    return wrap180(float(result.d)), float(result.calculate_uncertainty().d), float(result.h)


def format_magnetic(azimuth_deg: float, declination: Declination) -> str:
    """Print a magnetic azimuth, to 0.1 degree with uncertainty, model and day; 360.0 is printed as 0.0.

    >>> format_magnetic(359.97, Declination(declination_deg=7.5, sigma_deg=0.37, on=dt.date(2026, 7, 2)))
    '0.0° ± 0.4° magnetic (WMM2025, 2026-07-02)'
    """
    tenths = round(wrap360(azimuth_deg), 1) % 360.0
    return f"{tenths:.1f}° ± {declination.sigma_deg:.1f}° magnetic (WMM2025, {declination.on.isoformat()})"


def _refuse_outside(longitude: float, latitude: float, year: float, height_m: float) -> None:
    if not 2025.0 <= year <= 2030.0:
        raise ValueError(f"year {year} is outside the World Magnetic Model 2025; give 2025.0 to 2030.0")
    if not (math.isfinite(longitude) and abs(longitude) <= 360.0 and abs(latitude) <= 90.0):
        raise ValueError(
            f"longitude {longitude}, latitude {latitude} is no place; give degrees, latitude -90 to 90"
        )
    if not _LOWEST_M <= height_m <= _HIGHEST_M:
        raise ValueError(f"height {height_m} m is outside -1 to 850 km; give metres above the ellipsoid")
