"""Lists of control points as surveyors send them: messy headings, metres, degrees, points of a layer."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from linemap.domain.survey.control import ControlPoint
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.rows import read_rows
from linemap.io.source.read import read_source
from linemap.kinds.registry import CONTROL
from linemap.units import LengthUnit

Table = Callable[..., RawTable]
HEADS = "Control Point,Northing (ift),Easting (ift),Elev (ft),Sigma (ft),Datum,Source,Description\n"


def read(table: RawTable, crs: Projection) -> Loaded[tuple[ControlPoint, ...]]:
    return read_rows(table, CONTROL, unit=crs.unit, projection=crs)


def test_a_list_becomes_points(table: Table, montana: Projection) -> None:
    raw = table(
        "PROJECT CONTROL, SHEET C-2,,,,,,,\n"
        + HEADS
        + 'CP-3,"900,000.010",2250000.02,3900.12,0.015,NAD 83(2011),static,5/8 rebar and cap\n'
        + "BM 12,901000,2251000,0,,,,\n"
        + ",,,,,,,\n"
    )
    assert raw.kinds == ("control",)
    loaded = read(raw, montana)
    assert loaded.value == (
        ControlPoint(
            name="CP-3", easting=2250000.02, northing=900000.01, elevation=3900.12, sigma=0.015,
            datum="NAD 83(2011)", source="static", note="5/8 rebar and cap", source_row=3,
        ),
        ControlPoint(name="BM 12", easting=2251000.0, northing=901000.0, source_row=4),
    )  # fmt: skip
    assert any("0; taken as not measured" in problem.reason for problem in loaded.problems)


@pytest.mark.parametrize(
    "heads",
    [
        "CP,N,E,Z",
        "Benchmark,Northing,Easting,Elevation",
        "Monument Name,X,Y,Height,Horizontal Accuracy",
        "Point,Northing,Easting,Elevation,Datum,Source",
    ],
)
def test_headings_of_control_are_known(table: Table, heads: str) -> None:
    row = ",".join(["CP-1", "900000", "2250000", "3900", "0.02", "x"][: heads.count(",") + 1])
    assert table(f"{heads}\n{row}\n").kinds == ("control",)


@pytest.mark.parametrize(
    "heads",
    ["Point,Northing,Easting,Elevation,Description", "Name,N,E,Elev,Remarks", "Pt,N,E,Z,Desc,Sigma"],
)
def test_a_list_of_shots_is_none_of_control_points(table: Table, heads: str) -> None:
    row = ",".join(["5001", "900000", "2250000", "3900", "1/1 A", "0.02"][: heads.count(",") + 1])
    assert "control" not in table(f"{heads}\n{row}\n").kinds


def test_metres_and_degrees_come_onto_the_grid_of_the_job(table: Table, montana: Projection) -> None:
    metres = read(
        table("Control Point,Northing (m),Easting (m),Elev (m)\nCP-1,274320,685800,1188.72\n"), montana
    )
    (point,) = metres.value
    assert (point.northing, point.easting, point.elevation) == (
        pytest.approx(900_000.0), pytest.approx(2_250_000.0), pytest.approx(3900.0),
    )  # fmt: skip
    lon, lat = montana.to_lonlat([2_250_000.0], [900_000.0])
    text = f"Control Point,Latitude,Longitude\nCP-1,{lat[0]:.10f},{lon[0]:.10f}\n"
    (point,) = read(table(text), montana).value
    assert (point.easting, point.northing) == (
        pytest.approx(2_250_000.0, abs=1e-3), pytest.approx(900_000.0, abs=1e-3),
    )  # fmt: skip


def test_points_of_a_layer_are_taken_where_they_are_drawn(tmp_path: Path, montana: Projection) -> None:
    lon, lat = montana.to_lonlat([2_250_000.0], [900_000.0])
    feature = {
        "type": "Feature",
        "properties": {"control_point": "CP-1", "datum": "NAD 83(2011)"},
        "geometry": {"type": "Point", "coordinates": [round(lon[0], 10), round(lat[0], 10)]},
    }
    path = tmp_path / "control.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}), "utf-8")
    source = read_source(path)
    assert source.kind == "control"
    (point,) = read(source.table("control"), montana).value
    assert (point.name, point.easting) == ("CP-1", pytest.approx(2_250_000.0, abs=1e-3))


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("CP-3,900000,,3900,,,,", "one of the two coordinates is missing"),
        ("CP-3,,,3900,0.02,NAD 83,static,cap", "no coordinates"),
        ("CP-3,north,2250000,3900,,,,", "number"),
        ("CP-3,900000,2250000,3900,-0.1,,,", "no standard deviation above 0"),
        ("CP-1,900000,2250000,3900,,,,", "control point CP-1 stands twice, in rows 2 and 3"),
    ],
)
def test_a_point_that_cannot_be_read_refuses_the_list(
    table: Table, montana: Projection, row: str, reason: str
) -> None:
    text = HEADS + "CP-1,900000,2250000,3900,0.02,NAD 83,static,cap\n" + row + "\n"
    with pytest.raises(InputRefused) as refused:
        read(table(text), montana)
    assert reason in str(refused.value)
    assert all(problem.row == 3 for problem in refused.value.problems)


def test_lengths_of_a_metric_job_are_metres(table: Table) -> None:
    crs = Projection.from_text("EPSG:32612")
    assert crs.unit is LengthUnit.METRE
    (point,) = read(table("Control Point,N,E,Elev (ft)\nCP-1,5170000,640000,3900\n"), crs).value
    assert point.elevation == pytest.approx(1188.72)


def test_a_coordinate_of_zero_is_one(table: Table, montana: Projection) -> None:
    (point,) = read(table("Control Point,N,E\nCP-1,0,2250000\n"), montana).value
    assert (point.northing, point.easting) == (0.0, 2_250_000.0)


def test_a_shape_that_is_no_point_refuses_the_layer(tmp_path: Path, montana: Projection) -> None:
    shapes: list[dict[str, object]] = [
        {"type": "Point", "coordinates": [-108.4, 46.7]},
        {"type": "MultiPoint", "coordinates": [[-108.4, 46.7], [-108.3, 46.7]]},
    ]
    features = [
        {"type": "Feature", "properties": {"control_point": f"CP-{at}"}, "geometry": shape}
        for at, shape in enumerate(shapes)
    ]
    path = tmp_path / "control.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), "utf-8")
    with pytest.raises(InputRefused, match="the feature is no point"):
        read(read_source(path).table("control"), montana)
