import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from linemap.domain.design.line import StationEquation
from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.centreline import read_centrelines
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import EQUATIONS
from linemap.units import LengthUnit

Table = Callable[..., RawTable]

PI_LIST = """PI,Station back,Station ahead,N,E,Delta,Brg Ah,Dist Ah
POB,,0+00.00,900000.00,2250000.00,,N 62-14-20 E,11840.00
1,118+40.00,118+40.00,905510.59,2260468.98,3°12'40" RT,N65°27'00"E,14210.00
2,260+50.00,,911410.04,2273384.26,18-45-10 LT,N46-41-50E,9655.5
EQ,470+00.00 BK,473+84.50 AH,,,,,
5,648+90.25,648+90.25,919169.23,2309159.20,"62.1030 L",N24.5600E,8930
"""


def geojson(features: list[tuple[dict[str, Any], str, Any]]) -> str:
    return json.dumps(
        {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "properties": props, "geometry": {"type": kind, "coordinates": xy}}
                for props, kind, xy in features
            ],
        }
    )


def test_a_pi_list_gives_vertices_and_leaves_the_equation_out(table: Table, montana: Projection) -> None:
    loaded = read_centrelines(table(PI_LIST), projection=montana, line_default="North")
    line = loaded.value["North"]
    assert line.names == ("POB", "1", "2", "5")
    assert line.easting.tolist() == [2250000.0, 2260468.98, 2273384.26, 2309159.2]
    assert line.name(1) == "1"
    assert loaded.rows_left_out == (5,)
    assert (loaded.rows_in, loaded.rows_used) == (5, 4)


def test_rows_of_several_lines_may_be_mixed(table: Table, montana: Projection) -> None:
    text = "line,x,y\nN,2250000,900000\nS,2260000,900000\nN,2251000,900000\nS,2260000,901000\n"
    found = read_centrelines(table(text), projection=montana).value
    assert list(found) == ["N", "S"]
    assert found["S"].northing.tolist() == [900000.0, 901000.0]


