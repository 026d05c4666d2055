"""Six as-set survey files: P,N,E,Z,D and the receiver's horizontal quality HRMS, without a header.

Every pole shot is the built position plus noise of a seeded generator. A draw outside 1.5 standard
deviations on any axis is drawn again, and a structure whose survey must show a stated rotation or spacing
is drawn again until it does; so a structure without a fault always passes the usual tolerances.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from faults import FAULTS, Fault
from route import COMBINED_FACTOR, Route, cross_slope, ground_elevation
from structures import Structure
from tables import Cell, write_csv

__all__ = ["SURVEY_FILES", "Shot", "SurveyFile", "survey_shots", "write_shot_files"]

_SEED = 2026
_CLIP = 1.5
#: A stated rotation is met to this, degrees; a stated spacing to this, ground feet.
_ROTATION_MET = 0.2
_SPACING_MET = 0.05
#: Length of one international foot in US survey feet, by the definitions of both (85 FR 62698).
_US_SURVEY_FEET = 0.3048 * 3937 / 1200


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One row of a survey file, before it is written in the file's order and unit."""

    northing: float
    easting: float
    elevation: float
    description: str
    #: Standard deviation on each horizontal axis, feet.
    sigma: float = 0.03
    #: Point name when it is not the next number of the file.
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyFile:
    """One day's file: which structures, and how the day's receiver wrote them."""

    date: str
    #: First and last structure sequence, inclusive.
    first: int
    last: int
    #: How a pole shot is described; {mile}, {number} and {pole} are filled in.
    description: str
    #: "PNE" or "PEN".
    order: str = "PNE"
    #: Factor from international feet to the unit the file is written in.
    unit: float = 1.0

    @property
    def name(self) -> str:
        """File name."""
        return f"shots_{self.date}.csv"


SURVEY_FILES = (
    SurveyFile(date="2026-04-02", first=1, last=4, description="STR {mile}/{number} {pole}", order="PEN"),
    SurveyFile(date="2026-04-09", first=5, last=13, description="STR {mile}/{number} {pole}"),
    SurveyFile(date="2026-04-16", first=14, last=23, description="{mile}-{number} {pole} GL"),
    SurveyFile(date="2026-04-23", first=24, last=32, description="S{mile}/{number} POLE {pole}"),
    SurveyFile(
        date="2026-04-29", first=33, last=38, description="STR {mile}/{number} {pole}", unit=_US_SURVEY_FEET
    ),
    SurveyFile(date="2026-05-13", first=39, last=57, description="{mile}/{number} {pole}"),
)

#: Other shots: file date, true ground distance, offset right, description, point name.
_OTHERS = (
    ("2026-04-02", 0.0, -61.4, "CP-3 CHECK", "CHK1"),
    ("2026-04-09", 11840.0, 0.0, "CL HUB 3/2", ""),
    ("2026-04-16", 11840.0, -52.0, "ANC 3/2 BIS L", ""),
    ("2026-04-23", 26050.0, 0.0, "CL HUB 5/5", ""),
    ("2026-05-13", 52025.5, 54.0, "ANC 10/5 BIS R", ""),
    ("2026-05-13", 43420.0, 40.0, "XING GAS MKR", ""),
    ("2026-05-13", 43900.0, 62.0, "?", ""),
)


def _noise(rng: random.Random, sigma: float) -> float:
    while True:
        value = rng.gauss(0.0, sigma)
        if abs(value) <= _CLIP * sigma:
            return value


def _built_offsets(structure: Structure, fault: Fault) -> dict[str, tuple[float, float]]:
    """Where each pole stands as (ahead, right) of the design centre, ground feet."""
    turn = math.radians(fault.rotation)
    scale = 1.0 + fault.spacing / structure.type_row.spacing
    return {
        pole.letter: (
            fault.ahead + pole.offset * scale * -math.sin(turn),
            fault.right + pole.offset * scale * math.cos(turn),
        )
        for pole in structure.poles
    }


def _labels(structure: Structure, fault: Fault) -> dict[str, str]:
    letters = structure.type_row.poles
    return dict(zip(letters, reversed(letters) if fault.exchanged else letters, strict=True))


def _pole_shot(
    route: Route, structure: Structure, *, place: tuple[float, float], rng: random.Random, sigma: float
) -> Shot:
    ahead, right = place
    northing, easting = route.point(structure.true, right=right, ahead=ahead)
    ground = ground_elevation(structure.true + ahead) + cross_slope(structure.true + ahead) * right
    return Shot(
        northing=northing + _noise(rng, sigma),
        easting=easting + _noise(rng, sigma),
        elevation=ground + _noise(rng, sigma),
        description="",
        sigma=sigma,
    )


