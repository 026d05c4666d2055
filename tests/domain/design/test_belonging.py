"""Which line a structure is on, and the lists that are refused because the two do not belong together."""

from __future__ import annotations

import numpy as np
import pytest

from linemap.domain.design.belonging import line_index_of, refuse_doubling_back, refuse_wrong_place
from linemap.domain.design.figures import network_of
from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.structure import Structures
from linemap.errors import InputRefused
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit


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
