"""Things around a line that are no part of it: access roads, parcels, gates, wetlands, nests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from shapely import Geometry

from linemap.domain.kind.kind import Cell

__all__ = ["ContextFeature"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContextFeature:
    """One feature drawn around the line. Its place may be known to few people only."""

    #: Layer it belongs to: "access", "parcel", "nest".
    layer: Annotated[str, Cell("layer category theme class featureclass contextlayer")]
    name: Annotated[str, Cell("name label title id")] = ""
    #: True when neither place nor name may be shown to everyone.
    restricted: Annotated[
        bool, Cell("restricted confidential secret private", doubt=(True, "restricted"))
    ] = False
    #: Shape in WGS 84 longitude and latitude, degrees.
    geometry: Annotated[Geometry, Cell(label="shape")]
    #: Everything else the file says of it.
    properties: Annotated[Mapping[str, str], Cell()] = field(default_factory=dict)
