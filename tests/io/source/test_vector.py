from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas
import pytest
import shapely

from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.centreline import read_centrelines
from linemap.io.design.structures import read_structures
from linemap.io.source.read import read_source

Save = Callable[[str, str | bytes], Path]

EASTING, NORTHING = [2250000.0, 2250948.7], [900000.0, 900499.4]
KML = """<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>
<Placemark><name>1/1</name><Point><coordinates>-108.37717,46.71312,0</coordinates></Point></Placemark>
</Document></kml>"""


def frame(**columns: Any) -> geopandas.GeoDataFrame:
    columns = columns or {"structure": ["1/1", "1/2"], "spacing": [12.5, None]}
    return geopandas.GeoDataFrame(columns, geometry=shapely.points(EASTING, NORTHING), crs="EPSG:6515")


@pytest.mark.parametrize("name", ["s.gpkg", "s.shp", "s.geojson"])
def test_points_come_from_the_reference_their_file_declares(
    tmp_path: Path, montana: Projection, name: str
) -> None:
    path = tmp_path / name
    data = frame().to_crs("EPSG:4326") if name.endswith("json") else frame()
    data.to_file(path, engine="pyogrio")
    table = read_source(path).tables[0]
    assert table.kinds == ("structures",)
    found = read_structures(table, projection=montana).value
    assert found.number.tolist() == ["1/1", "1/2"]
    assert found.easting == pytest.approx(EASTING, abs=1e-3)
    assert found.northing == pytest.approx(NORTHING, abs=1e-3)
    assert found.spacing == pytest.approx([12.5, float("nan")], nan_ok=True)
    assert found.source_row.tolist() == [1, 2]


def test_another_projection_is_converted(tmp_path: Path, montana: Projection) -> None:
    path = tmp_path / "s.gpkg"
    frame().to_crs("EPSG:6341").to_file(path, engine="pyogrio")
    found = read_structures(read_source(path).tables[0], projection=montana).value
    assert found.easting == pytest.approx(EASTING, abs=0.01)


def test_a_datum_that_cannot_be_reached_is_refused_by_file(tmp_path: Path, montana: Projection) -> None:
    path = tmp_path / "s.gpkg"
    # NAD83 of 1986 to NAD83(2011) needs grids that are not installed; "ballpark" would move nothing.
    frame().set_crs("EPSG:26912", allow_override=True).to_file(path, engine="pyogrio")
    with pytest.raises(InputRefused, match=r"s\.gpkg.*ballpark"):
        read_structures(read_source(path).tables[0], projection=montana)


def test_a_shapefile_without_prj_is_refused(tmp_path: Path, montana: Projection) -> None:
    path = tmp_path / "s.shp"
    frame().to_file(path, engine="pyogrio")
    path.with_suffix(".prj").unlink()
    with pytest.raises(InputRefused, match=r"add its \.prj file"):
        read_structures(read_source(path).tables[0], projection=montana)


def test_layers_of_a_geopackage_are_tables(tmp_path: Path, montana: Projection) -> None:
    path = tmp_path / "job.gpkg"
    line = geopandas.GeoDataFrame(
        {"line": ["N"]},
        geometry=[shapely.LineString(list(zip(EASTING, NORTHING, strict=True)))],
        crs="EPSG:6515",
    )
    frame().to_file(path, layer="structure", engine="pyogrio")
    line.to_file(path, layer="centreline", engine="pyogrio")
    source = read_source(path)
    assert [table.sheet for table in source.tables] == ["structure", "centreline"]
    found = read_centrelines(source.table("centreline"), projection=montana).value
    assert found["N"].easting == pytest.approx(EASTING)
    with pytest.raises(InputRefused, match="structure, centreline"):
        source.table("shots")


def test_a_kind_said_by_the_user_still_picks_the_layer_that_fits(tmp_path: Path) -> None:
    path = tmp_path / "job.gpkg"
    frame(colour=["red", "blue"]).to_file(path, layer="other", engine="pyogrio")
    frame().to_file(path, layer="structure", engine="pyogrio")
    assert read_source(path, kind="structures").table("structures").sheet == "structure"


def test_kml_points_are_read_by_name(save: Save, montana: Projection) -> None:
    table = read_source(save("s.kml", KML), kind="structures").tables[0]
    found = read_structures(table, projection=montana).value
    assert found.number.tolist() == ["1/1"]
    assert found.easting[0] == pytest.approx(2_250_000, abs=3)


def test_kml_with_entities_is_refused_unread(save: Save) -> None:
    bomb = KML.replace("<kml", '<!DOCTYPE kml [<!ENTITY a "1/1"><!ENTITY b "&a;&a;&a;&a;">]><kml').replace(
        "1/1<", "&b;<"
    )
    with pytest.raises(InputRefused, match="document type or entities"):
        read_source(save("s.kml", bomb))


def test_geojson_keeps_structure_numbers_and_dates_as_text(save: Save) -> None:
    feature = {
        "type": "Feature",
        "properties": {"structure": "1/2", "seen": "2026/01/02", "n": 3, "tags": ["a", "b"], "none": None},
        "geometry": {"type": "Point", "coordinates": [-108.3, 46.7]},
    }
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    table: RawTable = read_source(save("s.geojson", text)).tables[0]
    assert dict(zip(table.headers, table.rows[0], strict=True)) == {
        "structure": "1/2", "seen": "2026/01/02", "n": 3, "tags": "a; b", "none": None,
    }  # fmt: skip
    assert read_source(save("s.json", text)).tables[0].kinds == ("structures",)


def test_named_lines_alone_are_unclear(save: Save) -> None:
    line = {"type": "LineString", "coordinates": [[-108.3, 46.7], [-108.2, 46.8]]}
    features = [{"type": "Feature", "properties": {"name": "North"}, "geometry": line}]
    text = json.dumps({"type": "FeatureCollection", "features": features})
    assert read_source(save("s.geojson", text)).tables[0].kinds == ("centreline", "context")


@pytest.mark.parametrize(
    ("features", "words"),
    [
        ([], "no features"),
        ([{"type": "Feature", "properties": {"structure": "1/1"}, "geometry": None}], "no coordinates"),
        (
            [
                {
                    "type": "Feature",
                    "properties": {"structure": "1/1"},
                    "geometry": {"type": "LineString", "coordinates": [[-108.3, 46.7], [-108.2, 46.8]]},
                }
            ],
            "no point|do not name",
        ),
    ],
)
def test_features_that_are_no_structures_are_refused(
    save: Save, montana: Projection, features: list[Any], words: str
) -> None:
    text = json.dumps({"type": "FeatureCollection", "features": features})
    with pytest.raises(InputRefused, match=words):
        read_structures(read_source(save("s.geojson", text), kind="structures").tables[0], projection=montana)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("s.geojson", b'{"type": "FeatureCollection", "features": [{"type": "Feat'),
        ("s.gpkg", b"SQLite format 3\x00" + b"\x01" * 2000),
        ("s.shp", b"\x00\x00\x27\x0a" + b"\x00" * 200),
        ("s.kml", b"<kml><Document><Placemark>"),
        ("s.geojson", b'{"type": "FeatureCollection", "features": [' + b"[" * 100_000),
    ],
)
def test_damaged_maps_are_refused_in_one_message(save: Save, name: str, content: bytes) -> None:
    with pytest.raises(InputRefused) as caught:
        read_source(save(name, content))
    assert len(caught.value.problems) == 1
