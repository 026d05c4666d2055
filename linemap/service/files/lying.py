"""Where the points of files lie that were brought for a job to be made: drawn, and in words.

Until a coordinate reference is chosen the coordinates stay as they are written, longitude and latitude apart
from eastings and northings.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import shorten
from typing import Any, Final

import numpy as np

from linemap.answers.office import DrawnFile, Spot
from linemap.domain.design.structure import FloatArray, Structures
from linemap.domain.survey.shot import Shot
from linemap.geometry.projection import Projection, combined_factor, elevation_factor
from linemap.io.cells.meaning import parse_heading
from linemap.io.cells.table import JOB
from linemap.io.design.pi_list import PiList
from linemap.service.files.reading import FileRead
from linemap.service.view.evidence import points_of
from linemap.units import LengthUnit

#: What files are read in while no reference is chosen; its foot is that of headings that say none.
AS_WRITTEN: Final = "+proj=merc +datum=WGS84 +units=ft +type=crs"
#: Stands for the unit of longitude and latitude.
_DEGREES: Final = "deg"
#: Radius of a sphere on which degrees are good enough to be drawn, metres.
_SPHERE_M: Final = 6_371_000.0
#: Places of one file that are drawn at most.
_MOST: Final = 2000
#: Letters of a long name that are shown.
_SHOWN: Final = 90


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lying:
    """The points of one file."""

    name: str
    labels: Sequence[str]
    #: Easting and northing, or longitude and latitude, (n, 2), n > 0.
    points: FloatArray
    #: How many points each line of it runs through, one after the other; () = they are no lines.
    lines: Sequence[int]
    #: The elevations that are known, in the unit of the points.
    heights: FloatArray
    #: Sign of the unit that `points` are in: "m", "ft", "ftUS", "deg"; "" = the file does not say it.
    unit: str


def lying_of(file: FileRead, projection: Projection, *, chosen: bool, joined: bool) -> Lying | None:
    """Return where the points of a file lie; None = it was refused or has none.

    Parameters
    ----------
    file : FileRead
    projection : Projection
        That it was read in: the `chosen` one, or one that stands for it and says nothing.
    joined : bool
        Whether it is known to be a line if it was read as one.
    """
    if file.loaded is None or file.table is None:
        return None
    value = file.loaded.value
    found = points_of(value, projection)
    if found is None or not len(found):
        return None
    unit = projection.unit.value
    if not chosen:
        found, unit = _written(file, found, projection)
    lines: Sequence[int] = ()
    if joined and isinstance(value, PiList):
        lines = [len(line.easting) for line in value.centrelines.values()]
    labels, heights = _labels(value, len(found)), _heights(value)
    return Lying(name=file.name, labels=labels, points=found, lines=lines, heights=heights, unit=unit)


def _written(file: FileRead, points: FloatArray, projection: Projection) -> tuple[FloatArray, str]:
    """Return points as the file writes them, with the sign of their unit."""
    if file.table is None or file.loaded is None:
        return points, ""
    read = file.loaded.mapping
    own = file.table.crs_said != JOB and file.table.crs
    if own or ("longitude" in read and "easting" not in read):
        return np.column_stack(projection.to_lonlat(*points.T)), _DEGREES
    if "easting" not in read or not parse_heading(read["easting"].heading).unit:
        return points, ""
    unit = next(each for each in LengthUnit if each.word == read["easting"].unit)
    return points * (projection.unit.metres / unit.metres), unit.value


def _labels(value: Any, count: int) -> list[str]:
    if isinstance(value, Structures):
        return [*map(str, value.number)]
    if isinstance(value, PiList):
        return [line.name(at) for line in value.centrelines.values() for at in range(len(line.easting))]
    if isinstance(value[0], Shot):
        return [shot.description or shot.point for shot in value]
    return [""] * count


def _heights(value: Any) -> FloatArray:
    heights: Any = ()
    if isinstance(value, Structures):
        heights = value.elevation
    elif not isinstance(value, PiList) and isinstance(value[0], Shot):
        heights = [shot.elevation for shot in value]
    found = np.asarray(heights, dtype=np.float64)
    return found[np.isfinite(found)]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """What of files is drawn together, in one unit, north up."""

    files: Sequence[DrawnFile]
    #: Sign of the unit, "" = not said.
    unit: str


def drawing_of(lying: Sequence[Lying]) -> Drawing:
    """Draw files together: in the chosen reference, or as they are written.

    Files in longitude and latitude are drawn among grid coordinates as soon as a reference is chosen; before,
    they are told in words, and drawn in metres where there is nothing else.
    """
    grid = [each for each in lying if each.unit != _DEGREES]
    if not grid and lying:
        middle = np.median(np.concatenate([each.points for each in lying]), axis=0)
        scale = np.radians(1.0) * _SPHERE_M * np.array([np.cos(np.radians(middle[1])), 1.0])
        files = [_drawn(each, (each.points - middle) * scale, _extent(each)) for each in lying]
        return Drawing(files=files, unit=LengthUnit.METRE.value)
    apart = dict(_apart(grid))
    said = {each.unit for each in grid}
    return Drawing(
        files=[
            _drawn(each, each.points, _extent(each) + apart.get(each.name, ""))
            if each.unit != _DEGREES
            else DrawnFile(name=each.name, lines=[], places=[], words=_beside(each))
            for each in lying
        ],
        unit=said.pop() if len(said) == 1 else "",
    )


def _drawn(lying: Lying, points: FloatArray, words: str) -> DrawnFile:
    spots: list[Spot] = [(float(x), float(y)) for x, y in points.round(6)]
    step = -(-len(spots) // _MOST)
    ends = np.cumsum(lying.lines, dtype=np.int64).tolist()
    lines = [spots[end - size : end] for end, size in zip(ends, lying.lines, strict=True)]
    if step > 1:
        words += f"; {len(spots[::step]):,} of them are drawn"
    return DrawnFile(
        name=lying.name,
        lines=lines,
        places=[*zip(lying.labels[::step], spots[::step], strict=True)],
        words=f"{words}.",
    )


def _extent(lying: Lying) -> str:
    """Say how many points there are, their first and last label, and from where to where they lie."""
    count = len(lying.points)
    named = [lying.labels[0], lying.labels[-1]]
    words = "1 point" if count == 1 else f"{count:,} points"
    if all(named):
        words += f", {named[0]} to {named[1]}" if count > 1 else f", {named[0]}"
    (west, south), (east, north) = lying.points.min(axis=0), lying.points.max(axis=0)
    if lying.unit == _DEGREES:
        return f"{words}: {degrees(west, south)} to {degrees(east, north)}"
    unit = f" {LengthUnit(lying.unit).symbol}" if lying.unit else ""
    return f"{words}: easting {west:,.0f} to {east:,.0f}, northing {south:,.0f} to {north:,.0f}{unit}"


def _beside(lying: Lying) -> str:
    return f"{_extent(lying)}; drawn beside the others once a coordinate reference is chosen."


def degrees(longitude: float, latitude: float) -> str:
    """Return a place as people say it.

    >>> degrees(-101.2345, 49.1234)
    '49.1234° N, 101.2345° W'
    """
    sides = "N" if latitude >= 0.0 else "S", "E" if longitude >= 0.0 else "W"
    return f"{abs(latitude):.4f}° {sides[0]}, {abs(longitude):.4f}° {sides[1]}"


def _apart(lying: Sequence[Lying]) -> Iterator[tuple[str, str]]:
    """Give the files that lie farther from the others than either is long, and what speaks for it."""
    for each in lying:
        others = [other for other in lying if other is not each]
        if not others:
            return
        beside = max(others, key=lambda other: (bool(other.lines), len(other.points)))
        distance = _between(each.points, beside.points)
        if distance > max(_length(each.points), _length(beside.points)):
            unit = f" {LengthUnit(each.unit).symbol}" if each.unit else ""
            words = f"; it lies {distance:,.0f}{unit} from {beside.name}, farther than either is long"
            if _between(each.points[:, ::-1], beside.points) <= _length(beside.points):
                words += "; with eastings and northings exchanged it would lie at it"
            yield each.name, words


def _between(one: FloatArray, other: FloatArray) -> float:
    """Return how far the boxes around points lie from each other."""
    gap = np.maximum(one.min(axis=0) - other.max(axis=0), other.min(axis=0) - one.max(axis=0))
    return float(np.hypot(*np.maximum(gap, 0.0)))


def _length(points: FloatArray) -> float:
    return float(np.hypot(*np.ptp(points, axis=0)))


def place_words(lying: Sequence[Lying], projection: Projection) -> list[str]:
    """Say where on earth a reference puts files, by their middle, and whether it is made for that place."""
    points = np.concatenate([each.points for each in lying]) if lying else np.empty((0, 2))
    known = points[np.isfinite(points).all(axis=1)]
    if not len(known):
        return []
    longitude, latitude, scale, _ = (
        float(part) for part in projection.lonlat_and_factors(*np.median(known, axis=0))
    )
    if not np.isfinite(longitude + latitude):
        return [f"{projection.name} has no place on earth for these coordinates."]
    words = f"{degrees(longitude, latitude)} in {projection.name}, grid scale there {scale:.6f}"
    heights = np.concatenate([each.heights for each in lying])
    if len(heights):
        height = float(np.median(heights))
        factor = float(combined_factor(scale, elevation_factor(height, projection.unit)))
        words += f", combined factor about {factor:.6f} at {height:,.0f} {projection.unit.symbol}"
    return [f"{words}.", _made_for(projection, longitude, latitude)]


def _made_for(projection: Projection, longitude: float, latitude: float) -> str:
    area = projection.crs.area_of_use
    if area is None:
        return "It says no area of use."
    name = shorten(area.name.rstrip("."), _SHOWN, placeholder=" and more").replace("; and", " and")
    if projection.made_for(longitude, latitude):
        return f"That lies within its area of use: {name}."
    return f"That lies outside its area of use: {name}. Look at the coordinates, or choose another."


def reference_words(lying: Sequence[Lying], projection: Projection) -> str:
    """Say where a reference would put coordinates that are not said to be in another; "" = there are none.

    `lying` are as they are written.
    """
    points = [each.points for each in lying if each.unit != _DEGREES]
    units = {each.unit for each in lying} - {"", _DEGREES}
    if not points:
        return ""
    scale = LengthUnit(units.pop()).metres / projection.unit.metres if len(units) == 1 else 1.0
    place = projection.to_lonlat(*np.median(np.concatenate(points), axis=0) * scale)
    longitude, latitude = (float(part) for part in place)
    if not np.isfinite(longitude + latitude):
        return "has no place for the files"
    within = "within" if projection.made_for(longitude, latitude) else "outside"
    return f"{degrees(longitude, latitude)}, {within} its area of use"
