"""Reading a coordinate reference, one true operation between two, and shortest lines on its ellipsoid.

PROJ is asked with longitude or easting always first, and never for a "ballpark" operation, which changes
the name of the datum without moving a coordinate.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS, Geod, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_crs_info
from pyproj.enums import PJType, TransformDirection
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup

from linemap.errors import InputRefused, Problem
from linemap.geometry.bearing import wrap360
from linemap.units import LengthUnit

FloatArray = NDArray[np.float64]
#: West, south, east, north, degrees.
Bounds = tuple[float, float, float, float]

_WGS84 = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """A way from one coordinate reference to another, and how good it is."""

    #: PROJ's name of the operation, with the datum steps it takes.
    name: str
    #: Its accuracy in metres as registered; None when unknown. A conversion within one datum has 0.
    accuracy_m: float | None
    #: Name of a better operation that needs a grid file which is not installed, or "".
    better: str
    _transformer: Transformer = field(repr=False, compare=False)

    @classmethod
    def between(cls, source: CRS, target: CRS, *, bounds: Bounds | None, asked: Problem) -> Self:
        """Choose one operation for a whole job, so that neighbouring points never take different ones.

        Parameters
        ----------
        source, target : CRS
        bounds : tuple of float, optional
            The area that matters.
        asked : Problem
            Where the reference came from, for a refusal.

        Raises
        ------
        InputRefused
            If only a ballpark operation is installed; the remedy names the missing one.

        >>> montana, wgs84 = read_crs("EPSG:6515", column="crs"), read_crs("EPSG:4326", column="crs")
        >>> Operation.between(montana, wgs84, bounds=None, asked=Problem(file="", reason="")).accuracy_m
        2.0
        """
        area = AreaOfInterest(*bounds) if bounds else None
        with warnings.catch_warnings():  # a missing grid is told through `better`
            warnings.simplefilter("ignore", UserWarning)
            try:
                group = TransformerGroup(source, target, True, area, allow_ballpark=False)  # type: ignore[arg-type] # the stub names a private twin
            except (ProjError, IndexError) as error:  # a reference that PROJ takes and cannot work with
                reason = f"is a coordinate reference PROJ cannot work with: {error}"
                raise InputRefused.at(
                    asked.column, asked.value, reason, "correct it, or give another"
                ) from None
        missing = [operation.name for operation in group.unavailable_operations]
        if not group.transformers:
            reason = f"has no true operation to {target.name} here, only a ballpark one that moves nothing"
            remedy = "give the coordinates in another CRS" + (
                f", or install the grid of {missing[0]}" if missing else ""
            )
            raise InputRefused.at(asked.column, asked.value, reason, remedy)
        chosen = group.transformers[0]
        better = missing[0] if missing and not group.best_available else ""
        accuracy = chosen.accuracy if chosen.accuracy >= 0.0 else None
        return cls(name=chosen.description, accuracy_m=accuracy, better=better, _transformer=chosen)

    def forward(self, x: ArrayLike, y: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Transform source coordinates (easting or longitude first) to target ones; nan where impossible."""
        return self._transform(x, y, TransformDirection.FORWARD)

    def backward(self, x: ArrayLike, y: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Transform target coordinates to source ones; nan where impossible."""
        return self._transform(x, y, TransformDirection.INVERSE)

    def _transform(
        self, x: ArrayLike, y: ArrayLike, direction: TransformDirection
    ) -> tuple[FloatArray, FloatArray]:
        first, second = np.broadcast_arrays(np.asarray(x, np.float64), np.asarray(y, np.float64))
        seen = self._transformer.transform(first.ravel(), second.ravel(), direction=direction)
        return finite(seen[0], first.shape), finite(seen[1], first.shape)


def finite(values: ArrayLike, shape: tuple[int, ...]) -> FloatArray:
    """Return `values` in `shape`, with nan in place of the inf by which PROJ marks what it cannot compute.

    >>> finite([1.0, float("inf")], (2,)).tolist()
    [1.0, nan]
    """
    found = np.asarray(values, dtype=np.float64)
    return np.where(np.isfinite(found), found, np.nan).reshape(shape)


def read_crs(text: str, *, column: str) -> CRS:
    """Read a coordinate reference: EPSG code, WKT or PROJ text. Of a compound one, the horizontal part.

    Raises
    ------
    InputRefused
        If PROJ does not know it; the problem is put at `column`.

    >>> read_crs("EPSG:6515+5703", column="--crs").name
    'NAD83(2011) / Montana (ft)'
    """
    try:
        crs = CRS.from_user_input(text)
    except CRSError:
        reason, remedy = "is no coordinate reference PROJ knows", "give a code such as EPSG:6515"
        raise InputRefused.at(column, text, reason, remedy) from None
    return crs.sub_crs_list[0] if crs.is_compound else crs


def projected_unit(crs: CRS, *, column: str, text: str) -> LengthUnit:
    """Return the unit of a projected reference whose axes run east and north.

    Raises
    ------
    InputRefused
        If it is not projected, runs otherwise, or is not in metres or feet.

    >>> projected_unit(read_crs("EPSG:2277", column="--crs"), column="--crs", text="EPSG:2277").word
    'US survey foot'
    """
    if not crs.is_projected:
        kind = "geographic" if crs.is_geographic else f"a {crs.type_name.removesuffix(' CRS').lower()} CRS"
        remedy = "give the projected CRS of the survey, for example EPSG:6515"
        raise InputRefused.at(column, text, f"is {kind}: stationing needs a projected CRS", remedy)
    directions = [axis.direction for axis in crs.axis_info[:2]]
    if sorted(directions) != ["east", "north"]:
        reason = f"has axes running {' and '.join(directions)}: stationing needs east and north"
        raise InputRefused.at(column, text, reason, "give a CRS with easting and northing")
    try:
        return LengthUnit.from_metres(crs.axis_info[0].unit_conversion_factor)
    except ValueError:
        reason = f"is in {crs.axis_info[0].unit_name}: lengths are kept in metres or feet only"
        raise InputRefused.at(column, text, reason, "give a CRS in metres, feet or US survey feet") from None


def geodesic(
    lon1: ArrayLike, lat1: ArrayLike, lon2: ArrayLike, lat2: ArrayLike, *, geod: Geod | None = None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return length (metres) and both end azimuths of the shortest line between points, degrees.

    Parameters
    ----------
    lon1, lat1, lon2, lat2 : array_like
        Degrees.
    geod : Geod, optional
        The ellipsoid; WGS 84 when it is not given.

    Returns
    -------
    length_m, azimuth_forward_deg, azimuth_back_deg : ndarray
        Azimuths from true north in [0, 360): at the first point towards the second, and at the second
        towards the first. Where points coincide the length is 0 and the azimuths are nan.

    Notes
    -----
    Karney, J. Geod. 87 (2013) 43-55, as built into PROJ.

    >>> [round(float(value), 4) for value in geodesic(0.0, 40.0, 137.84490004377, 41.79331020506)]
    [10000000.0, 30.0, 329.0902]
    """
    points = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in (lon1, lat1, lon2, lat2)))
    lon_from, lat_from, lon_to, lat_to = (column.ravel() for column in points)
    seen = (geod or _WGS84).inv(lon_from, lat_from, lon_to, lat_to)
    forward, back, length = (finite(values, points[0].shape) for values in seen)
    apart = length > 0.0  # where points coincide PROJ says 180
    return length, wrap360(np.where(apart, forward, np.nan)), wrap360(np.where(apart, back, np.nan))


