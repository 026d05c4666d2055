"""What lies within the radius of a hold: structures by their poles, spans by the line between centres."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date

import numpy as np
import shapely

from linemap.domain.crew.hold import Hold
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import FloatArray
from linemap.domain.design.surroundings import ContextFeature
from linemap.geometry.projection import Projection


def within_radius(figures: Figures, hold: Hold) -> Hold:
    """Return a hold with the structures and spans that its radius reaches, as the lists place them now.

    Distances are horizontal on the ground, from the hold's place, or from the centre of each structure it
    names: to the nearest pole of a structure, to the nearest point between the centres of a span.
    """
    if hold.radius is None:
        return hold
    mine = [row for row in range(len(figures)) if hold.line in ("", figures.line_of(row).name)]
    centres = [*_centres(figures, hold, mine)]
    if not (mine and centres):
        return replace(hold, radius_text=_text(figures, hold))
    places = shapely.multipoints(centres)
    structures = [row for row in mine if _apart(figures, row, _poles(figures, row), places) <= hold.radius]
    spans = [
        (row, ahead)
        for row in mine
        if (ahead := figures.neighbour(row, 1)) is not None
        and _apart(figures, row, _between(figures, row, ahead), places) <= hold.radius
    ]
    return replace(
        hold,
        within=tuple(figures.key(row)[1] for row in structures),
        spans=tuple((figures.key(back)[1], figures.key(ahead)[1]) for back, ahead in spans),
        radius_text=_text(figures, hold),
    )


def buffers_of(
    figures: Figures, holds: Iterable[Hold], projection: Projection, *, on: date
) -> Iterator[ContextFeature]:
    """Give how far the holds reach that are not over on a day, where their place may be told."""
    for hold in holds:
        if hold.radius_text and hold.standing(on) != "over":
            shape = _shape(figures, hold, projection)
            if shape is not None:
                name = f"{hold.id}: {hold.radius_text}"
                yield ContextFeature(
                    layer="hold buffer", name=name, restricted=hold.restricted, geometry=shape
                )


def _shape(figures: Figures, hold: Hold, projection: Projection) -> shapely.Geometry | None:
    """Return the area within the radius of a hold, WGS 84 longitude and latitude; None = it has no place."""
    mine = [row for row in range(len(figures)) if hold.line in ("", figures.line_of(row).name)]
    centres = [*_centres(figures, hold, mine)]
    if not (mine and centres and hold.radius):
        return None
    reach = hold.radius * float(np.mean(figures.combined_factor[mine]))
    around = shapely.union_all([shapely.buffer(shapely.Point(each), reach, quad_segs=16) for each in centres])

    def moved(xy: FloatArray) -> FloatArray:
        return np.column_stack(projection.to_lonlat(xy[:, 0], xy[:, 1]))

    return shapely.transform(around, moved)


def _text(figures: Figures, hold: Hold) -> str:
    unit = figures.lines[0].unit.symbol if figures.lines else ""
    return f"{hold.radius:,g} {unit}".strip()


def _centres(figures: Figures, hold: Hold, rows: list[int]) -> Iterator[tuple[float, float]]:
    if hold.easting is not None and hold.northing is not None:
        yield hold.easting, hold.northing
        return
    named = {*hold.structures}
    for row in rows:
        if figures.key(row)[1] in named:
            east, north = figures.centre_of(row)
            yield float(east), float(north)


def _poles(figures: Figures, row: int) -> shapely.Geometry:
    poles = figures.poles[row, : len(figures.letters_of(row))]
    known = poles[np.isfinite(poles).all(axis=1)]
    return shapely.MultiPoint([figures.centre_of(row), *known.tolist()])


def _between(figures: Figures, row: int, ahead: int) -> shapely.LineString:
    return shapely.LineString([figures.centre_of(row), figures.centre_of(ahead)])


def _apart(figures: Figures, row: int, shape: shapely.Geometry, places: shapely.Geometry) -> float:
    return float(shapely.distance(shape, places)) / float(figures.combined_factor[row])