def _draw(route: Route, structure: Structure, fault: Fault, rng: random.Random) -> dict[str, Shot]:
    """Draw one shot of every pole, by the letter of the pole that stands there."""
    return {
        letter: _pole_shot(route, structure, place=place, rng=rng, sigma=fault.sigma)
        for letter, place in _built_offsets(structure, fault).items()
    }


def _shows(structure: Structure, fault: Fault, shots: dict[str, Shot]) -> bool:
    """Say whether the drawn shots show the rotation and spacing the fault states."""
    first, last = shots[structure.poles[0].letter], shots[structure.poles[-1].letter]
    north, east = last.northing - first.northing, last.easting - first.easting
    turn = math.degrees(math.atan2(east, north)) - structure.azimuth - 90.0
    rotation = (turn + 180.0) % 360.0 - 180.0
    spacing = math.hypot(north, east) / COMBINED_FACTOR / (len(shots) - 1)
    rotation_met = fault.reads_rotation is None or abs(rotation - fault.reads_rotation) <= _ROTATION_MET
    spacing_met = fault.reads_spacing is None or abs(spacing - fault.reads_spacing) <= _SPACING_MET
    return rotation_met and spacing_met


def _second_shot(route: Route, structure: Structure, first: Shot, *, ahead: float, right: float) -> Shot:
    base = route.point(structure.true)
    moved = route.point(structure.true, right=right, ahead=ahead)
    return replace(
        first,
        northing=first.northing + moved[0] - base[0],
        easting=first.easting + moved[1] - base[1],
        elevation=first.elevation + 0.02,
    )


def _describe(structure: Structure, fault: Fault, pole: str, pattern: str) -> str:
    mile, number = (fault.label or structure.number).split("/")
    return pattern.format(mile=mile, number=number, pole=pole)


def _structure_shots(
    route: Route, structure: Structure, *, pattern: str, rng: random.Random
) -> Iterator[Shot]:
    fault = FAULTS.get(structure.number, Fault())
    shots = _draw(route, structure, fault, rng)
    while not _shows(structure, fault, shots):
        shots = _draw(route, structure, fault, rng)
    labels = _labels(structure, fault)
    for letter, shot in shots.items():
        if letter in fault.missing:
            continue
        described = replace(shot, description=_describe(structure, fault, labels[letter], pattern))
        yield described
        if fault.again and fault.again[0] == letter:
            yield _second_shot(route, structure, described, ahead=fault.again[1], right=fault.again[2])


def _other_shots(route: Route, date: str) -> Iterator[Shot]:
    for day, true, right, description, name in _OTHERS:
        if day == date:
            northing, easting = route.point(true, right=right)
            elevation = 0.0 if description == "?" else ground_elevation(true) + cross_slope(true) * right
            yield Shot(
                northing=northing, easting=easting, elevation=elevation, description=description, name=name
            )


def survey_shots(route: Route, structures: list[Structure]) -> Iterator[tuple[SurveyFile, list[Shot]]]:
    """Yield each survey file with its shots; `structures` are the surveyed ones, in build order."""
    rng = random.Random(_SEED)
    for file in SURVEY_FILES:
        shots: list[Shot] = []
        for structure in structures:
            if file.first <= structure.sequence <= file.last:
                shots += _structure_shots(route, structure, pattern=file.description, rng=rng)
        yield file, [*shots, *_other_shots(route, file.date)]


def _rows(file: SurveyFile, shots: list[Shot]) -> Iterator[tuple[Cell, ...]]:
    for number, shot in enumerate(shots, start=5001):
        plane = [f"{value * file.unit:.3f}" for value in (shot.northing, shot.easting)]
        if file.order == "PEN":
            plane.reverse()
        quality = math.sqrt(2.0) * shot.sigma * file.unit
        yield (
            shot.name or str(number),
            *plane,
            f"{shot.elevation * file.unit:.3f}",
            shot.description,
            f"{quality:.3f}",
        )


def write_shot_files(folder: Path, route: Route, structures: list[Structure]) -> None:
    """Write the six files; `structures` are the surveyed ones."""
    for file, shots in survey_shots(route, structures):
        write_csv(folder / file.name, _rows(file, shots))
