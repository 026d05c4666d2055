from __future__ import annotations

import csv
import json
import os
import time
import zipfile
from pathlib import Path
from typing import Any

import geopandas
import numpy as np
import pyarrow.parquet
import pyogrio
import pytest
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from python_calamine import CalamineWorkbook

from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.design.structures import read_structures
from linemap.io.output.table import Points
from linemap.io.output.write import OUTPUT_SUFFIXES, write_table, write_text
from linemap.io.source.read import read_source

READABLE = (".csv", ".xlsx", ".geojson", ".gpkg")


def texts(*values: str) -> np.ndarray[Any, Any]:
    column = np.empty(len(values), dtype=object)
    column[:] = values
    return column


def columns(numbers: np.ndarray[Any, Any] | None = None) -> dict[str, np.ndarray[Any, Any]]:
    number = texts("1/1", "1/2", "12/3A", "-0+12.30") if numbers is None else numbers
    size = len(number)
    return {
        "line": texts(*["North"] * size),
        "structure": number,
        "station_text": texts(*["118+40.00"] * size),
        "offset": np.where(np.arange(size) % 2 == 0, np.nan, 0.1 + np.arange(size)),
        "station_region": np.arange(size),
        "reversed": np.arange(size) % 2 == 0,
        "easting": 2250000.0 + np.arange(size) * 100.1,
        "northing": 900000.0 + np.arange(size) / 3.0,
        "findings": texts(*["=HYPERLINK(1) °"] * size),
    }


def points(data: dict[str, np.ndarray[Any, Any]], projection: Projection) -> Points:
    longitude, latitude = projection.to_lonlat(data["easting"], data["northing"])
    return Points(
        longitude=longitude,
        latitude=latitude,
        easting=data["easting"],
        northing=data["northing"],
        crs=projection.text,
    )


@pytest.mark.parametrize("suffix", READABLE)
def test_what_is_written_reads_back(tmp_path: Path, montana: Projection, suffix: str) -> None:
    data, path = columns(), tmp_path / f"out{suffix}"
    write_table(data, path, points=points(data, montana), length_note="ft")
    table = read_source(path).tables[0]
    assert table.kinds == ("structures",)
    assert list(table.headers) == list(data)
    back = dict(zip(table.headers, zip(*table.rows, strict=True), strict=True))
    for name in ("line", "structure", "station_text", "findings"):
        assert list(back[name]) == list(data[name])
    found = read_structures(table, projection=montana).value
    # GeoJSON carries 9 decimals of a degree, 0.1 mm.
    assert found.easting == pytest.approx(data["easting"], abs=4e-4 if suffix == ".geojson" else 1e-9)
    assert found.northing == pytest.approx(data["northing"], abs=4e-4 if suffix == ".geojson" else 1e-9)
    assert found.number.tolist()[:3] == ["1/1", "1/2", "12/3A"]