def test_repeated_points_are_dropped_with_a_note(table: Table, montana: Projection) -> None:
    text = "x,y\n2250000,900000\n2250000,900000\n2251000,900000\n2250000,900000\n"
    loaded = read_centrelines(table(text), projection=montana)
    assert loaded.value[""].easting.tolist() == [2250000.0, 2251000.0, 2250000.0]
    assert [(p.row, p.severity) for p in loaded.problems] == [(3, Severity.NOTED)]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("A,2250000,900000\n", "the centreline has only one point"),
        ("A,2250000,900000\nB,2250000,900000\n", "has only one point"),
        ("A,2250000,900000\nB,,\n", "vertex B has no coordinates"),
        ("A,2250000,900000\nB,nan,900000\n", "not a finite number"),
        ("A,2250000,900000\nB,1e400,900000\n", "not a finite number"),
        ("A,-108.3,46.7\nB,-108.4,46.8\n", "look like longitude and latitude"),
        ("Total,,\n", "no row of the file can be used"),
    ],
)
def test_broken_point_lists_are_refused(table: Table, montana: Projection, rows: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_centrelines(table("pi,x,y\n" + rows), projection=montana)


def test_lines_of_a_map_are_projected_and_named(table: Table, montana: Projection) -> None:
    start, end = [-108.37717, 46.71312], [-108.33509, 46.72782]
    raw = table(geojson([({"line": "North"}, "LineString", [start, end])]), name="c.geojson")
    assert raw.kinds == ("centreline",)
    line = read_centrelines(raw, projection=montana).value["North"]
    # POB and PI-1 of the invented line, published to 5 decimals of a degree.
    assert line.easting == pytest.approx([2_250_000, 2_260_468.98], abs=3)
    assert line.northing == pytest.approx([900_000, 905_510.59], abs=3)


def test_parts_that_join_are_one_line(table: Table, montana: Projection) -> None:
    a, b, c, d = [-108.4, 46.7], [-108.3, 46.7], [-108.2, 46.75], [-108.1, 46.75]
    features = [({"line": "N"}, "MultiLineString", [[a, b], [b, c]]), ({"line": "N"}, "LineString", [c, d])]
    line = read_centrelines(table(geojson(features), name="c.geojson"), projection=montana).value["N"]
    assert len(line.easting) == 4
    assert np.all(np.diff(line.easting) > 0)


@pytest.mark.parametrize(
    ("kind", "coordinates", "words"),
    [
        ("MultiLineString", [[[-108.4, 46.7], [-108.3, 46.7]], [[-108.2, 46.7], [-108, 46.7]]], "not join"),
        ("MultiLineString", [[[-108.4, 46.7], [-108.3, 46.7]], [[-108.2, 46.7], [-108.3, 46.7]]], "not join"),
        ("LineString", [[-108.4, 46.7], [-108.4, 46.7]], "only one point"),
        ("Polygon", [[[-108.4, 46.7], [-108.3, 46.7], [-108.3, 46.8], [-108.4, 46.7]]], "is no line"),
        ("Point", [-108.4, 46.7], "only one point"),
    ],
)  # fmt: skip
def test_shapes_that_make_no_line_are_refused(
    table: Table, montana: Projection, kind: str, coordinates: Any, words: str
) -> None:
    raw = table(geojson([({"line": "N"}, kind, coordinates)]), name="c.geojson", kind="centreline")
    with pytest.raises(InputRefused, match=words):
        read_centrelines(raw, projection=montana)


def test_a_list_of_equations(table: Table) -> None:
    text = "line,back,ahead\nN,470+00.00,473+84.50\nS,10+00,9+50\nN,953+84.50 BK,953+23.75 AH\n"
    found = read_rows(table(text), EQUATIONS, unit=LengthUnit.FOOT).value
    assert [(each.line, each.back, each.ahead) for each in found] == [
        ("N", 47000.0, 47384.5),
        ("S", 1000.0, 950.0),
        ("N", 95384.5, 95323.75),
    ]


def test_equations_within_a_pi_list(table: Table) -> None:
    text = (
        "PI,Sta Bk,Sta Ah,N,E\nPOB,,0+00.00,900000,2250000\n1,118+40.00,118+40.00,905510.59,2260468.98\n"
        "EQ,470+00.00 BK,473+84.50 AH,,\n"
    )
    loaded = read_rows(table(text, kind="equations"), EQUATIONS, unit=LengthUnit.FOOT, line_default="N")
    assert loaded.value == (StationEquation(line="N", back=47000.0, ahead=47384.5),)
    assert loaded.rows_left_out == (2, 3)


def test_a_file_without_an_equation_says_so(table: Table) -> None:
    loaded = read_rows(table("back,ahead\n1+00,1+00\n"), EQUATIONS, unit=LengthUnit.FOOT)
    assert loaded.value == ()
    assert "no station equation" in loaded.problems[0].reason


def test_both_stations_in_one_cell(table: Table) -> None:
    raw = table("station equation\n470+00.00 BK = 473+84.50 AH\n")
    assert read_rows(raw, EQUATIONS, unit=LengthUnit.FOOT).value == (
        StationEquation(line="", back=47000.0, ahead=47384.5),
    )


def test_metric_stations_count_kilometres(table: Table) -> None:
    raw = table("back,ahead\n1+234.560,1+300\n")
    assert read_rows(raw, EQUATIONS, unit=LengthUnit.METRE).value == (
        StationEquation(line="", back=1234.56, ahead=1300.0),
    )


@pytest.mark.parametrize(
    ("row", "words"),
    [("47O+00,473+84.50", "47O"), ("473+84.50 AH,470+00 BK", "says ahead in the back column")],
)
def test_unreadable_stations_refuse_the_list(table: Table, row: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_rows(table(f"back,ahead\n{row}\n"), EQUATIONS, unit=LengthUnit.FOOT)
