"""The 121 invented structures and their 249 poles."""

from __future__ import annotations

import random
from dataclasses import dataclass

from route import Route, cross_slope, ground_elevation, station_at

__all__ = ["TYPES", "Pole", "Structure", "TypeRow", "build_structures", "move_structure"]

_SEED = 115
_SPANS_PER_TANGENT = (12, 14, 10, 17, 13, 9, 18, 13, 10, 4)
#: The tangent with the river is laid out by hand.
_RIVER_TANGENT = 4
_RIVER_POSITIONS = (0, 960, 1915, 2840, 3790, 4720, 5500, 7060, 7880, 8830, 9760, 10650, 11560)
#: One structure is forced into the overlap of the second station equation.
_OVERLAP_POSITION = 94968.0
#: Structures given a special type: (first and last true distance of a tangent, index on it, type).
_SPECIAL = ((73435.75, 91180.75, 8, "H-DDE"), (35705.5, 52025.5, 7, "H-TRN"))


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeRow:
    """One row of the owner's table of structure types (invented words)."""

    code: str
    words: str
    #: Letters of the poles, left to right looking ahead.
    poles: str
    #: Distance between neighbouring poles, ground feet.
    spacing: float
    arm_rule: str
    #: Progress weight.
    weight: float
    section_break: bool = False

    @property
    def guyed(self) -> bool:
        """Whether the type has guys: all but the two that only carry."""
        return self.code not in ("H-TAN", "H-LONG")


