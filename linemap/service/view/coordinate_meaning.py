"""What coordinates may mean otherwise than they were read, when they do not lie where they should.

Each meaning is tried on the points: columns exchanged, another foot, metres, ground lengths, a declared
reference that is not theirs, another zone. One that brings the points to the line is the likely reason, and
one reason stands for a whole list. Nothing is changed; a person says it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np
from pyproj import Proj
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info
from pyproj.enums import PJType
from pyproj.exceptions import CRSError, ProjError

from linemap.domain.design.structure import FloatArray
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.cells.table import Loaded, RawTable
from linemap.units import LengthUnit

#: Points lie at the line when most do within this, metres, and within this share of how far they are off.
_HOME_M = 300.0
_SHARE = 0.1
_MOST = 90
#: Points tried; more of them tell nothing else.
_TRIED = 200
#: Degrees around the job in which other zones are looked for: one zone of UTM.
_AROUND = 6.0
_SIGNS = {LengthUnit.METRE: "m", LengthUnit.FOOT: "ift", LengthUnit.US_SURVEY_FOOT: "ftUS"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meaning:
    """How coordinates may be meant, and what to say then."""

    words: str
    remedy: str
    #: (n, 2) grid easting and northing, if they are.
    points: FloatArray
    #: Median distance then, grid.
    apart: float = 0.0
    #: True = it says that the coordinates are right as they stand.
    as_written: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedFile:
    """A file whose points are looked at, and what the job declares of coordinates."""

    loaded: Loaded[Any]
    table: RawTable
    projection: Projection
    #: Combined factor of the job, grid = ground x factor; None = not one for all.
    factor: float | None

    def meaning(self, points: FloatArray, apart: Callable[[FloatArray], FloatArray]) -> Meaning | None:
        """Return the meaning that brings points to where they should lie; None = none does, or it was said.

        Parameters
        ----------
        points : (n, 2) ndarray
            Grid easting and northing as read.
        apart : callable
            Gives the distance of points, taken so, from where they should lie.
        """
        if self.table.crs_said or {"easting", "northing"} <= self.table.named.keys():
            return None
        some = points[np.linspace(0, len(points) - 1, min(len(points), _TRIED)).astype(int)]
        off = float(np.median(apart(some)))
        home = min(_HOME_M / self.projection.unit.metres, _SHARE * off)
        simple = (*_exchanged(self, some), *_scaled(self, some))
        for meanings in (simple, _own_reference(self, some), _zones(self, some, apart)):
            with np.errstate(invalid="ignore"):  # numbers like 1e300 lie infinitely far, whatever they mean
                fitting = [
                    replace(each, apart=float(np.median(away)))
                    for each in meanings
                    if np.percentile(away := apart(each.points), _MOST) <= home
                ]
            if fitting:
                return min(fitting, key=lambda each: each.apart)
        return None


def _exchanged(place: PlacedFile, points: FloatArray) -> Iterator[Meaning]:
    mapping = place.loaded.mapping
    remedy = "export it again with easting and northing in their places"
    if {"easting", "northing"} <= mapping.keys():
        east, north = mapping["northing"].heading, mapping["easting"].heading
        remedy = f'if so, say --column "easting={_column(east)}" --column "northing={_column(north)}"'
    yield Meaning(words="northing and easting exchanged", remedy=remedy, points=points[:, ::-1])


def _column(heading: str) -> str:
    """Return how a column is named: by its heading, or by its number where it has none."""
    return heading.removeprefix("column ") if heading.removeprefix("column ").isdigit() else heading


def _scaled(place: PlacedFile, points: FloatArray) -> Iterator[Meaning]:
    """Try other units, and ground coordinates: scaled about the origin, as nobody says where else."""
    own, factor, mapping = place.projection.unit, place.factor, place.loaded.mapping
    read = {name: mapping[name].heading for name in ("easting", "northing") if name in mapping}
    scales = [(1.0, "")] if factor is None else [(1.0, ""), (factor, "ground coordinates, scaled")]
    for (scale, ground), unit in product(scales, LengthUnit):
        if scale == 1.0 and unit is own:
            continue
        in_unit = "" if unit is own else f"in the {unit.word}"
        said = [f'--column "{name}={_column(text)}[{_SIGNS[unit]}]"' for name, text in read.items()]
        remedy = f"if so, say {' '.join(said)}" if said else "export it again in the unit of the job"
        if ground:
            remedy = f"ask for grid coordinates: these times {scale:.8g}, the declared factor"
        yield Meaning(
            words=" ".join(filter(None, (ground, in_unit))),
            remedy=remedy,
            points=points * (scale * unit.metres / own.metres),
        )


def _own_reference(place: PlacedFile, points: FloatArray) -> Iterator[Meaning]:
    """Try the coordinates as they stand in a file whose declared reference is not theirs."""
    table, projection = place.table, place.projection
    if not table.crs or table.crs == projection.text:
        return
    try:
        declared = Projection.from_text(table.crs)
    except InputRefused:
        return  # longitude and latitude: what stands there is no grid
    raw = np.column_stack(declared.from_lonlat(*projection.to_lonlat(points[:, 0], points[:, 1])))
    yield Meaning(
        words=f"in the job's own reference, not in the {table.crs} the file declares",
        remedy="if so, say --crs-of-file job",
        points=raw,
        as_written=True,
    )


def _zones(
    place: PlacedFile, points: FloatArray, apart: Callable[[FloatArray], FloatArray]
) -> Iterator[Meaning]:
    """Try the zones around the job; those of its own datum go first, and of equal ones one is enough."""
    projection = place.projection
    if place.table.crs or projection.bounds is None:
        return
    west, south, east, north = projection.bounds
    datum = projection.crs.geodetic_crs
    for code, name in _neighbours(projection.bounds, datum.name if datum else "", projection.name):
        try:
            lon, lat = Proj(code)(points[:, 0], points[:, 1], inverse=True)
        except (CRSError, ProjError):
            continue
        if not (west <= lon[0] <= east and south <= lat[0] <= north):
            continue
        there = np.column_stack(projection.from_geodetic(lon, lat))
        if np.isfinite(there).all() and np.median(apart(there)) * projection.unit.metres <= _HOME_M:
            yield Meaning(
                words=f"in {name} ({code})", remedy=f"if so, say --crs-of-file {code}", points=there
            )
            return


@lru_cache(maxsize=8)
def _neighbours(bounds: tuple[float, float, float, float], datum: str, own: str) -> list[tuple[str, str]]:
    """Return code and name of the projected references used around an area, the own datum's first."""
    west, south, east, north = bounds
    area = AreaOfInterest(
        west - _AROUND, max(-90.0, south - _AROUND), east + _AROUND, min(90.0, north + _AROUND)
    )
    found = query_crs_info("EPSG", pj_types=PJType.PROJECTED_CRS, area_of_interest=area)
    ranked = sorted(found, key=lambda each: (not each.name.startswith(f"{datum} /"), int(each.code)))
    return [(f"EPSG:{each.code}", each.name) for each in ranked if each.name != own]