def test_csv_is_plain_and_cannot_be_run(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    write_table(columns(), path)
    raw = path.read_bytes()
    assert not raw.startswith(b"\xef\xbb\xbf")
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows[0]["structure"] == "1/1"
    assert (rows[0]["offset"], rows[1]["offset"]) == ("", "1.1")
    assert (rows[0]["reversed"], rows[1]["reversed"]) == ("true", "false")
    assert float(rows[1]["northing"]) == 900000.0 + 1 / 3.0
    assert rows[0]["findings"] == "'=HYPERLINK(1) °"
    assert rows[3]["structure"] == "'-0+12.30"


def test_xlsx_texts_stay_texts_and_exports_are_equal_byte_for_byte(tmp_path: Path) -> None:
    one, two = tmp_path / "one.xlsx", tmp_path / "two.xlsx"
    write_table(columns(), one, title="a very long title of more than 31 characters")
    time.sleep(1.1)
    write_table(columns(), two, title="a very long title of more than 31 characters")
    assert one.read_bytes() == two.read_bytes()
    row = read_source(one).tables[0].rows[0]
    assert row[1] == "1/1"
    assert row[8] == "=HYPERLINK(1) °"
    assert row[3] in {"", None}
    assert row[5] is True


def test_geojson_is_in_longitude_and_latitude_with_nulls(tmp_path: Path, montana: Projection) -> None:
    data, path = columns(), tmp_path / "out.geojson"
    where = points(data, montana)
    where.longitude[3] = np.nan
    write_table(data, path, points=where, length_note="lengths in ft")
    document = json.loads(path.read_text(encoding="utf-8"))
    first, last = document["features"][0], document["features"][3]
    # The point of beginning of the invented line, published to 5 decimals.
    assert first["geometry"]["coordinates"] == pytest.approx([-108.37717, 46.71312], abs=5e-6)
    assert first["properties"]["offset"] is None
    assert first["properties"]["reversed"] is True
    assert last["geometry"] is None
    assert document["length_note"] == "lengths in ft"
    assert "crs" not in document


def test_geopackage_registers_the_grid_and_keeps_types(tmp_path: Path, montana: Projection) -> None:
    data, path = columns(), tmp_path / "out.gpkg"
    write_table(data, path, points=points(data, montana), length_note="lengths in ft", title="structures")
    info = pyogrio.read_info(path, layer="structures")
    assert info["crs"] == "EPSG:6515"
    assert info["layer_metadata"]["LENGTH_NOTE"] == "lengths in ft"
    frame = geopandas.read_file(path, engine="pyogrio")
    assert frame["offset"].isna().tolist() == [True, False, True, False]
    assert frame["reversed"].tolist() == [True, False, True, False]
    assert frame.geometry.x.tolist() == data["easting"].tolist()


def test_parquet_keeps_everything(tmp_path: Path, montana: Projection) -> None:
    data, path = columns(), tmp_path / "out.parquet"
    write_table(data, path, points=points(data, montana), length_note="ft", source="job 7d44, life 0c2f")
    frame = geopandas.read_parquet(path)
    about = pyarrow.parquet.read_schema(path).metadata
    assert (about[b"source"], about[b"length_note"]) == (b"job 7d44, life 0c2f", b"ft")
    assert frame.crs.to_epsg() == 6515
    assert frame["structure"].tolist() == data["structure"].tolist()
    np.testing.assert_array_equal(frame["offset"], data["offset"])
    np.testing.assert_array_equal(frame.geometry.y, data["northing"])


@pytest.mark.parametrize("suffix", OUTPUT_SUFFIXES)
def test_an_existing_file_is_replaced_whole(tmp_path: Path, montana: Projection, suffix: str) -> None:
    data, path = columns(), tmp_path / f"out{suffix}"
    path.write_bytes(b"old")
    write_table(data, path, points=points(data, montana))
    assert path.read_bytes()[:3] != b"old"
    assert os.listdir(tmp_path) == [path.name]


@pytest.mark.parametrize("suffix", OUTPUT_SUFFIXES)
def test_an_empty_table_can_be_written(tmp_path: Path, montana: Projection, suffix: str) -> None:
    data = {name: column[:0] for name, column in columns().items()}
    write_table(data, tmp_path / f"out{suffix}", points=points(data, montana))
    assert (tmp_path / f"out{suffix}").stat().st_size > 0


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("out.docx", "cannot be written as .docx"),
        ("out", "a file without suffix"),
        ("missing/out.csv", "cannot be written"),
        ("missing/out.gpkg", "cannot be written"),
        ("folder.csv", "is a folder"),
        ("out.geojson", "has no positions"),
        ("out.gpkg", "has no positions"),
    ],
)
def test_what_cannot_be_written_leaves_nothing_behind(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(InputRefused, match=words):
        write_table(columns(), tmp_path / name)
    assert os.listdir(tmp_path) == ["folder.csv"]


def test_columns_of_different_length_are_a_mistake_of_the_caller(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="differ in length"):
        write_table({"a": np.zeros(2), "b": np.zeros(3)}, tmp_path / "out.csv")


def test_texts_are_written_whole(tmp_path: Path) -> None:
    write_text("<p>Ö</p>", tmp_path / "page.html")
    assert (tmp_path / "page.html").read_text(encoding="utf-8") == "<p>Ö</p>"
    with pytest.raises(InputRefused, match="cannot be written"):
        write_text("x", tmp_path / "none" / "page.html")


PRINTABLE = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), min_size=1, max_size=8)


@given(st.lists(PRINTABLE, min_size=1, max_size=5))
@settings(max_examples=examples(25), suppress_health_check=[HealthCheck.function_scoped_fixture])
@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_any_text_survives_the_round_trip(tmp_path: Path, suffix: str, values: list[str]) -> None:
    path = tmp_path / f"out{suffix}"
    data = {"structure": texts(*[f"1/{n}" for n in range(len(values))]), "remarks": texts(*values)}
    data |= {"easting": np.full(len(values), 2.25e6), "northing": np.full(len(values), 9e5)}
    write_table(data, path)
    assert [row[1] for row in read_source(path).tables[0].rows] == values


NUMBERS = ["1/2", "3/4", "10/5", "12/30", "2/14", "21/4", "12/3A", "007", "1e5", "=1/2", "12/3.0"]


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_structure_numbers_survive_a_round_trip(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"out{suffix}"
    columns = {
        "structure": np.array(NUMBERS, dtype=object),
        "easting": np.arange(len(NUMBERS)) + 2_250_000.5,
        "northing": np.arange(len(NUMBERS)) + 900_000.25,
    }
    write_table(columns, path)
    (table,) = read_source(path).tables
    assert table.column(0) == NUMBERS
    assert [float(str(cell)) for cell in table.column(1)] == columns["easting"].tolist()


def test_cells_of_a_workbook_are_texts_to_a_spreadsheet(tmp_path: Path) -> None:
    """A spreadsheet turns what it is given as text into a date only where the cell is not text."""
    path = tmp_path / "out.xlsx"
    write_table({"structure": np.array(NUMBERS, dtype=object)}, path)
    cells = [row[0] for row in CalamineWorkbook.from_path(path).get_sheet_by_index(0).to_python()[1:]]
    assert cells == NUMBERS
    assert all(type(cell) is str for cell in cells)
    with zipfile.ZipFile(path) as book:
        assert b'formatCode="@"' in book.read("xl/styles.xml")