TYPES = {
    row.code: row
    for row in (
        TypeRow(
            code="H-TAN",
            words="tangent H, X-braced",
            poles="AB",
            spacing=12.5,
            arm_rule="square to line",
            weight=1.0,
        ),
        TypeRow(
            code="H-LONG",
            words="long-span H",
            poles="AB",
            spacing=14.0,
            arm_rule="square to line",
            weight=1.6,
        ),
        TypeRow(
            code="H-ANG", words="small angle H", poles="AB", spacing=12.5, arm_rule="bisector", weight=1.5
        ),
        TypeRow(
            code="P3-SUS",
            words="three-pole suspension",
            poles="ABC",
            spacing=15.0,
            arm_rule="bisector",
            weight=2.2,
        ),
        TypeRow(
            code="P3-DE",
            words="three-pole dead-end",
            poles="ABC",
            spacing=16.0,
            arm_rule="bisector",
            weight=3.5,
            section_break=True,
        ),
        TypeRow(
            code="H-DDE",
            words="in-line double dead-end",
            poles="AB",
            spacing=14.0,
            arm_rule="square to line",
            weight=2.5,
            section_break=True,
        ),
        TypeRow(
            code="H-TRN",
            words="transposition",
            poles="AB",
            spacing=14.0,
            arm_rule="square to line",
            weight=2.5,
        ),
        TypeRow(
            code="TERM",
            words="terminal",
            poles="AB",
            spacing=14.0,
            arm_rule="square to line",
            weight=2.5,
            section_break=True,
        ),
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pole:
    """One pole as designed."""

    letter: str
    #: Offset from the structure centre, ground feet, right positive.
    offset: float
    northing: float
    easting: float
    ground: float
    length: int
    pole_class: str

    @property
    def minimum_depth(self) -> float:
        """Setting depth: 10 % of the length plus 2 ft (REA/RUS rule of thumb)."""
        return 0.1 * self.length + 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Structure:
    """One structure as designed; `sequence` counts from 1 at the back end."""

    sequence: int
    number: str
    #: True ground distance from the start of the line.
    true: float
    type_code: str
    deflection: float
    #: Azimuth of the structure's ahead direction.
    azimuth: float
    northing: float
    easting: float
    ground: float
    #: Ground lengths; None at an end of the line.
    back_span: float | None
    ahead_span: float | None
    poles: tuple[Pole, ...]

    @property
    def type_row(self) -> TypeRow:
        """The row of the type table."""
        return TYPES[self.type_code]

    @property
    def station(self) -> float:
        """Displayed station."""
        return station_at(self.true)[0]

    @property
    def mile(self) -> int:
        """Line mile the structure is numbered in, from 1."""
        return int(self.number.split("/")[0])


def _positions(route: Route) -> list[float]:
    rng = random.Random(_SEED)
    positions: list[float] = []
    for index, (tangent, count) in enumerate(zip(route.tangents, _SPANS_PER_TANGENT, strict=True)):
        mean = tangent.length / count
        if index == _RIVER_TANGENT:
            local: list[float] = list(_RIVER_POSITIONS)
        else:
            local = [0.0] + [round(mean * i + rng.uniform(-0.11, 0.11) * mean) for i in range(1, count)]
        positions += [tangent.start + value for value in local]
    positions.append(route.length)
    nearest = min(range(len(positions)), key=lambda i: abs(positions[i] - _OVERLAP_POSITION))
    positions[nearest] = _OVERLAP_POSITION
    return positions


def _numbers(positions: list[float]) -> list[str]:
    counts: dict[int, int] = {}
    numbers = []
    for true in positions:
        mile = int(true // 5280) + 1
        counts[mile] = counts.get(mile, 0) + 1
        numbers.append(f"{mile}/{counts[mile]}")
    return numbers


def _special_types(positions: list[float]) -> dict[float, str]:
    chosen = {}
    for first, last, index, code in _SPECIAL:
        chosen[[true for true in positions if first < true < last][index]] = code
    return chosen


def _type_code(route: Route, true: float, longest_span: float) -> str:
    turn = abs(route.deflection_at(true))
    if true in (0.0, route.length):
        return "TERM"
    if turn:
        return "H-ANG" if turn < 5 else "P3-SUS" if turn < 20 else "P3-DE"
    return "H-LONG" if longest_span > 1400 else "H-TAN"


def _base_length(code: str, longest_span: float) -> int:
    if longest_span > 1400:
        return 95
    if longest_span > 1075 or code.startswith("P3"):
        return 75
    return 80 if code in ("H-DDE", "H-TRN") else 70


def _pole_class(code: str, length: int) -> str:
    if length >= 90 or code == "P3-DE":
        return "H1"
    return "1" if length >= 80 or code == "P3-SUS" else "2"


def _build_poles(route: Route, true: float, code: str, longest_span: float) -> tuple[Pole, ...]:
    row = TYPES[code]
    middle = (len(row.poles) - 1) / 2
    offsets = [(i - middle) * row.spacing for i in range(len(row.poles))]
    grounds = [ground_elevation(true) + cross_slope(true) * offset for offset in offsets]
    lengths = [_base_length(code, longest_span)] * len(offsets)
    if len(offsets) == 2 and abs(grounds[1] - grounds[0]) >= 2.5:
        lengths[grounds.index(min(grounds))] += 5  # the low pole of a sidehill frame is 5 ft longer
    poles = []
    for letter, offset, ground, length in zip(row.poles, offsets, grounds, lengths, strict=True):
        northing, easting = route.point(true, right=offset)
        poles.append(
            Pole(
                letter=letter,
                offset=offset,
                northing=northing,
                easting=easting,
                ground=ground,
                length=length,
                pole_class=_pole_class(code, length),
            )
        )
    return tuple(poles)


def _from_positions(route: Route, positions: list[float], numbers: list[str]) -> list[Structure]:
    special = _special_types(positions)
    structures = []
    for index, true in enumerate(positions):
        back = true - positions[index - 1] if index else None
        ahead = positions[index + 1] - true if index + 1 < len(positions) else None
        longest = max(span for span in (back, ahead) if span is not None)
        code = special.get(true) or _type_code(route, true, longest)
        northing, easting = route.point(true)
        structures.append(
            Structure(
                sequence=index + 1,
                number=numbers[index],
                true=true,
                type_code=code,
                deflection=route.deflection_at(true),
                azimuth=route.structure_azimuth(true),
                northing=northing,
                easting=easting,
                ground=ground_elevation(true),
                back_span=back,
                ahead_span=ahead,
                poles=_build_poles(route, true, code, longest),
            )
        )
    return structures


def build_structures(route: Route) -> list[Structure]:
    """Lay out the structures from the seed.

    >>> structures = build_structures(Route.demo())
    >>> len(structures), sum(len(s.poles) for s in structures)
    (121, 249)
    """
    positions = _positions(route)
    return _from_positions(route, positions, _numbers(positions))


def move_structure(route: Route, structures: list[Structure], number: str, ahead: float) -> list[Structure]:
    """Return the list with one structure moved ahead along the line; numbers stay.

    >>> route = Route.demo()
    >>> moved = move_structure(route, build_structures(route), "15/2", 8.0)
    >>> next(s.true for s in moved if s.number == "15/2")
    75319.75
    """
    positions = [s.true + (ahead if s.number == number else 0.0) for s in structures]
    return _from_positions(route, positions, [s.number for s in structures])
