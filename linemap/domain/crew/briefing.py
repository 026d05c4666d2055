"""The job-briefing sheet of a place: five headings for the person in charge, and what the data know.

The five subjects are those of 29 CFR 1926.952(b): hazards associated with the job, work procedures involved,
special precautions, energy-source controls, and personal protective equipment requirements. The sheet is
filled in by the person in charge; the data only remind. It is neither a clearance nor a permission.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from linemap.domain.crew.hold import Hold
from linemap.domain.design.figures import Figures
from linemap.domain.design.lengths import length_words
from linemap.domain.design.structure import Pole
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.domain.finding.phrase import pole_names
from linemap.domain.record.claim import SUBJECTS
from linemap.geometry.crs import geodesic
from linemap.geometry.sexagesimal import format_dms
from linemap.units import LengthUnit

#: Printed on every sheet.
CAUTIONS = (
    "Treat every wire as energized. Approach distances are by the operator and the person in charge.",
    "This sheet is filled in by the person in charge. What the data do not know is not on it.",
    "Brief again when something significant changes during the shift.",
)
#: Crossings within this ground distance of the structure are listed (1,000 ft). Common practice, no source.
NEAR_M = 304.8
#: Ground between the outer poles steeper than this is told. Common practice, no source.
_STEEP = 0.10
#: Layers that are water, and layers that are public roads.
WATERS = frozenset({"river", "stream", "creek", "water", "lake", "wetland", "canal", "reservoir"})
ROADS = frozenset({"road", "roads", "street", "highway"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """One heading of the sheet, with reminders under it; the lines to write on are the sheet's."""

    key: str
    heading: str
    #: What the data know of it, in sentences; () = nothing.
    reminders: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Briefing:
    """The content of one sheet."""

    number: str
    subjects: tuple[Subject, ...]
    #: (name of the format, coordinates), three formats and the grid.
    coordinates: tuple[tuple[str, str], ...]
    #: Nearest point of a public road, for an ambulance; says so when none is known.
    road_point: str
    #: What is declared and listed of help and hospitals, in sentences.
    help: tuple[str, ...]


def coordinates(longitude: float, latitude: float) -> tuple[tuple[str, str], ...]:
    """Return WGS 84 coordinates in the three formats that dispatchers and pilots ask for.

    >>> coordinates(-108.37717, 46.71312)[1]
    ('degrees and minutes', "46°42.787' N, 108°22.630' W")
    """
    sides = ("N" if latitude >= 0.0 else "S", "E" if longitude >= 0.0 else "W")
    return (
        ("decimal degrees", f"{latitude:.5f}, {longitude:.5f}"),
        ("degrees and minutes", f"{_minutes(latitude)} {sides[0]}, {_minutes(longitude)} {sides[1]}"),
        (
            "degrees, minutes, seconds",
            f"{format_dms(abs(latitude), decimals=1)} {sides[0]}, "
            f"{format_dms(abs(longitude), decimals=1)} {sides[1]}",
        ),
    )


def briefing(
    figures: Figures,
    row: int,
    *,
    crossings: Iterable[Crossing],
    features: Iterable[ContextFeature],
    holds: Iterable[Hold],
    poles: Sequence[Pole],
    wind: Sequence[str] = (),
    help: Sequence[str] = (),
    within_m: float = NEAR_M,
) -> Briefing:
    """Put together the sheet of one structure.

    Crossings within `within_m` ground metres along the line are listed, restricted features never named, and
    reasons of restricted holds left out. `poles` are those of the structure, for the slope between them;
    `wind` and `help` are what is said of limits of wind and of hospitals.
    """
    line = figures.line_of(row)
    place = float(figures.longitude[row]), float(figures.latitude[row])
    known = [feature for feature in features if not feature.restricted]
    near = list(near_crossings(figures, row, crossings, within_m))
    energized = [words for crossing, words in near if crossing.energized]
    reminders = {
        "hazards": (
            *(words for _, words in near),
            *_slope(figures, row, poles),
            *_waters(known, place, within_m, line.unit),
            *wind,
        ),
        "precautions": tuple(hold.without_reason().sentence() for hold in holds),
        "energy_sources": (*energized, "the structure's own wires: treat as energized once any wire is up"),
    }
    structures = figures.structures
    grid = f"N {structures.northing[row]:,.2f}, E {structures.easting[row]:,.2f} ({line.crs})"
    return Briefing(
        number=str(structures.number[row]),
        subjects=tuple(
            Subject(key=key, heading=heading, reminders=tuple(reminders.get(key, ())))
            for key, heading in SUBJECTS.items()
        ),
        coordinates=(*coordinates(*place), ("grid", grid)),
        road_point=_road_point(known, place, line.unit),
        help=tuple(help),
    )


