"""The generator's design files against the answer key and against numbers typed from the design."""

from __future__ import annotations

import csv
import hashlib
import importlib.util
import json
import math
import subprocess
import sys
import tomllib
from itertools import pairwise
from pathlib import Path

import pyproj
import pytest
from python_calamine import CalamineWorkbook

Rows = list[dict[str, str]]
Key = dict[str, Rows]

FACTOR = 0.999217
#: Point, true ground distance, station, deflection (degrees, minutes, seconds, side), northing, easting.
POINTS = [
    ("POB", 0.00, "0+00.00", None, 900000.00, 2250000.00),
    ("PI-1", 11840.00, "118+40.00", (3, 12, 40, "R"), 905510.59, 2260468.98),
    ("PI-2", 26050.00, "260+50.00", (18, 45, 10, "L"), 911410.04, 2273384.26),
    ("PI-3", 35705.50, "357+05.50", (41, 30, 0, "R"), 918027.11, 2280405.45),
    ("PI-4", 52025.50, "524+10.00", (1, 5, 20, "L"), 918540.13, 2296704.60),
    ("PI-5", 64505.75, "648+90.25", (62, 10, 30, "L"), 919169.23, 2309159.20),
    ("PI-6", 73435.75, "738+20.25", (7, 48, 15, "R"), 927260.61, 2312920.81),
    ("PI-7", 91180.75, "915+65.25", (27, 22, 50, "R"), 942175.25, 2322509.63),
    ("PI-8", 104386.50, "1047+10.25", (12, 0, 0, "L"), 948749.40, 2333950.76),
    ("PI-9", 114496.50, "1148+20.25", (34, 55, 5, "L"), 955493.53, 2341471.99),
    ("POE", 117736.50, "1180+60.25", None, 958645.45, 2342211.27),
]


def table(path: Path, *, header_row: int = 0) -> Rows:
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    return [dict(zip(rows[header_row], row, strict=True)) for row in rows[header_row + 1 :] if any(row)]


def structure_list(folder: Path, revision: str = "B") -> Rows:
    return table(folder / f"structures_rev{revision}.csv", header_row=2)


def pole_schedule(folder: Path, name: str = "pole_schedule.xlsx") -> list[dict[str, object]]:
    rows = CalamineWorkbook.from_path(folder / name).get_sheet_by_index(0).to_python()
    return [dict(zip([str(cell) for cell in rows[0]], row, strict=True)) for row in rows[1:]]


def number(text: str) -> float:
    return float(text.replace(",", ""))


def centre(row: dict[str, str]) -> tuple[float, float]:
    return number(row["Northing (ft)"]), number(row["Easting (ft)"])


def test_centreline_is_the_design(demo_files: Path) -> None:
    rows = table(demo_files / "centreline.csv")
    assert [row["PI"] for row in rows] == [point[0] for point in POINTS]
    for row, (_, _, station, turn, northing, easting) in zip(rows, POINTS, strict=True):
        assert row["Station"] == station
        assert row["Deflection"] == ("" if turn is None else "{}°{:02d}'{:02d}\" {}".format(*turn))
        assert math.dist(centre(row), (northing, easting)) < 0.0071


def test_centreline_coordinates_hold_the_angles_and_lengths(demo_files: Path) -> None:
    points = [centre(row) for row in table(demo_files / "centreline.csv")]
    legs = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)]
    azimuths = [math.degrees(math.atan2(east, north)) for north, east in legs]
    assert azimuths[0] == pytest.approx(62 + 14 / 60 + 20 / 3600, abs=1e-5)
    for (back, ahead), (_, _, _, turn, _, _) in zip(pairwise(azimuths), POINTS[1:-1], strict=True):
        assert turn is not None
        degrees = (turn[0] + turn[1] / 60 + turn[2] / 3600) * (1 if turn[3] == "R" else -1)
        assert ahead - back == pytest.approx(degrees, abs=1e-5)
    distance = 0.0
    for (north, east), (_, true, *_) in zip(legs, POINTS[1:], strict=True):
        distance += math.hypot(north, east) / FACTOR
        assert distance == pytest.approx(true, abs=0.001)


def test_equations(demo_files: Path) -> None:
    rows = table(demo_files / "equations.csv")
    assert [tuple(row.values())[1:] for row in rows] == [
        ("EQ-1", "470+00.00", "473+84.50"),
        ("EQ-2", "953+84.50", "953+23.75"),
    ]


def test_structures_are_the_printed_list(demo_files: Path, key: Key) -> None:
    rows = structure_list(demo_files)
    assert len(rows) == len(key["structures"]) == 121
    for row, wanted in zip(rows, key["structures"], strict=True):
        assert row["Structure"] == wanted["structure"]
        assert row["Station"].split(" ")[0] == wanted["station"]
        assert row["Type"] == wanted["type"]
        assert row["Ahead Span (ft)"] == wanted["ahead_span_ft"]
        assert row["Line Angle"] == wanted["deflection"].replace("°", "-").replace("'", "-").replace('"', "")


