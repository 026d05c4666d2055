"""A line as its owner declares it: ends, rules, coordinate reference, centreline, station equations.

And what must be declared before distances and weight spans can be judged: reference, factor, catenary.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np

from linemap.domain.design.structure import FloatArray
from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import LINE, PLACE_WORDS
from linemap.geometry.station import Stationing, format_station
from linemap.units import LengthUnit

PoleASide = Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vertex:
    """One vertex of a centreline, as it is listed and kept."""

    line: Annotated[str, LINE]
    #: "PI-4"; "" = unnamed.
    name: Annotated[
        str, Cell("pi pino piname point pointno pt vertex name vertexname pinumber id no order sequence seq")
    ] = ""
    #: Grid coordinates, CRS unit.
    easting: Annotated[float, Cell(PLACE_WORDS["easting"])]
    northing: Annotated[float, Cell(PLACE_WORDS["northing"])]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Centreline:
    """The vertices of a route, in order from the back end to the ahead end."""

    #: Grid eastings, (n,) CRS unit, n >= 2.
    easting: FloatArray
    #: Grid northings, (n,).
    northing: FloatArray
    #: Name of each vertex ("PI-4"), "" = unnamed.
    names: tuple[str, ...] = ()
    source_file: str = ""

    @classmethod
    def from_points(
        cls, points: FloatArray, *, names: tuple[str, ...] = (), source_file: str = ""
    ) -> Centreline:
        """Build a centreline from an (n, 2) array of easting, northing."""
        array = np.asarray(points, dtype=np.float64)
        return cls(easting=array[:, 0], northing=array[:, 1], names=names, source_file=source_file)

    def name(self, vertex: int) -> str:
        """Return the name of a vertex, or "vertex 5" (counted from 1) when it has none."""
        given = self.names[vertex] if vertex < len(self.names) else ""
        return given or f"vertex {vertex + 1}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Distances at which a computation says something, in metres. Common practice, no source."""

    #: A structure this near a PI takes the PI's station and deflection (5 ft).
    pi_snap_m: float = 1.524
    #: A centre farther than this from the line, or from its PI, is a finding (0.25 ft).
    off_line_m: float = 0.0762
    #: A centre farther than this from the line refuses the list: the wrong line or zone (50 km).
    wrong_place_m: float = 50_000.0
    #: Another leg of the route nearer than this, beyond the nearest, is reported as competing (12 ft).
    competing_m: float = 3.6576
    #: The turn between neighbouring spans may differ from the centreline's by this before it is a finding.
    span_deflection_deg: float = 0.1
    #: A station written in the list may differ from the computed one by this (0.05 ft).
    station_m: float = 0.01524


