"""Coordinate references that coordinates may be in instead of the one they were taken for.

Candidates are the projected references used around the job. A step between datums is taken by PROJ's true
operation, or through WGS 84 by those registered both ways, with their accuracy said; never by a ballpark one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from pyproj import Proj
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info
from pyproj.enums import PJType
from pyproj.exceptions import CRSError, ProjError

from linemap.errors import InputRefused
from linemap.geometry.crs import Bounds, FloatArray
from linemap.geometry.projection import Projection, other_crs_to

#: Degrees around the job in which other zones are looked for: one zone of UTM.
_AROUND = 6.0
#: A datum moves coordinates by less than this, degrees (about 1 km).
_DATUM_DEG = 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TakenFrom:
    """Points taken from another reference into that of the job."""

    #: "EPSG:6341" and its registered name.
    code: str
    name: str
    #: (n, 2) grid easting and northing in the job's reference; nan where there is no answer.
    at: FloatArray
    #: How good the step between the datums is, metres; 0 within one datum.
    accuracy_m: float
    #: True where a true operation leads to the job's reference, so that a correction can be made of it.
    is_true: bool


def near_a_place(projection: Projection, point: FloatArray, place: FloatArray, within_m: float) -> list[str]:
    """Return codes of the references in which a point, (2,), lies near a place of the job, grid.

    Those of the job's own datum go first. Datums are not told apart here (`taken_from` does).
    """
    (lon, lat), grid = projection.to_geodetic(*place), tuple(np.round(point, 0).tolist())
    if not (np.isfinite(lon) and np.isfinite(lat) and np.isfinite(point).all()):
        return []
    reach = within_m / 111_000.0 + _DATUM_DEG
    return [
        code
        for code, east, north in _inverse_of(projection, (float(grid[0]), float(grid[1])))
        if abs(north - lat) <= reach and abs(east - lon) <= reach / max(math.cos(math.radians(lat)), 0.05)
    ]


def in_the_area(projection: Projection, point: FloatArray) -> list[str]:
    """Return codes of the references in which a point, (2,), lies where the job's own is used."""
    if projection.bounds is None or not np.isfinite(point).all():
        return []
    east, north = (float(value) for value in np.round(point, 0))
    return [
        code for code, lon, lat in _inverse_of(projection, (east, north)) if projection.made_for(lon, lat)
    ]


@lru_cache(maxsize=64)
def _inverse_of(projection: Projection, point: tuple[float, float]) -> list[tuple[str, float, float]]:
    """Return longitude and latitude of a point in every reference used around the job, on its own datum."""
    found = []
    for code, _ in around(projection):
        try:
            lon, lat = Proj(code)(*point, inverse=True)
        except (CRSError, ProjError):
            continue
        if math.isfinite(lon) and math.isfinite(lat):
            found.append((code, lon, lat))
    return found


def taken_from(projection: Projection, code: str, points: FloatArray) -> TakenFrom | None:
    """Return (n, 2) points taken from a reference into the job's; None = no way but a ballpark one."""
    try:
        other = Projection.from_text(code)
    except InputRefused:
        return None
    own, its = projection.crs.geodetic_crs, other.crs.geodetic_crs
    if own is not None and its is not None and own.name == its.name:
        at = projection.from_geodetic(*other.to_geodetic(points[:, 0], points[:, 1]))
        return TakenFrom(code=code, name=other.name, at=np.column_stack(at), accuracy_m=0.0, is_true=True)
    steps = (projection.to_wgs84.accuracy_m, other.to_wgs84.accuracy_m)
    accuracy = math.inf if None in steps else math.hypot(*(step or 0.0 for step in steps))
    try:
        at, is_true = other_crs_to(projection, code, points[:, 0], points[:, 1]), True
    except InputRefused:
        at, is_true = projection.from_lonlat(*other.to_lonlat(points[:, 0], points[:, 1])), False
    return TakenFrom(code=code, name=other.name, at=np.column_stack(at), accuracy_m=accuracy, is_true=is_true)


def around(projection: Projection) -> tuple[tuple[str, str], ...]:
    """Return code and name of the projected references used around the job, those of its datum first."""
    if projection.bounds is None:
        return ()
    datum = projection.crs.geodetic_crs
    return _around(projection.bounds, datum.name if datum else "", projection.name)


@lru_cache(maxsize=8)
def _around(bounds: Bounds, datum: str, own: str) -> tuple[tuple[str, str], ...]:
    west, south, east, north = bounds
    area = AreaOfInterest(
        west - _AROUND, max(-90.0, south - _AROUND), east + _AROUND, min(90.0, north + _AROUND)
    )
    found = query_crs_info("EPSG", pj_types=PJType.PROJECTED_CRS, area_of_interest=area)
    ranked = sorted(found, key=lambda each: (not each.name.startswith(f"{datum} /"), int(each.code)))
    return tuple((f"EPSG:{each.code}", each.name) for each in ranked if each.name != own)


#: A datum explains an offset of so many times what its step is unsure by, and no less.
TELLS = 5.0
#: Points tried; more of them tell nothing else.
_TRIED = 20


def best_reference(
    projection: Projection, points: FloatArray, places: FloatArray, *, within_m: float
) -> TakenFrom | None:
    """Return the reference that brings (n, 2) points nearest to their places; None = none within the limit.

    What remains is the median distance; how good the step between the datums is counts as remaining too, so
    that of references which agree the one of the job's own datum is named.

    >>> montana, utm = Projection.from_text("EPSG:6515"), Projection.from_text("EPSG:6341")
    >>> place = np.array([[2_250_000.0, 900_000.0]])
    >>> in_utm = np.column_stack(utm.from_geodetic(*montana.to_geodetic(place[:, 0], place[:, 1])))
    >>> best_reference(montana, in_utm, place, within_m=100.0).name
    'NAD83(2011) / UTM zone 12N'
    """
    chosen = np.linspace(0, len(points) - 1, min(len(points), _TRIED)).astype(int)
    some, there = (np.ascontiguousarray(each[chosen], dtype=np.float64) for each in (points, places))
    code = _best_code(projection, some.tobytes(), there.tobytes(), within_m)
    return taken_from(projection, code, points) if code else None


@lru_cache(maxsize=64)
def _best_code(projection: Projection, points: bytes, places: bytes, within_m: float) -> str:
    at, there = (np.frombuffer(each, dtype=np.float64).reshape(-1, 2) for each in (points, places))
    middle = len(at) // 2
    limit, off = within_m / projection.unit.metres, float(np.median(np.hypot(*(at - there).T)))
    best, least = "", math.inf
    for code in near_a_place(projection, at[middle], there[middle], within_m):
        taken = taken_from(projection, code, at)
        if taken is None or not np.isfinite(taken.at).all():
            continue
        left = float(np.median(np.hypot(*(taken.at - there).T)))
        tells = off > TELLS * taken.accuracy_m / projection.unit.metres
        if tells and left <= limit and left + taken.accuracy_m / projection.unit.metres < least:
            best, least = code, left + taken.accuracy_m / projection.unit.metres
    return best
