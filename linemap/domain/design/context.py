"""Things around a line that are no part of it: access roads, parcels, gates, wetlands, nests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shapely import Geometry

__all__ = ["ContextFeature"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ContextFeature:
    """One feature drawn around the line. Its place may be known to few people only."""

    #: Layer it belongs to: "access", "parcel", "nest".
    layer: str
    name: str = ""
    #: True when neither place nor name may be shown to everyone.
    restricted: bool = False
    #: Shape in WGS 84 longitude and latitude, degrees.
    geometry: Geometry
    #: Everything else the file says of it.
    properties: Mapping[str, str] = field(default_factory=dict)
