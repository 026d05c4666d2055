"""Places as people write them, on a line with equations, on parallel legs, and on two lines."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import network_of
from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.naming import ListedNumbers, Naming
from linemap.domain.design.place import Place, PlaceFinder
from linemap.domain.design.structure import Structures
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit

GRID = Projection.from_text("EPSG:2256")
EAST, NORTH = 2_250_000.0, 900_000.0
#: Gap of 384.5 ft at 1,000 ft and overlap of 100 ft at 2,000 ft.
EQUATIONS = Stationing.from_pairs(0.0, [(1000.0, 1384.5), (2384.5, 2284.5)])

Corners = Sequence[tuple[float, float]]


def finder(*routes: Corners, stationing: Stationing = EQUATIONS, every: float = 500.0) -> PlaceFinder:
    """Lay out lines with a structure at each corner and every so many feet between."""
    lines, names, numbers, places = [], [], [], []
    for name, corners in zip("NS", routes, strict=False):
        points = np.add(corners, (EAST, NORTH))
        lines.append(
            Line(
                name=name,
                crs="EPSG:2256",
                unit=LengthUnit.FOOT,
                centreline=Centreline.from_points(points),
                combined_factor=1.0,
                stationing=stationing,
            )
        )
        steps = [
            point
            for one, two in pairwise(points)
            for point in np.linspace(one, two, max(round(float(np.hypot(*(two - one)) / every)), 1) + 1)[:-1]
        ]
        for number, place in enumerate([*steps, points[-1]], start=1):
            names.append(name), numbers.append(str(number)), places.append(place)
    at = np.array(places)
    structures = Structures.from_columns(
        line=names,
        number=numbers,
        easting=at[:, 0],
        northing=at[:, 1],
        spacing=np.full(len(at), 12.5),
        pole_count=np.full(len(at), 2),
    )
    listed: dict[str, dict[str, int]] = {}
    for name, number in zip(names, numbers, strict=True):
        listed.setdefault(name, {})[number] = 2
    computed = figures(lines, structures, projection=GRID)
    return PlaceFinder(
        figures=computed,
        network=network_of(computed.lines),
        projection=GRID,
        naming=Naming(listed=ListedNumbers(listed)),
    )


STRAIGHT: Corners = [(0.0, 0.0), (0.0, 4000.0)]


def one(found: tuple[tuple[Place, ...], str]) -> Place:
    (place,), none = found
    assert not none
    return place


def test_a_station_and_its_offset() -> None:
    line = finder(STRAIGHT)
    for text in ("7+20 12 R", "7+20.0, 12 right", "STA 7+20 OFF 12.0 RT", "7+20 R12", "7+20, +12"):
        place = one(line.find(text))
        assert (place.easting - EAST, place.northing - NORTH) == pytest.approx((12.0, 720.0)), text
        assert place.stands[0].words(line.figures) == "7+20.00 (R1), 12.0 ft right, between 2 and 3"
    assert one(line.find("7+20 4.5 LT")).easting == pytest.approx(EAST - 4.5)


def test_a_station_in_a_gap_is_no_station() -> None:
    found, none = finder(STRAIGHT).find("11+00")
    assert found == ()
    assert none == (
        "no such station: N has the equation 10+00.00 back = 13+84.50 ahead, and 11+00.00 lies in its gap"
    )


def test_a_station_in_an_overlap_stands_twice() -> None:
    line = finder(STRAIGHT)
    found, none = line.find("23+00")
    assert [(each.northing - NORTH, each.stands[0].region) for each in found] == [
        (pytest.approx(1915.5), 2),
        (pytest.approx(2015.5), 3),
    ]
    assert not none
    assert one(line.find("23+00 (R3)")).northing - NORTH == pytest.approx(2015.5)


def test_both_names_of_an_equation_are_one_point() -> None:
    line = finder(STRAIGHT)
    back, ahead = (one(line.find(text)) for text in ("10+00", "13+84.50"))
    assert back.northing == ahead.northing == pytest.approx(NORTH + 1000.0)
    assert [each.stands[0].words(line.figures)[:13] for each in (back, ahead)] == [
        "10+00.00 (R1)",
        "13+84.50 (R2)",
    ]


def test_beyond_the_end_the_ends_are_named() -> None:
    _, none = finder(STRAIGHT).find("90+00")
    assert none == "no such station: N runs from 0+00.00 to 42+84.50"


def test_a_structure_on_two_lines_is_found_on_both() -> None:
    two = finder(STRAIGHT, [(3000.0, 0.0), (3000.0, 4000.0)])
    found, _ = two.find("str 3")
    assert [(each.row is not None, each.easting - EAST) for each in found] == [(True, 0.0), (True, 3000.0)]


def test_between_two_lines_both_are_said() -> None:
    two = finder(STRAIGHT, [(300.0, 0.0), (300.0, 4000.0)])
    place = one(two.find(f"N {NORTH + 700} E {EAST + 120}"))
    assert [(two.figures.lines[each.line].name, round(each.offset, 6)) for each in place.stands] == [
        ("N", 120.0),
        ("S", -180.0),
    ]


def test_between_two_parallel_legs_both_are_said() -> None:
    """Out and back 300 ft apart: the place is 120 ft right of the way out, 180 ft right of the way back."""
    hairpin = finder([(0.0, 0.0), (0.0, 2000.0), (300.0, 2000.0), (300.0, 0.0)], stationing=Stationing())
    place = one(hairpin.find(f"{NORTH + 700} {EAST + 120}"))
    assert [(round(each.station, 6), round(each.offset, 6)) for each in place.stands] == [
        (700.0, 120.0),
        (3600.0, 180.0),
    ]


def test_degrees_lie_where_pyproj_puts_them() -> None:
    """EPSG:2256 by pyproj, a reference of its own: the same projection, asked the other way round."""
    line = finder(STRAIGHT)
    longitude, latitude = (float(each) for each in GRID.to_lonlat(EAST + 5.0, NORTH + 700.0))
    for text in (f"{latitude:.9f}, {longitude:.9f}", f"{longitude:.9f} {latitude:.9f}",
                 f"{latitude:.9f}N {-longitude:.9f}W", f"{latitude:.9f} {-longitude:.9f}"):  # fmt: skip
        place = one(line.find(text))
        assert (place.easting - EAST, place.northing - NORTH) == pytest.approx((5.0, 700.0), abs=0.01), text


def test_a_place_far_away_says_how_far_and_no_station() -> None:
    line = finder(STRAIGHT)
    place = one(line.find(f"N {NORTH + 1000.0} E {EAST + 60_000.0}"))
    assert place.stands[0].words(line.figures) == "60,000 ft from N"


def test_nonsense_says_what_to_write() -> None:
    _, none = finder(STRAIGHT).find("nowhere at all")
    assert none.startswith(
        "'nowhere at all' names no structure of the list, no station and no coordinates; write"
    )


def test_every_station_leads_back_to_its_place() -> None:
    line = finder(STRAIGHT)
    for true in np.linspace(0.0, 4000.0, 41):
        text, _ = line.figures.lines[0].stationing.post(np.array([true]))
        found, _ = line.find(f"{int(text[0] // 100)}+{text[0] % 100:05.2f} 3 L")
        assert any(
            (each.easting - EAST, each.northing - NORTH) == pytest.approx((-3.0, true), abs=0.006)
            for each in found
        ), true