def test_structure_centres_lie_at_their_true_distance(demo_files: Path, key: Key) -> None:
    vertices = [centre(row) for row in table(demo_files / "centreline.csv")]
    trues = [point[1] for point in POINTS]
    for row, wanted in zip(structure_list(demo_files), key["structures"], strict=True):
        true = float(wanted["true_ft"])
        leg = max(i for i in range(10) if trues[i] <= true)
        share = (true - trues[leg]) / (trues[leg + 1] - trues[leg])
        for axis in (0, 1):
            start, end = vertices[leg][axis], vertices[leg + 1][axis]
            assert centre(row)[axis] == pytest.approx(start + share * (end - start), abs=0.001)


def test_structure_centres_are_the_middle_of_the_key_poles(demo_files: Path, key: Key) -> None:
    outer: dict[str, Rows] = {}
    for pole in key["poles"]:
        outer.setdefault(pole["structure"], []).append(pole)
    for row in structure_list(demo_files):
        first, last = outer[row["Structure"]][0], outer[row["Structure"]][-1]
        middle = [(float(first[name]) + float(last[name])) / 2 for name in ("northing_ft", "easting_ft")]
        assert math.dist(centre(row), middle) < 0.001
        north, east = (float(last[name]) - float(first[name]) for name in ("northing_ft", "easting_ft"))
        gaps = len(outer[row["Structure"]]) - 1
        assert math.hypot(north, east) / FACTOR / gaps == pytest.approx(
            float(row["Pole Spacing (ft)"]), abs=0.001
        )


def test_spans_add_up_to_the_line(demo_files: Path) -> None:
    spans = [float(row["Ahead Span (ft)"]) for row in structure_list(demo_files) if row["Ahead Span (ft)"]]
    assert sum(spans) == pytest.approx(117736.50, abs=1e-6)
    assert (len(spans), min(spans), max(spans)) == (120, 700.0, 1560.0)
    assert sum(spans) / 120 == pytest.approx(981.1, abs=0.05)


def test_station_in_the_overlap_names_its_region(demo_files: Path) -> None:
    rows = {row["Structure"]: row["Station"] for row in structure_list(demo_files)}
    assert rows["18/6"] == "953+52.50 (R2)"
    assert [name for name, station in rows.items() if "R" in station] == ["18/6"]


def test_section_breaks(demo_files: Path) -> None:
    breaks = [row["Structure"] for row in structure_list(demo_files) if row["Section Break"] == "yes"]
    assert breaks == ["1/1", "7/5", "13/2", "16/4", "18/2", "22/4", "23/2"]


