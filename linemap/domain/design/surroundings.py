"""What lies around a line: what it crosses, access roads, parcels, gates, wetlands, nests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from shapely import Geometry

from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import LINE


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContextFeature:
    """One feature drawn around the line. Its place may be known to few people only."""

    #: Layer it belongs to: "access", "parcel", "nest".
    layer: Annotated[str, Cell("layer category theme class featureclass contextlayer kind")]
    name: Annotated[str, Cell("name label title id")] = ""
    #: True when neither place nor name may be shown to everyone.
    restricted: Annotated[
        bool, Cell("restricted confidential secret private", doubt=(True, "restricted"))
    ] = False
    #: Shape in WGS 84 longitude and latitude, degrees.
    geometry: Annotated[Geometry, Cell(label="shape")]
    #: Everything else the file says of it.
    properties: Annotated[Mapping[str, str], Cell()] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One thing crossed, placed by station, by true distance or by the span it lies in."""

    #: Line name.
    line: Annotated[str, LINE]
    #: What is crossed: "State Route 918".
    what: Annotated[str, Cell("what crossing feature thing name description object crossingname", free=True)]
    owner: Annotated[str, Cell("owner utility company operator")] = ""
    #: Station as written, "" = not given.
    station: Annotated[str, Cell("station sta chainage stationahead")] = ""
    #: Ground distance from the start of the route, ground unit; None = not given.
    true_distance: Annotated[
        float | None,
        Cell("truedistance true distance truedist trueground trueft distancealong", unit="ground"),
    ] = None
    #: Structures at both ends of the span, "" = not given.
    back_structure: Annotated[
        str, Cell("backstructure backstr fromstructure fromstr structureback spanbackstructure")
    ] = ""
    ahead_structure: Annotated[
        str, Cell("aheadstructure aheadstr tostructure tostr structureahead spanaheadstructure")
    ] = ""
    #: Voltage of a crossed line, kV; None = not given.
    voltage_kv: Annotated[
        float | None,
        Cell("voltage kv voltagekv volts", label="voltage", unit="kV", named="voltage", way="text"),
    ] = None
    #: What is asked for: "guard structures before stringing".
    rule: Annotated[
        str,
        Cell(
            "rule requirement requirements condition conditions guard remarks action", free=True, public=False
        ),
    ] = ""
    #: True when it must be treated as energized. Anything with a voltage is, unless the list says otherwise.
    energized: Annotated[
        bool, Cell("energized energised live treatasenergized treatasenergised", way="text")
    ] = False
    #: Row in its file.
    row: Annotated[int, Cell(way="row")] = 0

    @property
    def place(self) -> str:
        """Where it lies, in the words of the list: the span, else the station.

        >>> Crossing(line="", what="gas", back_structure="9/2", ahead_structure="9/3").place
        'span 9/2-9/3'
        """
        if self.back_structure or self.ahead_structure:
            return f"span {self.back_structure}-{self.ahead_structure}"
        return f"station {self.station}" if self.station else ""
