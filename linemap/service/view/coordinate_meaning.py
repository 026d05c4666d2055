"""What coordinates may mean otherwise than they were read, when they do not lie where they should.

Each meaning is tried on the points: columns exchanged, another foot, metres, ground lengths, a declared
reference that is not theirs, another zone. One that brings the points to the line is the likely reason, and
one reason stands for a whole list. Nothing is changed; a person says it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from linemap.domain.design.structure import FloatArray
from linemap.errors import InputRefused
from linemap.geometry.other_reference import TELLS, TakenFrom, in_the_area, taken_from
from linemap.geometry.projection import Projection
from linemap.io.cells.table import Loaded, RawTable
from linemap.units import LengthUnit

#: Points lie at the line when most do within this, metres, and within this share of how far they are off.
_HOME_M = 300.0
_SHARE = 0.1
#: No other datum is looked for where points lie within this, metres.
_SURE_M = 15.0
_MOST = 90
#: Points tried; more of them tell nothing else.
TRIED = 200
#: Name, grid easting and northing.
NamedPoint = tuple[str, float, float]
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
    #: How much of it the way there may be wrong, metres.
    unsure_m: float = 0.0
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

    def meaning(
        self,
        points: FloatArray,
        apart: Callable[[FloatArray], FloatArray],
        about: Sequence[NamedPoint] = (),
    ) -> Meaning | None:
        """Return the meaning that brings points to where they should lie; None = none does, or it was said.

        Parameters
        ----------
        points : (n, 2) ndarray
            Grid easting and northing as read.
        apart : callable
            Gives the distance of points, taken so, from where they should lie. It is asked of all of them
            where they are `TRIED` at most.
        about : sequence of (name, easting, northing)
            Known points that ground coordinates may be scaled about, besides the origin of the grid.
        """
        if self.table.crs_said or {"easting", "northing"} <= self.table.named.keys():
            return None
        some = points[np.linspace(0, len(points) - 1, min(len(points), TRIED)).astype(int)]
        off = float(np.median(apart(some)))
        home = min(_HOME_M / self.projection.unit.metres, _SHARE * off)
        simple = (*_exchanged(self, some), *_scaled(self, some), *_scaled_about(self, some, about))
        metres = self.projection.unit.metres
        for meanings in (simple, _own_reference(self, some), _zones(self, some, apart)):
            with np.errstate(invalid="ignore"):  # numbers like 1e300 lie infinitely far, whatever they mean
                fitting = [
                    replace(each, apart=float(np.median(away)))
                    for each in meanings
                    if off * metres > TELLS * each.unsure_m
                    and np.percentile(away := apart(each.points), _MOST) <= home
                ]
            if fitting:
                return min(fitting, key=lambda each: each.apart + each.unsure_m / metres)
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


def _scaled_about(place: PlacedFile, points: FloatArray, about: Sequence[NamedPoint]) -> Iterator[Meaning]:
    """Try ground coordinates scaled about a point that has a name, by the declared factor."""
    for name, *at in about if place.factor is not None else ():
        yield Meaning(
            words=f"ground coordinates, scaled about {name}",
            remedy=f"ask for grid coordinates: these times {place.factor:.8g} about {name}",
            points=np.array(at) + (points - np.array(at)) * place.factor,
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
    """Try the references used around the job; one of its own datum that fits well ends the search.

    A datum that no true operation leads from is tried through WGS 84 and said with what that is good for:
    PROJ's ballpark step, which moves nothing, is never taken.
    """
    projection = place.projection
    if place.table.crs or not len(points):
        return
    for code in in_the_area(projection, points[0]):
        taken = taken_from(projection, code, points)
        if taken is None or not np.isfinite(taken.at).all():
            continue
        left_m = float(np.median(apart(taken.at))) * projection.unit.metres
        if left_m <= _HOME_M:
            yield Meaning(
                words=_reference_words(taken),
                remedy=_reference_remedy(place, taken),
                points=taken.at,
                unsure_m=taken.accuracy_m,
            )
            if taken.accuracy_m == 0.0 and left_m <= _SURE_M:
                return


def _reference_words(taken: TakenFrom) -> str:
    known = f", by a step between the datums known here within {taken.accuracy_m:.0f} m"
    return f"in {taken.name} ({taken.code}){known if taken.accuracy_m > 0.0 else ''}"


def _reference_remedy(place: PlacedFile, taken: TakenFrom) -> str:
    if taken.is_true:
        return f"if so, say --crs-of-file {taken.code}"
    return f"if so, ask for an export in {place.projection.text}: PROJ's grid for the datum is not installed"