def test_list_has_title_rows_blank_rows_and_thousands_separators(demo_files: Path) -> None:
    lines = (demo_files / "structures_revB.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 2 + 1 + 121 + 22
    assert sum(set(line) == {","} for line in lines) == 22
    assert sum('"9' in line and "," in line for line in lines) == 24


def test_revision_c_moves_one_structure(demo_files: Path) -> None:
    before, after = structure_list(demo_files), structure_list(demo_files, "C")
    changed = [a["Structure"] for a, b in zip(after, before, strict=True) if a != b]
    assert changed == ["15/1", "15/2"]  # 15/1 by its ahead span only
    moved = next(row for row in after if row["Structure"] == "15/2")
    stood = next(row for row in before if row["Structure"] == "15/2")
    assert math.dist(centre(moved), centre(stood)) == pytest.approx(8.0 * FACTOR, abs=0.0015)
    assert (moved["Station"], moved["Ahead Span (ft)"]) == ("757+04.25", "983.00")


def test_pole_schedule_and_dig_depths(demo_files: Path, key: Key) -> None:
    poles = pole_schedule(demo_files)
    assert len(poles) == len(key["poles"]) == 249
    frames: dict[str, list[dict[str, object]]] = {}
    for pole, wanted in zip(poles, key["poles"], strict=True):
        assert (pole["Structure"], pole["Pole"]) == (wanted["structure"], wanted["pole"])
        assert (pole["Length (ft)"], pole["Class"]) == (float(wanted["length_ft"]), wanted["class"])
        assert pole["Ground Elev (ft)"] == pytest.approx(float(wanted["ground_ft"]), abs=0.0051)
        frames.setdefault(wanted["structure"], []).append(pole)
    for wanted in key["structures"]:
        rows = [
            tuple(float(str(pole[name])) for name in ("Ground Elev (ft)", "Length (ft)", "Min Depth (ft)"))
            for pole in frames[wanted["structure"]]
        ]
        top = min(ground + length - depth for ground, length, depth in rows)
        printed = [float(text) for text in wanted["dig_depths_ft"].split("/")]
        for (ground, length, _), depth in zip(rows, printed, strict=True):
            assert ground + length - top == pytest.approx(depth, abs=0.011)


def test_unequal_legs(demo_files: Path) -> None:
    lengths: dict[object, list[object]] = {}
    for pole in pole_schedule(demo_files):
        lengths.setdefault(pole["Structure"], []).append(pole["Length (ft)"])
    unequal = {name: pair for name, pair in lengths.items() if len(set(pair)) > 1}
    assert unequal == {name: [75.0, 70.0] for name in ("6/3", "6/4", "6/5", "7/1")}


def test_pole_schedule_revision_c(demo_files: Path) -> None:
    def sizes(name: str) -> dict[tuple[object, object], tuple[object, object]]:
        rows = pole_schedule(demo_files, name)
        return {(row["Structure"], row["Pole"]): (row["Length (ft)"], row["Class"]) for row in rows}

    before, after = sizes("pole_schedule.xlsx"), sizes("pole_schedule_revC.xlsx")
    changed = {pole: (before[pole], size) for pole, size in after.items() if size != before[pole]}
    assert changed == {
        ("9/2", "A"): ((80.0, "1"), (85.0, "1")),
        ("9/2", "B"): ((80.0, "1"), (85.0, "1")),
        ("20/6", "A"): ((70.0, "2"), (70.0, "1")),
        ("20/6", "B"): ((70.0, "2"), (70.0, "1")),
    }


def test_types_count(demo_files: Path) -> None:
    types = {row["Type"]: row for row in table(demo_files / "structure_types.csv")}
    used = [row["Type"] for row in structure_list(demo_files)]
    counts = {code: used.count(code) for code in types}
    assert counts == {
        "H-TAN": 106, "H-LONG": 2, "H-ANG": 2, "P3-SUS": 3, "P3-DE": 4, "H-DDE": 1, "H-TRN": 1, "TERM": 2,
    }  # fmt: skip
    assert sum(counts[code] * int(row["Poles"]) for code, row in types.items()) == 249


def test_job_file(demo_files: Path) -> None:
    job = tomllib.loads((demo_files / "job.toml").read_text(encoding="utf-8"))
    assert job["line"]["crs"] == "EPSG:6515"
    assert job["line"]["combined_factor"] == FACTOR
    assert (job["line"]["back_end"], job["line"]["ahead_end"]) == ("Brindle Gap", "Amber Sill")
    assert job["job"]["data_date"].isoformat() == "2026-05-15"


def test_context_layers(demo_files: Path) -> None:
    features = json.loads((demo_files / "context.geojson").read_text(encoding="utf-8"))["features"]
    layers = [feature["properties"]["layer"] for feature in features]
    wanted = {"gate": 11, "access": 14, "parcel": 19, "crossing": 6, "nest": 1, "cultural": 1}
    assert {name: layers.count(name) for name in wanted} == wanted
    assert {f["properties"]["layer"] for f in features if f["properties"]["restricted"]} == {
        "nest",
        "cultural",
    }
    fords = [f for f in features if "ford_tons" in f["properties"]]
    assert [f["properties"]["layer"] for f in fords] == ["access"] * 3


def test_nest_distances_in_the_grid(demo_files: Path) -> None:
    features = json.loads((demo_files / "context.geojson").read_text(encoding="utf-8"))["features"]
    nest = next(f["geometry"]["coordinates"] for f in features if f["properties"]["layer"] == "nest")
    to_grid = pyproj.Transformer.from_crs("EPSG:6318", "EPSG:6515", always_xy=True)
    easting, northing = to_grid.transform(*nest)
    centres = {row["Structure"]: centre(row) for row in structure_list(demo_files)}
    for name, feet in (("14/2", 455.86), ("14/3", 902.45), ("14/1", 1121.84)):
        assert math.dist(centres[name], (northing, easting)) / FACTOR == pytest.approx(feet, abs=0.02)


def test_projection_agrees_with_proj(generator: Path, key: Key) -> None:
    spec = importlib.util.spec_from_file_location("demo_projection", generator / "projection.py")
    assert spec is not None
    assert spec.loader is not None
    projection = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(projection)
    to_degrees = pyproj.Transformer.from_crs("EPSG:6515", "EPSG:6318", always_xy=True)
    for point in key["centreline"]:
        northing, easting = float(point["northing_ft"]), float(point["easting_ft"])
        wanted = to_degrees.transform(easting, northing)
        assert projection.to_longitude_latitude(northing, easting) == pytest.approx(wanted, abs=1e-9)
        assert wanted == pytest.approx((float(point["longitude"]), float(point["latitude"])), abs=6e-6)


@pytest.mark.process
def test_every_run_writes_the_same_bytes(demo_files: Path, generator: Path, tmp_path: Path) -> None:
    subprocess.run([sys.executable, str(generator), str(tmp_path / "again")], check=True, capture_output=True)
    digests = [
        {
            str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in folder.rglob("*")
            if path.is_file()
        }
        for folder in (demo_files, tmp_path / "again")
    ]
    assert digests[0] == digests[1]
    assert sum(path.stat().st_size for path in demo_files.rglob("*")) < 2_000_000


@pytest.mark.process
def test_folder_is_required(generator: Path) -> None:
    run = subprocess.run([sys.executable, str(generator)], capture_output=True, text=True, check=False)
    assert run.returncode == 2
    assert "OUT_FOLDER" in run.stderr


@pytest.mark.process
def test_examples_in_the_generator_hold(generator: Path) -> None:
    modules = sorted(path.name for path in generator.glob("*.py") if path.name != "__main__.py")
    run = subprocess.run(
        [sys.executable, "-m", "doctest", *modules],
        cwd=generator,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout
