"""The invented centreline: tangents, deflections, station equations, ground, and points along it.

Everything is fictitious. The projection is real (EPSG:6515, international feet) only so that the line
draws somewhere plausible. Lengths along the line are ground feet; coordinates are grid feet;
grid = ground x `COMBINED_FACTOR`. Azimuths are clockwise from grid north; deflections right positive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = [
    "AHEAD_END",
    "BACK_END",
    "COMBINED_FACTOR",
    "CRS",
    "EQUATIONS",
    "LINE",
    "Route",
    "Tangent",
    "cross_slope",
    "format_deflection",
    "format_station",
    "ground_elevation",
    "station_at",
]

LINE = "Brindle Gap - Amber Sill 115 kV"
BACK_END = "Brindle Gap"
AHEAD_END = "Amber Sill"
CRS = "EPSG:6515"
COMBINED_FACTOR = 0.999217

#: Station equations as (true ground distance, ahead station minus back station).
EQUATIONS = ((47000.00, 384.50), (95000.00, -60.75))

_START_NORTHING = 900000.00
_START_EASTING = 2250000.00
_START_AZIMUTH = 62 + 14 / 60 + 20 / 3600
_TANGENT_LENGTHS = (11840.0, 14210.0, 9655.5, 16320.0, 12480.25, 8930.0, 17745.0, 13205.75, 10110.0, 3240.0)
_DEFLECTIONS_DMS = (
    (1, 3, 12, 40),
    (-1, 18, 45, 10),
    (1, 41, 30, 0),
    (-1, 1, 5, 20),
    (-1, 62, 10, 30),
    (1, 7, 48, 15),
    (1, 27, 22, 50),
    (-1, 12, 0, 0),
    (-1, 34, 55, 5),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tangent:
    """One straight piece of the centreline."""

    #: Grid northing and easting of its back end.
    northing: float
    easting: float
    #: Grid azimuth looking ahead, degrees.
    azimuth: float
    #: Ground distance from the start of the line to its back end.
    start: float
    #: Ground length.
    length: float
    #: Deflection at its back end, degrees, right positive; 0 at the start of the line.
    deflection: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """The whole centreline."""

    tangents: tuple[Tangent, ...]

    @classmethod
    def demo(cls) -> Route:
        """Build the ten tangents from lengths and deflections.

        >>> round(Route.demo().length, 2)
        117736.5
        """
        deflections = [0.0] + [s * (d + m / 60 + sec / 3600) for s, d, m, sec in _DEFLECTIONS_DMS]
        northing, easting, azimuth, start = _START_NORTHING, _START_EASTING, _START_AZIMUTH, 0.0
        tangents = []
        for length, turn in zip(_TANGENT_LENGTHS, deflections, strict=True):
            azimuth += turn
            tangents.append(
                Tangent(
                    northing=northing,
                    easting=easting,
                    azimuth=azimuth % 360.0,
                    start=start,
                    length=length,
                    deflection=turn,
                )
            )
            northing += length * COMBINED_FACTOR * math.cos(math.radians(azimuth))
            easting += length * COMBINED_FACTOR * math.sin(math.radians(azimuth))
            start += length
        return cls(tangents=tuple(tangents))

    @property
    def length(self) -> float:
        """Ground length of the line."""
        return self.tangents[-1].start + self.tangents[-1].length

    def tangent_at(self, distance: float) -> Tangent:
        """Return the tangent a distance lies on; at a point of intersection, the one ahead."""
        reached = [tangent for tangent in self.tangents if tangent.start <= distance + 1e-6]
        return reached[-1] if reached else self.tangents[0]

    def deflection_at(self, distance: float) -> float:
        """Return the deflection of the point of intersection at a distance, or 0 where there is none."""
        return next((t.deflection for t in self.tangents if abs(t.start - distance) < 0.005), 0.0)

    def structure_azimuth(self, distance: float) -> float:
        """Return the azimuth a structure faces ahead: the bisector at an angle, else the tangent's."""
        return (self.tangent_at(distance).azimuth - self.deflection_at(distance) / 2) % 360.0

    def point(self, distance: float, right: float = 0.0, ahead: float = 0.0) -> tuple[float, float]:
        """Return grid northing and easting at ground offsets from the line, in the structure's frame.

        >>> [round(value, 3) for value in Route.demo().point(1073.0)]
        [900499.397, 2250948.751]
        """
        tangent = self.tangent_at(distance)
        along = (distance - tangent.start) * COMBINED_FACTOR
        azimuth = math.radians(tangent.azimuth)
        northing = tangent.northing + along * math.cos(azimuth)
        easting = tangent.easting + along * math.sin(azimuth)
        facing = math.radians(self.structure_azimuth(distance))
        right, ahead = right * COMBINED_FACTOR, ahead * COMBINED_FACTOR
        return (
            northing + ahead * math.cos(facing) - right * math.sin(facing),
            easting + ahead * math.sin(facing) + right * math.cos(facing),
        )


def station_at(distance: float) -> tuple[float, int]:
    """Return the displayed station and its region for a true ground distance.

    >>> station_at(94968.0), station_at(95028.75)
    ((95352.5, 2), (95352.5, 3))
    """
    passed = [jump for true, jump in EQUATIONS if distance >= true]
    return distance + sum(passed), 1 + len(passed)


def format_station(value: float) -> str:
    """Write a station in hundreds of feet.

    >>> format_station(11840.0)
    '118+40.00'
    """
    hundredths = round(value * 100)
    return f"{hundredths // 10000}+{hundredths % 10000 / 100:05.2f}"


def format_deflection(deflection: float, *, style: str = "{d}°{m:02d}'{s:02d}\" {side}") -> str:
    """Write a deflection in degrees, minutes, seconds and a side; "" for none.

    >>> format_deflection(-18.752778, style="{d}-{m:02d}-{s:02d} {side}")
    '18-45-10 L'
    """
    if not deflection:
        return ""
    total = round(abs(deflection) * 3600)
    side = "R" if deflection > 0 else "L"
    return style.format(d=total // 3600, m=total % 3600 // 60, s=total % 60, side=side)


def ground_elevation(distance: float) -> float:
    """Return the invented ground elevation on the centreline, feet."""
    hills = 95 * math.sin(2 * math.pi * distance / 31000) + 38 * math.sin(2 * math.pi * distance / 8700 + 0.7)
    return 4010 + hills - 120 * math.exp(-(((distance - 58300) / 900) ** 2))


def cross_slope(distance: float) -> float:
    """Return the rise of the ground per foot to the right, looking ahead."""
    if 27800 <= distance <= 33200:
        return 0.36 * math.sin(math.pi * (distance - 27800) / 5400)
    return 0.02 + 0.07 * math.sin(2 * math.pi * distance / 12700)
