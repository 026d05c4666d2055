from __future__ import annotations

import json
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import geopandas
import pyogrio
import pytest
import shapely

from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.centreline import read_centrelines
from linemap.io.design.structures import read_structures
from linemap.io.source.container import MAX_BYTES
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


SECRET = "ref,N,E,structure\n1,900000,2250000,kept elsewhere\n"


def pointing_elsewhere(other: Path) -> dict[str, str]:
    """Texts that GDAL knows as formats which read another file, or ask an address."""
    virtual = f"""<OGRVRTDataSource><OGRVRTLayer name="other"><SrcDataSource>{other}</SrcDataSource>
        </OGRVRTLayer></OGRVRTDataSource>"""
    streamed = {"type": "gdal_streamed_alg", "command_line": f"gdal vector pipeline ! read {other} ! write x"}
    return {
        "virtual": virtual,
        "streamed": json.dumps(streamed),
        "streamed features": json.dumps(
            {**streamed, "features": [], "relative_paths_relative_to_this_file": False}
        ),
        "service": "<OGRWFSDataSource><URL>http://127.0.0.1:9/wfs</URL></OGRWFSDataSource>",
        "topology": json.dumps(
            {"type": "Topology", "objects": {"a": {"type": "Point", "coordinates": [0, 0]}}, "arcs": []}
        ),
        "table": SECRET,
    }


@pytest.mark.parametrize("what", list(pointing_elsewhere(Path())))
@pytest.mark.parametrize("name", ["s.kml", "s.geojson"])
def test_a_file_is_read_as_its_suffix_says_and_as_nothing_else(save: Save, what: str, name: str) -> None:
    other = save("other.csv", SECRET)
    path = save(name, pointing_elsewhere(other)[what])
    with pytest.raises(InputRefused, match=rf"{name}.*(cannot be opened|holds no features)"):
        read_source(path)


def test_other_drivers_are_there_again_after_reading(tmp_path: Path) -> None:
    before = pyogrio.list_drivers()
    frame().to_file(tmp_path / "s.gpkg", engine="pyogrio")
    read_source(tmp_path / "s.gpkg")
    assert pyogrio.list_drivers() == before


def test_nothing_that_lies_beside_a_file_is_read_but_the_parts_of_a_shapefile(
    tmp_path: Path, montana: Projection
) -> None:
    frame().to_file(tmp_path / "s.shp", engine="pyogrio")
    plain = read_source(tmp_path / "s.shp").tables[0]
    (tmp_path / "s.shp.aux.xml").write_text("<PAMDataset><SRS>EPSG:4326</SRS></PAMDataset>")
    (tmp_path / "s.qix").write_bytes(b"SQT" + b"\xff" * 40)
    (tmp_path / "s.qpj").write_text("damaged")
    again = read_source(tmp_path / "s.shp").tables[0]
    assert (again.crs, again.rows) == (plain.crs, plain.rows)
    (tmp_path / "S.SHP").write_bytes((tmp_path / "s.shp").read_bytes())
    for suffix in (".SHX", ".DBF", ".PRJ"):
        (tmp_path / f"S{suffix}").write_bytes((tmp_path / f"s{suffix.lower()}").read_bytes())
    assert read_source(tmp_path / "S.SHP").tables[0].rows == plain.rows


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        (
            "CREATE VIEW more AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i FROM n) SELECT i FROM n",
            "a view",
        ),
        ("CREATE VIRTUAL TABLE more USING fts5(words)", "a virtual table"),
        ("CREATE VIRTUAL TABLE more /* USING rtree */ USING fts5(words)", "a virtual table"),
        ("CREATE TABLE more (a TEXT, b TEXT AS/**/(upper(a)))", "a computed column"),
    ],
)
def test_a_geopackage_in_which_something_runs_is_refused(tmp_path: Path, statement: str, words: str) -> None:
    path = tmp_path / "s.gpkg"
    frame().to_file(path, engine="pyogrio")
    with closing(sqlite3.connect(path)) as opened:
        opened.execute(statement)
        opened.commit()
    with pytest.raises(InputRefused, match=rf's\.gpkg, "more".*{words}'):
        read_source(path)


def test_a_geopackage_with_triggers_and_without_its_journal_is_read(tmp_path: Path) -> None:
    path = tmp_path / "s.gpkg"
    frame().to_file(path, engine="pyogrio")
    with closing(sqlite3.connect(path)) as opened:
        opened.execute("CREATE TRIGGER own AFTER INSERT ON s BEGIN DELETE FROM s; END")
        opened.execute("PRAGMA journal_mode=WAL")
        opened.commit()
    assert len(read_source(path).tables[0].rows) == 2
    (tmp_path / "s.gpkg-wal").write_bytes(b"pages")
    with pytest.raises(InputRefused, match=r"newest changes are still in s\.gpkg-wal"):
        read_source(path)


def test_what_the_library_says_names_the_file_and_not_where_it_lies(tmp_path: Path) -> None:
    frame().to_file(tmp_path / "s.shp", engine="pyogrio")
    (tmp_path / "s.shx").unlink()
    with pytest.raises(InputRefused, match=r"Unable to open s\.shx"):
        read_source(tmp_path / "s.shp")


def kmz(tmp_path: Path, parts: dict[str, str]) -> Path:
    path = tmp_path / "s.kmz"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
    return path


def test_a_kmz_is_read_as_the_kml_inside(tmp_path: Path, save: Save) -> None:
    plain = read_source(save("s.kml", KML), kind="structures").tables[0]
    packed = read_source(kmz(tmp_path, {"doc.kml": KML, "files/a.png": "x"}), kind="structures").tables[0]
    assert (packed.rows, packed.crs) == (plain.rows, plain.crs)


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"a.kml": KML, "b.kml": KML}, "2 KML documents"),
        ({"a.png": "x"}, "0 KML documents"),
        ({"doc.kml": "<!DOCTYPE kml>" + KML}, "document type"),
        ({"doc.kml": " " * (MAX_BYTES + 1)}, "unpacks to more than"),
    ],
)
def test_other_archives_are_refused(tmp_path: Path, parts: dict[str, str], words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_source(kmz(tmp_path, parts))
