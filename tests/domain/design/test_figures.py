"""Figures of the invented line against its written key, and the laws every line obeys."""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import (
    Figures,
    line_index_of,
    network_of,
    refuse_doubling_back,
    refuse_wrong_place,
)
from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.structure import FloatArray, Structures
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing, format_station
from linemap.units import LengthUnit

KEY = Path(__file__).parents[3] / "data" / "demo_key"
FACTOR = 0.999217
START_EAST, START_NORTH, START_AZIMUTH_DEG = 2_250_000.0, 900_000.0, 62 + 14 / 60 + 20 / 3600
PROJECTION = Projection.from_text("EPSG:6515")


def rows(name: str) -> list[dict[str, str]]:
    with (KEY / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def walked() -> tuple[list[dict[str, str]], FloatArray, FloatArray]:
    """Walk the route from its start by tangent lengths and deflections; returns key, points, azimuths."""
    key = rows("centreline.csv")
    east, north, azimuth = START_EAST, START_NORTH, START_AZIMUTH_DEG
    points, azimuths = [(east, north)], [azimuth]
    for here, there in itertools.pairwise(key):
        azimuth += float(here["deflection_deg"] or 0.0)
        grid = (float(there["true_ft"]) - float(here["true_ft"])) * FACTOR
        east += grid * math.sin(math.radians(azimuth))
        north += grid * math.cos(math.radians(azimuth))
        points.append((east, north))
        azimuths.append(azimuth)
    return key, np.array(points), np.array(azimuths)


def line_of(points: FloatArray, *, factor: float = 1.0, stationing: Stationing | None = None) -> Line:
    return Line(
        name="L",
        crs="EPSG:6515",
        unit=LengthUnit.FOOT,
        centreline=Centreline.from_points(points),
        combined_factor=factor,
        stationing=stationing or Stationing(),
    )


def compute(line: Line, points: FloatArray, numbers: Sequence[str] | None = None) -> Figures:
    structures = Structures.from_columns(
        line="L",
        number=numbers or [str(index + 1) for index in range(len(points))],
        easting=points[:, 0],
        northing=points[:, 1],
        spacing=np.full(len(points), 12.5),
    )
    return figures([line], structures, projection=PROJECTION)


@pytest.fixture(scope="module")
def demo() -> Figures:
    key, corners, azimuths = walked()
    table = rows("structures.csv")
    true = np.array([float(row["true_ft"]) for row in table])
    at = np.array([float(row["true_ft"]) for row in key])
    leg = np.clip(np.searchsorted(at, true, side="right") - 1, 0, len(at) - 2)
    azimuth = np.radians(azimuths[leg + 1])
    ahead = ((true - at[leg]) * FACTOR)[:, np.newaxis]
    points = corners[leg] + ahead * np.column_stack([np.sin(azimuth), np.cos(azimuth)])
    stationing = Stationing.from_pairs(0.0, [(47_000.0, 47_384.5), (95_384.5, 95_323.75)])
    structures = Structures.from_columns(
        line="L",
        number=[row["structure"] for row in table],
        easting=points[:, 0],
        northing=points[:, 1],
        type_code=[row["type"] for row in table],
    )
    # given backwards, so that line order is found and not assumed
    backwards = structures.take(np.arange(len(table))[::-1])
    line = line_of(corners, factor=FACTOR, stationing=stationing)
    return figures([line], backwards, projection=PROJECTION)


def test_demo_stations_spans_and_deflections_to_the_key(demo: Figures) -> None:
    key = rows("structures.csv")
    assert demo.structures.number.tolist() == [row["structure"] for row in key]
    assert np.abs(demo.true_distance - [float(row["true_ft"]) for row in key]).max() < 0.001
    assert demo.station_region.tolist() == [int(row["region"]) for row in key]
    assert [format_station(value) for value in demo.station] == [row["station"] for row in key]
    assert np.abs(demo.deflection_deg - [float(row["deflection_deg"]) for row in key]).max() < 0.0001
    spans = [float(row["ahead_span_ft"]) for row in key[:-1]]
    assert np.abs(demo.ahead_span[:-1] - spans).max() < 0.001
    assert np.isnan(demo.ahead_span[-1])
    assert np.nansum(demo.ahead_span) == pytest.approx(117_736.50, abs=0.001)
    assert np.abs(demo.offset).max() < 0.001


def test_demo_span_across_a_station_equation_is_a_true_distance(demo: Figures) -> None:
    row = demo.structures.number.tolist().index("9/5")
    assert demo.ahead_span[row] == pytest.approx(1002.00, abs=0.001)
    assert demo.station[row + 1] - demo.station[row] == pytest.approx(1386.50, abs=0.001)


def test_demo_bisector_and_convergence(demo: Figures) -> None:
    row = demo.structures.number.tolist().index("5/5")
    assert demo.structure_azimuth_deg[row] == pytest.approx(56.0736, abs=0.00005)
    assert demo.arm_azimuth_deg[row] == pytest.approx(146.0736, abs=0.00005)
    # PROJ through pyproj, printed in the line's data sheet as +0.82 degrees
    assert demo.convergence_deg[0] == pytest.approx(0.82, abs=0.005)


def test_demo_sections_end_at_dead_ends(demo: Figures) -> None:
    number = demo.structures.number.tolist()
    starts = {int(section): number[row] for row, section in reversed(list(enumerate(demo.section)))}
    assert starts == {1: "1/1", 2: "7/5", 3: "13/2", 4: "16/4", 5: "18/2", 6: "22/4"}


def test_demo_positions_agree_with_the_printed_longitudes_and_latitudes(demo: Figures) -> None:
    for row in rows("centreline.csv"):
        at = demo.structures.number.tolist().index(row["structure"])
        assert demo.longitude[at] == pytest.approx(float(row["longitude"]), abs=6e-6)
        assert demo.latitude[at] == pytest.approx(float(row["latitude"]), abs=6e-6)


def test_a_structure_near_a_pi_takes_its_station_and_deflection() -> None:
    line = line_of(np.array([[0.0, 0.0], [0.0, 1000.0], [1000.0, 1000.0]]))
    found = compute(line, np.array([[0.0, 500.0], [2.0, 998.0], [500.0, 1000.0]]))
    assert found.station.tolist() == [500.0, 1000.0, 1500.0]
    assert found.deflection_deg.tolist() == [0.0, 90.0, 0.0]
    assert found.structure_azimuth_deg[1] == pytest.approx(45.0)
    # 2 ft in from both legs: on the inside, right of a right turn, square to the bisector
    assert found.offset[1] == pytest.approx(math.hypot(2.0, 2.0))
    assert found.along_from_pi[1] == pytest.approx(0.0, abs=1e-9)


def test_a_row_knows_its_line_its_poles_and_its_frame(demo: Figures) -> None:
    assert list(demo.rows_by_key().values()) == list(range(len(demo)))
    assert demo.letters_by_key() == {demo.key(row): demo.letters_of(row) for row in range(len(demo))}
    assert demo.only_line == demo.line_of(0).name
    for row in range(len(demo)):
        letters = demo.letters_of(row)
        assert len(letters) == demo.structures.pole_count[row]
        if np.isnan(demo.structures.spacing[row]):
            continue
        ahead, right = demo.in_frame(row, demo.poles[row, : len(letters)])
        assert np.allclose(ahead, 0.0, atol=1e-6)
        by_place = [letter for _, letter in sorted(zip(right.tolist(), letters, strict=True))]
        assert "".join(by_place) == demo.left_to_right(row)
        assert demo.pole_of(row, letters[-1]) == tuple(demo.poles[row, len(letters) - 1])


def test_spans_never_cross_from_one_line_to_the_next() -> None:
    east = line_of(np.array([[0.0, 0.0], [1000.0, 0.0]]))
    north = Line(
        name="N",
        crs="EPSG:6515",
        unit=LengthUnit.FOOT,
        centreline=Centreline.from_points(np.array([[0.0, 0.0], [0.0, 1000.0]])),
        stationing=Stationing(),
    )
    structures = Structures.from_columns(
        line=["N", "L", "N", "l"],
        number=["1", "1", "2", "2"],
        easting=[0.0, 10.0, 0.0, 400.0],
        northing=[10.0, 0.0, 800.0, 0.0],
    )
    found = figures([east, north], structures, projection=PROJECTION)
    assert found.line_index.tolist() == [0, 0, 1, 1]
    assert found.order.tolist() == [1, 3, 0, 2]
    assert np.isnan(found.ahead_span[[1, 3]]).all()
    assert found.ahead_span[[0, 2]].tolist() == [390.0, 790.0]
    assert np.isnan(found.span_deflection_deg).all()


def test_an_unknown_line_is_refused_with_its_row() -> None:
    structures = Structures.from_columns(
        line=["L", "Nowhere"], number=["1", "2"], easting=[0.0, 1.0], northing=[5.0, 6.0], source_row=[4, 5]
    )
    line = line_of(np.array([[0.0, 0.0], [0.0, 1000.0]]))
    with pytest.raises(InputRefused, match=r"row 5.*Nowhere.*no centreline"):
        figures([line], structures, projection=PROJECTION)


def test_structures_of_another_zone_are_refused_with_the_distance() -> None:
    line = line_of(np.array([[0.0, 0.0], [0.0, 1000.0]]))
    with pytest.raises(InputRefused, match=r"structure 1 stands 61 km"):
        compute(line, np.array([[200_000.0, 500.0]]))


coordinate = st.floats(-3000.0, 3000.0)


@st.composite
def lines(draw: st.DrawFn) -> tuple[FloatArray, FloatArray]:
    """A route whose turns stay below 70 degrees, and points near it in order."""
    legs = draw(st.integers(2, 6))
    azimuth = draw(st.floats(0.0, 360.0))
    corners = [np.array([2_000_000.0, 600_000.0])]
    points = []
    for _ in range(legs):
        azimuth += draw(st.floats(-70.0, 70.0))
        length = draw(st.floats(500.0, 3000.0))
        ahead = np.array([math.sin(math.radians(azimuth)), math.cos(math.radians(azimuth))])
        points.append(corners[-1] + ahead * length * draw(st.floats(0.3, 0.7)))
        corners.append(corners[-1] + ahead * length)
    return np.array(corners), np.array(points)


@given(lines(), st.floats(0.0, 360.0), coordinate, coordinate)
@settings(max_examples=examples(60))
def test_turning_and_moving_a_line_changes_no_station_span_or_deflection(
    drawn: tuple[FloatArray, FloatArray], turn_deg: float, east: float, north: float
) -> None:
    corners, points = drawn
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    matrix = np.array([[cos, -sin], [sin, cos]])
    origin = corners[0]

    def moved(array: FloatArray) -> FloatArray:
        return np.asarray((array - origin) @ matrix + origin + [east, north])

    before = compute(line_of(corners), points)
    after = compute(line_of(moved(corners)), moved(points))
    np.testing.assert_allclose(after.station, before.station, atol=1e-5)
    np.testing.assert_allclose(after.ahead_span, before.ahead_span, atol=1e-5)
    np.testing.assert_allclose(after.span_deflection_deg, before.span_deflection_deg, atol=1e-6)


@given(lines())
@settings(max_examples=examples(60))
def test_reading_a_line_from_its_far_end_swaps_back_and_ahead(
    drawn: tuple[FloatArray, FloatArray],
) -> None:
    corners, points = drawn
    line = line_of(corners)
    there = compute(line, points)
    back = compute(line_of(corners[::-1]), points)
    np.testing.assert_allclose(line.length - back.station[::-1], there.station, atol=1e-5)
    np.testing.assert_allclose(back.back_span[::-1], there.ahead_span, atol=1e-9)
    np.testing.assert_allclose(back.span_deflection_deg[::-1], -there.span_deflection_deg, atol=1e-9)
    a_then, b_then = there.poles[:, 0], there.poles[:, 1]
    np.testing.assert_allclose(back.poles[::-1, 0], b_then, atol=1e-6)
    np.testing.assert_allclose(back.poles[::-1, 1], a_then, atol=1e-6)


def test_many_lines_at_once_give_what_each_gives_alone() -> None:
    """More rows than one batch holds, out of order, against each line by itself."""
    random = np.random.default_rng(7)
    size, names = 20_000, ["A", "B", "C"]
    lines, lists = [], []
    for index, name in enumerate(names):
        turns = np.radians(random.uniform(-15.0, 15.0, 40)).cumsum()
        steps = np.stack([np.sin(turns), np.cos(turns)], axis=1) * 2_000.0
        start = np.array([START_EAST + 40_000.0 * index, START_NORTH])
        points = start + np.vstack([[0.0, 0.0], steps.cumsum(axis=0)])
        lines.append(replace(line_of(points, factor=FACTOR + 1e-4 * index), name=name))
        which = random.integers(0, 40, size)
        at = points[which] + random.random((size, 1)) * steps[which] + random.normal(0.0, 3.0, (size, 2))
        lists.append(
            Structures.from_columns(
                line=name,
                number=[str(row) for row in range(size)],
                easting=at[:, 0],
                northing=at[:, 1],
                spacing=random.uniform(10.0, 20.0, size),
                pole_count=random.integers(2, 4, size),
                rule=random.integers(0, 3, size),
                section_break=random.random(size) < 0.1,
            )
        )
    # shuffled between the lines, not within them: structures at one PI keep their order
    mixed = np.argsort(random.permutation(np.repeat(np.arange(3), size)), kind="stable").argsort()
    together = figures(lines, joined(lists).take(mixed), projection=PROJECTION)
    alone = [figures([one], some, projection=PROJECTION) for one, some in zip(lines, lists, strict=True)]
    np.testing.assert_array_equal(
        mixed[together.order], np.concatenate([part.order + size * i for i, part in enumerate(alone)])
    )
    for column in fields(Figures):
        if column.name not in ("lines", "structures", "order", "line_index", "pole_words"):
            whole = np.concatenate([getattr(part, column.name) for part in alone])
            skipped = column.name == "pi_vertex"  # numbered over all lines given
            np.testing.assert_array_equal(
                getattr(together, column.name) >= 0 if skipped else getattr(together, column.name),
                whole >= 0 if skipped else whole,
            )
    assert together.structures.number.tolist() == joined([part.structures for part in alone]).number.tolist()


def joined(lists: Sequence[Structures]) -> Structures:
    names = [column.name for column in fields(Structures)[:-1]]
    return replace(
        lists[0], **{name: np.concatenate([getattr(one, name) for one in lists]) for name in names}
    )


def line(name: str, points: list[tuple[float, float]]) -> Line:
    return Line(
        name=name,
        crs="EPSG:6515",
        unit=LengthUnit.FOOT,
        centreline=Centreline.from_points(np.array(points), names=("", "PI-1")),
        stationing=Stationing(),
    )


LINES = (
    line("North", [(2_250_000.0, 900_000.0), (2_250_000.0, 910_000.0)]),
    line("South", [(2_250_000.0, 800_000.0), (2_260_000.0, 800_000.0)]),
)


def structures(names: list[str], east: float = 2_250_000.0, north: float = 850_000.0) -> Structures:
    size = len(names)
    return Structures.from_columns(
        line=names,
        number=[str(row + 1) for row in range(size)],
        easting=np.full(size, east),
        northing=np.full(size, north),
        source_row=list(range(2, size + 2)),
    )


def test_lines_are_found_in_any_order_and_case() -> None:
    given = structures(["South", "south", "North", "SOUTH", "North", "North"])
    assert line_index_of(LINES, given).tolist() == [1, 1, 0, 1, 0, 0]
    assert line_index_of(LINES, structures([])).tolist() == []


def test_without_a_name_only_a_single_line_is_meant() -> None:
    assert line_index_of(LINES[:1], structures(["", "North"])).tolist() == [0, 0]
    with pytest.raises(InputRefused, match=r"row 3.*structure 2 names a line that has no centreline"):
        line_index_of(LINES, structures(["North", "", "South"]))


def test_a_structure_far_from_its_own_line_is_told_with_its_distance() -> None:
    given = structures(["North", "South"], north=1_100_000.0)
    with pytest.raises(InputRefused) as refused:  # 190,000 ft are 57.9 km, 300,000 ft 91.4 km
        refuse_wrong_place(LINES, given, line_index_of(LINES, given))
    assert "structure 1 stands 58 km from the centreline of North (2 of 2 structures do)" in str(
        refused.value
    )
    near = structures(["North", "South"], north=900_000.0)  # 30.5 km north of the box of South
    refuse_wrong_place(LINES, near, line_index_of(LINES, near))


def test_a_line_that_doubles_back_is_told_by_its_vertex() -> None:
    refuse_doubling_back(LINES, network_of(LINES))
    stray = line("Stray", [(2_250_000.0, 900_000.0), (2_251_000.0, 900_000.0), (2_250_400.0, 900_010.0)])
    lines = (*LINES, stray)
    with pytest.raises(InputRefused, match=r"the centreline of Stray doubles back at PI-1"):
        refuse_doubling_back(lines, network_of(lines))
