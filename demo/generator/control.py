"""The control points of the line, and the check-ins on them: a file of its own for each day that has any.

Three days have two check-ins, one has one, and one has none: nothing but their own base holds its passes. The
check-in of the first day stands in its shot file, with easting and northing as that file has them; those of
the day of the US survey feet are in these too.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from route import Route, cross_slope, ground_elevation
from shots import SURVEY_FILES
from tables import Cell, write_csv

__all__ = ["write_control"]

_SEED = 2027
_SIGMA = 0.03
_CLIP = 1.5
_HEADER = (
    "Control Point",
    "Northing (ift)",
    "Easting (ift)",
    "Elevation (ift)",
    "Sigma (ift)",
    "Datum",
    "Source",
    "Description",
)
_DATUM = "NAD 83(2011) epoch 2010.00, NAVD 88"


@dataclass(frozen=True, slots=True)
class _Point:
    name: str
    #: True ground distance along the line and offset to the right of it, ground feet.
    true: float
    right: float
    description: str

    def place(self, route: Route) -> tuple[float, float, float]:
        """Northing, easting, elevation."""
        elevation = ground_elevation(self.true) + cross_slope(self.true) * self.right
        return *route.point(self.true, right=self.right), elevation


_POINTS = (
    _Point("CP-3", 0.0, -61.4, "5/8 in rebar with cap at the back end"),
    _Point("CP-4", 7410.0, 118.0, "5/8 in rebar with cap"),
    _Point("CP-5", 15220.0, -95.0, "5/8 in rebar with cap"),
    _Point("BM-12", 22300.0, 140.0, "brass disk in rock"),
    _Point("CP-6", 30150.0, -88.0, "5/8 in rebar with cap"),
    _Point("CP-7", 41980.0, 102.0, "5/8 in rebar with cap"),
    _Point("CP-8", 53900.0, -120.0, "5/8 in rebar with cap"),
)
#: Day -> the points shot, each as the crew wrote it.
_CHECK_INS = {
    "2026-04-09": (("CP-3", "CP-3 CHECK"), ("CP-5", "CHK CP 5")),
    "2026-04-16": (("CP-5", "CP5 CHECK"),),
    "2026-04-29": (("BM-12", "BM 12 CHECK"), ("CP-6", "CHK CP 6")),
    "2026-05-13": (("CP-7", "CHK CP-7"), ("CP-8", "CHK CP-8")),
}


def _noise(rng: random.Random, sigma: float) -> float:
    while True:
        value = rng.gauss(0.0, sigma)
        if abs(value) <= _CLIP * sigma:
            return value


def _shots(
    route: Route, named: tuple[tuple[str, str], ...], rng: random.Random, unit: float
) -> Iterator[tuple[Cell, ...]]:
    points = {point.name: point for point in _POINTS}
    for number, (name, written) in enumerate(named, start=1):
        place = [(value + _noise(rng, _SIGMA)) * unit for value in points[name].place(route)]
        yield (
            f"CHK{number}",
            *(f"{value:.3f}" for value in place),
            written,
            f"{math.sqrt(2.0) * _SIGMA * unit:.3f}",
        )


def write_control(folder: Path, route: Route) -> None:
    """Write control_points.csv, and check_ins_DATE.csv for each day with check-ins outside of its shots."""
    rows = (
        (
            point.name,
            *(f"{value:.3f}" for value in point.place(route)),
            "0.020",
            _DATUM,
            "static, adjusted",
            point.description,
        )
        for point in _POINTS
    )
    write_csv(folder / "control_points.csv", [_HEADER, *rows])
    rng, units = random.Random(_SEED), {file.date: file.unit for file in SURVEY_FILES}
    for date, named in _CHECK_INS.items():
        write_csv(folder / f"check_ins_{date}.csv", _shots(route, named, rng, units[date]))