def _minutes(degrees: float) -> str:
    thousandths = round(abs(degrees) * 60_000)
    return f"{thousandths // 60_000}°{thousandths % 60_000 / 1000:06.3f}'"


def near_crossings(
    figures: Figures, row: int, crossings: Iterable[Crossing], within_m: float = NEAR_M
) -> Iterable[tuple[Crossing, str]]:
    """Give the crossings a structure's sheet names, each with its words.

    They lie within `within_m` along the line, or, where nobody measured them, in the spans of the structure.
    """
    line = figures.line_of(row)
    number = figures.structures.number[row]
    for crossing in crossings:
        if crossing.line.casefold() not in {"", line.name.casefold()}:
            continue
        caution = ": treat as energized" if crossing.energized else ""
        rule = f" ({crossing.rule})" if crossing.rule and not crossing.energized else ""
        if crossing.true_distance is not None:
            gap = crossing.true_distance - float(figures.true_distance[row])
            metres = abs(gap) * line.unit.metres
            if metres <= within_m:
                side = "ahead" if gap > 0.0 else "back"
                yield crossing, f"{crossing.what}, {length_words(metres, line.unit)} {side}{caution}{rule}"
        elif number in {crossing.back_structure, crossing.ahead_structure}:
            yield crossing, f"{crossing.what}, in {crossing.place}{caution}{rule}"


def _slope(figures: Figures, row: int, poles: Sequence[Pole]) -> Iterable[str]:
    grounds = {pole.letter: pole.ground_elevation for pole in poles if pole.ground_elevation is not None}
    spacing = float(figures.structures.spacing[row])
    if len(grounds) < 2 or not spacing > 0.0:
        return
    first, last = min(grounds), max(grounds)
    rise, reach = grounds[last] - grounds[first], spacing * (ord(last) - ord(first))
    if abs(rise) >= _STEEP * reach:
        unit = figures.line_of(row).unit.symbol
        lower = pole_names(first if rise > 0.0 else last, figures.called(row))
        across = f"{abs(rise) / reach:.0%} across"
        yield f"side slope: ground at {lower} is {abs(rise):.1f} {unit} lower, {across}"


def _waters(
    features: Sequence[ContextFeature], place: tuple[float, float], within_m: float, unit: LengthUnit
) -> Iterable[str]:
    for feature in features:
        if feature.layer.casefold() in WATERS:
            metres, _ = apart(feature.geometry, place)
            if metres <= within_m:
                far = f"{length_words(metres, unit)} away" if metres > 1.0 else "here"
                yield f"{feature.layer.casefold()}: {feature.name or 'unnamed'}, {far}"


def _road_point(features: Sequence[ContextFeature], place: tuple[float, float], unit: LengthUnit) -> str:
    roads = [
        (*apart(feature.geometry, place), feature.name or "unnamed road")
        for feature in features
        if feature.layer.casefold() in ROADS
    ]
    if not roads:
        return "no public road in the data of the job"
    metres, point, name = min(roads)
    return f"{name}, {length_words(metres, unit)} away in a straight line, at {point[1]:.5f}, {point[0]:.5f}"


def apart(shape: shapely.Geometry, place: tuple[float, float]) -> tuple[float, tuple[float, float]]:
    """Metres from a place to the nearest point of a shape, and that point, longitude and latitude.

    Degrees of longitude are narrowed by the latitude before the nearest point is sought.
    """
    narrow = float(np.cos(np.radians(place[1])))
    scaled = shapely.transform(shape, lambda xy: xy * (narrow, 1.0))
    here = shapely.Point(place[0] * narrow, place[1])
    found = shapely.get_coordinates(shapely.shortest_line(here, scaled))
    if not len(found):
        return float("inf"), place
    point = float(found[-1, 0] / narrow), float(found[-1, 1])
    if np.allclose(point, place, atol=1e-9, rtol=0.0):
        return 0.0, point
    return float(geodesic(*place, *point)[0]), point