@lru_cache(maxsize=64)
def zone_at(longitude: float, latitude: float) -> str:
    """Return the time zone at a place, WGS 84 degrees, by its IANA name; "" without a place.

    Its borders are simplified: within some hundred metres of one the neighbour's may be returned.

    >>> zone_at(-108.2, 46.8)
    'America/Denver'
    """
    if not np.isfinite(longitude + latitude):
        return ""
    from tzfpy import get_tz  # reads its borders as it comes in: only jobs that are asked for a day need them

    return str(get_tz(longitude, latitude))


@lru_cache(maxsize=1)
def _projected_references() -> list[tuple[str, str]]:
    known = query_crs_info(auth_name="EPSG", pj_types=PJType.PROJECTED_CRS)
    return [(f"EPSG:{each.code}", each.name) for each in known if not each.deprecated]


def find_references(words: str, *, most: int = 12) -> list[tuple[str, str]]:
    """Return code and name, with its unit, of projected references that hold all the words, shortest first.

    >>> find_references("montana nad83(2011) ft")[0]
    ('EPSG:6515', 'NAD83(2011) / Montana (ft), foot')
    """
    asked = words.casefold().split()
    found = [
        (crs, name)
        for crs, name in _projected_references()
        if asked and all(word in f"{crs} {name}".casefold() for word in asked)
    ]
    found.sort(key=lambda each: (len(each[1]), each[0]))
    return [(crs, f"{name}, {CRS.from_user_input(crs).axis_info[0].unit_name}") for crs, name in found[:most]]
