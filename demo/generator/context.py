"""Surroundings of the demo line as GeoJSON: roads, river, lines, access, gates, parcels, nest, hospitals.

Every feature has a property `layer`; those that field crews are not shown have `restricted` true.
Coordinates are longitude and latitude, WGS 84. Everything is invented.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

from conditions import CROSSINGS
from projection import to_longitude_latitude
from route import COMBINED_FACTOR, LINE, Route, format_station, station_at

__all__ = ["GATES", "PARCEL_LINES", "write_context"]

_SEED = 7
_MILE = 5280.0
#: True distances of gates G-1 to G-11, each on a parcel line, 60 ft left of the line.
GATES = (2400, 9300, 20300, 29600, 40100, 52900, 54950, 64000, 75600, 90000, 102600)
_GATE_RIGHT = -60.0
#: True distances of the lines between the 19 tracts.
PARCEL_LINES = tuple(sorted((*GATES, 14800, 34900, 46500, 69800, 82800, 96300, 110200)))
_PARCEL_HALF_WIDTH = 1320.0
#: Gates (from 1) of the 14 access roads; three gates have two.
_ACCESS_GATES = (1, 2, 2, 3, 4, 5, 6, 6, 7, 8, 9, 10, 10, 11)
_FORDS = (3, 8, 12)

_Point = tuple[float, float]
_Feature = dict[str, Any]


def _position(point: _Point) -> list[float]:
    return [round(degrees, 8) for degrees in to_longitude_latitude(*point)]


def _feature(kind: str, coordinates: Any, *, layer: str, name: str, **more: Any) -> _Feature:
    properties = {"line": LINE, "layer": layer, "name": name, "restricted": False, **more}
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": kind, "coordinates": coordinates},
    }


def _line(points: list[_Point], *, layer: str, name: str, **more: Any) -> _Feature:
    return _feature("LineString", [_position(point) for point in points], layer=layer, name=name, **more)


def _area(points: list[_Point], *, layer: str, name: str, **more: Any) -> _Feature:
    ring = [_position(point) for point in [*points, points[0]]]
    return _feature("Polygon", [ring], layer=layer, name=name, **more)


def _across(
    route: Route, distance: float, *, half: float, skew: float, sway: float, rng: random.Random
) -> list[_Point]:
    """Return points of a road or river across the line, from its left side to its right."""
    base = route.point(distance)
    azimuth = math.radians(route.structure_azimuth(distance) + 90.0 + skew)
    points = []
    for step in range(-8, 9):
        along = half * step / 8
        aside = rng.uniform(-sway, sway) if step else 0.0
        points.append(
            (
                base[0] + along * math.cos(azimuth) - aside * math.sin(azimuth),
                base[1] + along * math.sin(azimuth) + aside * math.cos(azimuth),
            )
        )
    return points


def _road_point(route: Route, distance: float) -> _Point:
    """Return a point of the county road, 0.5 to 2.5 miles due north of the line."""
    northing, easting = route.point(distance)
    return northing + (1.5 + math.sin(distance / 9000)) * _MILE, easting


def _roads(route: Route, rng: random.Random) -> Iterator[_Feature]:
    bench = [_road_point(route, distance) for distance in range(0, int(route.length), 2640)]
    yield _line(bench, layer="road", name="Bench Road", surface="gravel")
    highway = _across(route, 20440, half=2.8 * _MILE, skew=12.0, sway=90.0, rng=rng)
    yield _line(highway, layer="road", name="State Route 918", surface="paved")
    mill = _across(route, 102700, half=2.6 * _MILE, skew=-20.0, sway=150.0, rng=rng)
    yield _line(mill, layer="road", name="Pellet Mill Road", surface="gravel")
    out = (9.6 * _MILE - 2800.0) / 2
    detour = [
        route.point(56900),
        route.point(56900, right=-out),
        route.point(59700, right=-out),
        route.point(59700),
    ]
    yield _line(detour, layer="road", name="Lantern Bridge Road", surface="gravel", detour_miles=9.6)


def _river(route: Route, rng: random.Random) -> Iterator[_Feature]:
    west = _across(route, 57700, half=3.2 * _MILE, skew=6.0, sway=160.0, rng=rng)
    east = _across(route, 58900, half=3.2 * _MILE, skew=6.0, sway=160.0, rng=rng)
    yield _area([*west, *reversed(east)], layer="river", name="Tallow River")
    wetland = [
        route.point(33600, right=-260),
        route.point(35000, right=-340),
        route.point(35000, right=310),
        route.point(33600, right=220),
    ]
    yield _area(wetland, layer="wetland", name="wetland at 7/3 and 7/4")


def _other_lines(route: Route, rng: random.Random) -> Iterator[_Feature]:
    feeder = _across(route, 20510, half=2.8 * _MILE, skew=12.0, sway=0.0, rng=rng)
    yield _line(feeder, layer="other line", name="12.47 kV distribution line", voltage_kv=12.47)
    hobnail = _across(route, 86800, half=4.0 * _MILE, skew=-9.0, sway=0.0, rng=rng)
    yield _line(hobnail, layer="other line", name="Hobnail-Crane 230 kV line", voltage_kv=230)
    gas = _across(route, 43420, half=3.0 * _MILE, skew=25.0, sway=0.0, rng=rng)
    yield _line(gas, layer="other line", name="buried gas pipeline")


def _walk(start: _Point, end: _Point, rng: random.Random) -> list[_Point]:
    """Wander from one point to another, in steps of 350 to 700 ft."""
    points = [start]
    while math.dist(points[-1], end) > 700.0:
        north, east = end[0] - points[-1][0], end[1] - points[-1][1]
        heading = math.atan2(east, north) + math.radians(rng.uniform(-40.0, 40.0))
        step = rng.uniform(350.0, 700.0)
        points.append((points[-1][0] + step * math.cos(heading), points[-1][1] + step * math.sin(heading)))
    return [*points, end]


def _access(route: Route, rng: random.Random) -> Iterator[_Feature]:
    for number, gate in enumerate(_ACCESS_GATES, start=1):
        distance = GATES[gate - 1]
        start = _road_point(route, min(max(distance + rng.uniform(-2200.0, 2200.0), 0.0), route.length))
        track = _walk(start, route.point(distance, right=_GATE_RIGHT), rng)
        length = sum(math.dist(one, two) for one, two in pairwise(track)) / COMBINED_FACTOR
        more = {"ford_tons": 20} if number in _FORDS else {}
        yield _line(
            track,
            layer="access",
            name=f"AR-{number}",
            gate=f"G-{gate}",
            surface=rng.choice(("two-track", "gravel")),
            length_miles=round(length / _MILE, 2),
            **more,
        )


def _gates(route: Route) -> Iterator[_Feature]:
    for number, distance in enumerate(GATES, start=1):
        point = route.point(distance, right=_GATE_RIGHT)
        yield _feature("Point", _position(point), layer="gate", name=f"G-{number}")


def _parcel_side(route: Route, start: float, end: float, *, side: int) -> list[_Point]:
    angles = [tangent.start for tangent in route.tangents if start < tangent.start < end]
    points = [route.point(start, right=side * _PARCEL_HALF_WIDTH)]
    for distance in angles:
        width = _PARCEL_HALF_WIDTH / math.cos(math.radians(route.deflection_at(distance) / 2))
        points.append(route.point(distance, right=side * width))
    return [*points, route.point(end, right=side * _PARCEL_HALF_WIDTH)]


def _parcels(route: Route) -> Iterator[_Feature]:
    edges = (0.0, *PARCEL_LINES, route.length)
    for number, (start, end) in enumerate(pairwise(edges), start=1):
        left = _parcel_side(route, start, end, side=-1)
        right = _parcel_side(route, start, end, side=1)
        yield _area(
            [*left, *reversed(right)],
            layer="parcel",
            name=f"T-{number:02d}",
            from_station=format_station(station_at(start)[0]),
            to_station=format_station(station_at(end)[0]),
        )


def _crossings(route: Route) -> Iterator[_Feature]:
    for crossing in CROSSINGS:
        middle = (crossing.start + crossing.end) / 2
        yield _feature(
            "Point",
            _position(route.point(middle)),
            layer="crossing",
            name=crossing.what,
            station=format_station(station_at(crossing.start)[0]),
            rule=crossing.rule,
            treat_as_energized=crossing.energized,
        )


def _emergency(route: Route) -> Iterator[_Feature]:
    """Give two hospitals: one beside the county road, one that no road of the job leads to."""
    north, east = _road_point(route, 2640)
    amber = _position((north + 300.0, east))
    yield _feature("Point", amber, layer="hospital", name="Amber Sill General", phone="555-0142")
    north, east = route.point(route.length - 9000.0)
    cold = _position((north - 9.0 * _MILE, east))
    yield _feature("Point", cold, layer="hospital", name="Cold Ford Clinic", phone="555-0177")


def _restricted(route: Route) -> Iterator[_Feature]:
    nest = _position(route.point(70600, right=-420))
    yield _feature("Point", nest, layer="nest", name="nest", radius_ft=660, restricted=True)
    corners = ((108200, -150), (108800, -150), (108800, 150), (108200, 150))
    site = [route.point(distance, right=right) for distance, right in corners]
    yield _area(site, layer="cultural", name="cultural monitor area", restricted=True)


def write_context(folder: Path, route: Route) -> None:
    """Write context.geojson."""
    rng = random.Random(_SEED)
    features = [
        *_access(route, rng),
        *_roads(route, rng),
        *_river(route, rng),
        *_other_lines(route, rng),
        *_gates(route),
        *_parcels(route),
        *_crossings(route),
        *_restricted(route),
        *_emergency(route),
    ]
    rows = ",\n".join(json.dumps(feature, ensure_ascii=False) for feature in features)
    text = f'{{"type": "FeatureCollection", "features": [\n{rows}\n]}}\n'
    (folder / "context.geojson").write_text(text, encoding="utf-8", newline="\n")
