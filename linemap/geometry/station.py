"""Stations: reading, writing, and station equations with their gaps and overlaps.

A *true distance* is the ground distance along the line from its start. The *station* posted there is the
same until an equation (one point with a back and an ahead station) shifts it: ahead of a gap stations are
missing, ahead of an overlap they occur twice, and then only the *region* (1 + equations passed) tells them
apart. Definition of back and ahead: US Army FM 5-233, Construction Surveying (1985), chapter 3.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

_CLOSURE = 0.01
"""How far a back station may miss the distance it stands at: stations are printed to 0.01."""
_DEAD_BAND = 1e-6
"""A distance this close to an equation is at the equation."""

_STATION = re.compile(
    r"(?:STATION|STA)?[.:]?\s*"
    r"(?P<sign>[+-]?)\s*"
    r"(?:(?P<full>\d+)\s*\+\s*(?P<part>\d+)(?P<decimals>\.\d*)?|(?P<plain>\d+(?:\.\d*)?|\d{1,3}(?:,\d{3})+(?:\.\d*)?))"
    r"\s*(?P<side>BACK|BK|AHEAD|AH)?\.?"
    r"\s*(?:\(\s*(?:REGION\s*|R)(?P<inner>\d+)\s*\)|(?:REGION\s*|R)(?P<region>\d+))?"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParsedStation:
    """A station as someone wrote it."""

    #: Station in the line's length unit: 118+40.00 is 11840.0.
    value: float
    #: Which of the two stations of an equation is meant, when the text says so.
    side: Literal["back", "ahead"] | None = None
    #: Region counted from 1, when the text says so.
    region: int | None = None


#: No line reaches so far, in any unit: it is farther than the moon.
_FARTHEST = 1e10


def parse_station(text: str, *, per_plus: int | None = None) -> ParsedStation:
    """Read a station: ``118+40.00``, ``1+234.560``, ``STA 953+52.50 (R2)``, ``470+00 BK``, ``11,840.00``.

    Parameters
    ----------
    text : str
        The station, optionally after STA, with BK or AH and a region after it.
    per_plus : int, optional
        Length of one full station. Not given, two digits after the plus mean 100, three mean 1000.

    Raises
    ------
    ValueError
        If the text is no station, or its digits after the plus do not fit `per_plus`.

    >>> parse_station("STA 953+52.50 (R2)")
    ParsedStation(value=95352.5, side=None, region=2)
    """
    match = _STATION.fullmatch(
        text.strip().upper().replace("−", "-").replace("–", "-").replace("\u00a0", " ")
    )
    if match is None:
        raise ValueError(f"{text!r} is not a station; write it like 118+40.00, or as a plain number")
    value = _plus_value(match, text, per_plus) if match["full"] else float(match["plain"].replace(",", ""))
    if value > _FARTHEST:
        raise ValueError(f"{text[:40]!r} is not a station; it lies farther than a line can reach")
    region = match["inner"] or match["region"]
    if region is not None and int(region) < 1:
        raise ValueError(f"{text!r} has region {region}; regions count from 1")
    side: Literal["back", "ahead"] | None = None
    if match["side"]:
        side = "back" if match["side"].startswith("B") else "ahead"
    signed = -value if match["sign"] == "-" else value
    return ParsedStation(value=signed, side=side, region=None if region is None else int(region))


def _plus_value(match: re.Match[str], text: str, per_plus: int | None) -> float:
    """Value of the full+part form."""
    digits = len(match["part"])
    allowed = {2: 100, 3: 1000} if per_plus is None else {_width(per_plus): per_plus}
    if digits not in allowed:
        wanted = " or ".join(str(count) for count in allowed)
        raise ValueError(f"{text!r} has {digits} digits after the plus where {wanted} are needed")
    return int(match["full"]) * allowed[digits] + float(match["part"] + (match["decimals"] or ""))


def _width(per_plus: int) -> int:
    """Digits after the plus: 2 for stations of 100."""
    width = len(str(per_plus)) - 1
    if width < 1 or per_plus != 10**width:
        raise ValueError(f"a full station of {per_plus} is not a power of ten; use 100 or 1000")
    return width


def format_station(value: float, *, per_plus: int = 100, decimals: int = 2) -> str:
    """Write a station, rounded first so that 199.996 carries to 2+00.00; nan is "".

    >>> format_station(199.996), format_station(-12.3), format_station(1234.56, per_plus=1000)
    ('2+00.00', '-0+12.30', '1+234.56')
    """
    return format_stations([value], per_plus=per_plus, decimals=decimals)[0]


def format_stations(values: ArrayLike, *, per_plus: int = 100, decimals: int = 2) -> list[str]:
    """Write many stations at once: a list of the same length, as `format_station` writes each.

    >>> format_stations([0.0, 95352.5])
    ['0+00.00', '953+52.50']
    """
    station = np.asarray(values, dtype=np.float64).ravel()
    finite = np.isfinite(station)
    scale, width = 10**decimals, _width(per_plus)
    count = np.rint(np.where(finite, np.abs(station), 0.0) * scale).astype(np.int64)
    full, rest = np.divmod(count, per_plus * scale)
    part, fraction = np.divmod(rest, scale)
    pattern = f"%d+%0{width}d" + (f".%0{decimals}d" if decimals else "")
    columns = (full, part, fraction) if decimals else (full, part)
    texts = [pattern % row for row in zip(*(column.tolist() for column in columns), strict=True)]
    for row in np.flatnonzero(finite & (station < 0.0) & (count > 0)).tolist():
        texts[row] = "-" + texts[row]
    for row in np.flatnonzero(~finite).tolist():
        texts[row] = ""
    return texts


@dataclass(frozen=True, slots=True, kw_only=True)
class StationEquation:
    """One point of the line that has two stations."""

    #: Ground distance from the start of the line.
    true_distance: float
    #: Station of the point counted from behind.
    back: float
    #: Station of the point counted on ahead.
    ahead: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stationing:
    """How true distances are posted as stations on one line.

    Raises
    ------
    ValueError
        If an equation stands before the line's start or on another one, or its back station is not the
        station that its distance has (to 0.01).
    """

    #: Station posted at the start of the line.
    start: float = 0.0
    #: Equations; kept in order of true distance.
    equations: tuple[StationEquation, ...] = ()

    def __post_init__(self) -> None:
        ordered = tuple(sorted(self.equations, key=lambda equation: equation.true_distance))
        object.__setattr__(self, "equations", ordered)
        distance, station = 0.0, self.start
        for number, equation in enumerate(ordered, start=1):
            expected = station + equation.true_distance - distance
            _check_equation(number, equation, after=distance, expected_back=expected)
            distance, station = equation.true_distance, equation.ahead

    @classmethod
    def from_pairs(cls, start: float, pairs: Iterable[tuple[float, float]]) -> Stationing:
        """Build from (back, ahead) pairs in line order; true distances follow from the back stations.

        Raises
        ------
        ValueError
            If a back station does not lie ahead of the ahead station before it; the pair is named.

        >>> line = Stationing.from_pairs(0.0, [(47000.0, 47384.5), (95384.5, 95323.75)])
        >>> [equation.true_distance for equation in line.equations]
        [47000.0, 95000.0]
        """
        equations: list[StationEquation] = []
        distance, station = 0.0, float(start)
        for number, (back, ahead) in enumerate(pairs, start=1):
            names = _named(number, back, ahead)
            if not (math.isfinite(back) and math.isfinite(ahead)):
                raise ValueError(f"{names} has a station that is not a number; give both")
            if back < station or (back == station and equations):
                raise ValueError(
                    f"{names} does not follow station {format_station(station)} before it; "
                    "put the equations in line order and check which side is back"
                )
            distance, station = distance + back - station, ahead
            equations.append(StationEquation(true_distance=distance, back=back, ahead=ahead))
        return cls(start=float(start), equations=tuple(equations))

    def post(self, true_distance: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """Station and region of true distances; at an equation itself, the ahead side.

        Distances before the start and past the end are posted too (stations run on). nan gives station nan
        in region 0.

        >>> line = Stationing.from_pairs(0.0, [(47000.0, 47384.5)])
        >>> [column.tolist() for column in line.post([46999.0, 47000.0])]
        [[46999.0, 47384.5], [1, 2]]
        """
        true = np.asarray(true_distance, dtype=np.float64)
        if not self.equations:
            return np.asarray(self.start + true), np.where(np.isnan(true), 0, 1)
        at, posted = self._anchors()
        passed = np.searchsorted(at[1:] - _DEAD_BAND, true, side="right")
        station = posted[passed] + (true - at[passed])
        return np.asarray(station), np.where(np.isnan(true), 0, passed + 1).astype(np.int64)

    def true_distances(
        self, station: float, *, region: int | None = None, length: float = math.inf
    ) -> tuple[tuple[int, float], ...]:
        """Every (region, true distance) posted as `station`: none in a gap, one, or more in an overlap.

        An equation's own back station is found in the region that ends there. Region 1 runs on before the
        start; the last region ends at `length`.

        >>> line = Stationing.from_pairs(0.0, [(47000.0, 47384.5), (95384.5, 95323.75)])
        >>> line.true_distances(95352.5)
        ((2, 94968.0), (3, 95028.75))
        """
        at, posted = self._anchors()
        true = at + (station - posted)
        lower = np.concatenate(([-math.inf], at[1:])) - _DEAD_BAND
        upper = np.concatenate((at[1:], [length])) + _DEAD_BAND
        inside = (true >= lower) & (true <= upper)
        found: list[tuple[int, float]] = []
        for index in np.flatnonzero(inside).tolist():
            if found and abs(true[index] - found[-1][1]) <= 2 * _DEAD_BAND:
                found.pop()  # an equation without a jump: one point, the ahead region
            found.append((index + 1, float(true[index])))
        return tuple(pair for pair in found if region is None or pair[0] == region)

    def _anchors(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Where each region begins: true distance and station."""
        at = [0.0, *(equation.true_distance for equation in self.equations)]
        posted = [self.start, *(equation.ahead for equation in self.equations)]
        return np.array(at), np.array(posted)


def _check_equation(number: int, equation: StationEquation, *, after: float, expected_back: float) -> None:
    """Refuse an equation that stands too early, or whose back station is not the one it must have."""
    names = _named(number, equation.back, equation.ahead)
    if not all(math.isfinite(part) for part in (equation.true_distance, equation.back, equation.ahead)):
        raise ValueError(f"{names} has a value that is not a number; give distance, back and ahead")
    if equation.true_distance < after or (equation.true_distance == after and number > 1):
        raise ValueError(
            f"{names} at distance {equation.true_distance:.2f} does not stand ahead of {after:.2f}; "
            "check its distance"
        )
    if abs(equation.back - expected_back) > _CLOSURE:
        raise ValueError(
            f"{names} stands where the back station is {format_station(expected_back)}; "
            "check the distance or the back station"
        )


def _named(number: int, back: float, ahead: float) -> str:
    """How messages call an equation."""
    return f"equation {number} ({format_station(back)} back = {format_station(ahead)} ahead)"