@dataclass(frozen=True, slots=True, kw_only=True)
class StationEquation:
    """One point of a line that has two stations. Both are in the ground unit."""

    line: Annotated[str, LINE]
    back: Annotated[
        float,
        Cell(
            "back bk backstation stationback stabk staback bkstation stationbk bksta",
            unit="ground",
            way="text",
        ),
    ]
    ahead: Annotated[
        float,
        Cell(
            "ahead ah aheadstation stationahead staah staahead ahstation stationah ahsta",
            unit="ground",
            way="text",
        ),
    ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """One line with its rules. Stations and spans are ground lengths in the unit of the CRS."""

    name: str
    #: Coordinate reference of all grid coordinates, like "EPSG:6515".
    crs: str
    #: Linear unit of the CRS, also the line's ground unit.
    unit: LengthUnit
    centreline: Centreline
    #: Names of the ends; "" = not declared.
    back_end: str = ""
    ahead_end: str = ""
    #: Grid length = ground length x combined factor.
    combined_factor: float = 1.0
    #: False when nobody declared the factor and 1 was taken; distances then carry a finding.
    combined_factor_declared: bool = True
    #: Station at the first vertex and the station equations.
    stationing: Stationing
    #: Which side pole A stands on, looking ahead.
    pole_a: PoleASide = "left"
    limits: Limits = Limits()

    def station_text(self, station: float, *, region: int | None = None) -> str:
        """Print a station as the line posts it; with its region, where there are several and one is given."""
        posted = format_station(station, per_plus=self.unit.per_plus, decimals=self.station_decimals)
        return posted if region is None or not self.stationing.equations else f"{posted} (R{region})"

    @property
    def station_decimals(self) -> int:
        """Decimals printed in a station: 3 in metres, 2 in feet."""
        return 3 if self.unit is LengthUnit.METRE else 2

    @property
    def length(self) -> float:
        """Ground length of the centreline."""
        grid = np.hypot(np.diff(self.centreline.easting), np.diff(self.centreline.northing)).sum()
        return float(grid) / self.combined_factor

    def ground(self, metres: float) -> float:
        """Convert a limit in metres to the line's ground unit."""
        return metres / self.unit.metres


@dataclass(frozen=True, slots=True, kw_only=True)
class Declaration:
    """The declared basis of a job's coordinates. Texts as a person gave them, "" = not declared."""

    #: Projected coordinate reference, like "EPSG:6515"; it also says which foot or metre.
    crs: str
    unit: LengthUnit
    #: "0.999217", or "auto" for the mean of scale times elevation factor.
    combined_factor: str = ""
    #: Point the coordinates were scaled about, or "none" when they are plain grid coordinates.
    base_point: str = ""
    #: Vertical datum of elevations, with the geoid model when known.
    vertical_datum: str = ""
    #: Document the declarations come from.
    source: str = ""
    #: Lines without a structure that has a ground elevation, where the factor is computed from them.
    no_elevations: tuple[str, ...] = ()

    @property
    def missing(self) -> tuple[str, ...]:
        """What is not declared and withholds verdicts, in words.

        Elevations do not enter a plan position, so a missing vertical datum withholds nothing, unless the
        factor is to be computed from elevations.

        >>> Declaration(crs="EPSG:6515", unit=LengthUnit.FOOT, combined_factor="0.9995").missing
        ('base point',)
        """
        needed = {"combined factor": self.combined_factor, "base point": self.base_point}
        if self.combined_factor.strip().casefold() == "auto":
            needed["vertical datum"] = self.vertical_datum
        return tuple(name for name, text in needed.items() if not text.strip())

    @property
    def withholding(self) -> tuple[str, ...]:
        """What withholds verdicts, in words: what is missing, and elevations that the factor needs."""
        return (*self.missing, *(f"ground elevations of line {line}" for line in self.no_elevations))

    @property
    def words(self) -> str:
        """The declarations in one sentence, with what is not declared.

        >>> Declaration(crs="EPSG:6515", unit=LengthUnit.FOOT, base_point="none").words[:63]
        'EPSG:6515 in international feet, combined factor not declared, '
        """
        feet = {LengthUnit.METRE: "metres", LengthUnit.FOOT: "international feet"}
        texts = {
            "combined factor": self.combined_factor,
            "base point": self.base_point,
            "vertical datum": self.vertical_datum,
        }
        declared = [f"{name} {text or 'not declared'}" for name, text in texts.items()]
        unit = feet.get(self.unit, "US survey feet")
        return ", ".join([f"{self.crs} in {unit}", *declared]) + (
            f" (from {self.source})" if self.source else ""
        )


#: Why there is no weight span.
NO_CATENARY = "not available: no catenary constant declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class Catenary:
    """A declared constant: horizontal tension over weight per length, at one loading and temperature.

    Raises
    ------
    ValueError
        If it is not above 0, or not finite.
    """

    #: Ground unit of the line.
    constant: float
    #: Sag and tension table, with loading and temperature; "" = given without a source.
    source: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.constant) and self.constant > 0.0):
            raise ValueError(f"catenary constant {self.constant:g} is not above 0")

    def words(self, unit: str) -> str:
        """Say what it is and where it comes from.

        >>> Catenary(constant=4500.0, source="sag table 3, 60 F, no load").words("ft")
        'catenary constant 4,500 ft (sag table 3, 60 F, no load)'
        """
        return f"catenary constant {self.constant:,.10g} {unit} ({self.source or 'given without a source'})"


def saved_catenary(saved: Mapping[str, Any] | None) -> Catenary | None:
    """Return the constant as a job keeps it; None when it keeps none.

    >>> saved_catenary({"value": 4500.0, "source": "sag table 3"}).constant, saved_catenary(None)
    (4500.0, None)
    """
    if not saved:
        return None
    return Catenary(constant=float(saved["value"]), source=str(saved.get("source") or ""))
