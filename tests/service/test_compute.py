"""One-shot computation of the invented line's files against its written key, and every refusal."""

from __future__ import annotations

import csv
import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import geopandas
import numpy as np
import pytest
from python_calamine import CalamineWorkbook

from linemap.errors import InputRefused
from linemap.service.compute import Computed, ComputeRequest, compute

Key = dict[str, list[dict[str, str]]]
Rows = dict[str, dict[str, str]]
#: What scripts rely on; those of pole C stand where a three-pole structure does.
COLUMNS = (
    "line", "structure", "station", "station_text", "station_region", "offset", "back_span",
    "ahead_span", "wind_span", "ruling_span", "deflection_deg", "deflection_text",
    "span_deflection_deg", "structure_azimuth_deg", "arm_azimuth_deg", "convergence_deg", "grid_scale",
    "easting", "northing", "longitude", "latitude", "pole_spacing", "pole_a_easting", "pole_a_northing",
    "pole_b_easting", "pole_b_northing", "pole_c_easting", "pole_c_northing", "set_a_easting",
    "set_a_northing", "set_b_easting", "set_b_northing", "set_c_easting", "set_c_northing", "verdict",
    "reversed", "swapped", "rotation_deg", "rotation_sigma_deg", "along", "across", "spacing_error",
    "probability_in_tolerance", "findings",
)  # fmt: skip


def request_for(files: Path, out: Path) -> ComputeRequest:
    return ComputeRequest(
        centreline=files / "centreline.csv",
        structures=files / "structures_revB.csv",
        equations=files / "equations.csv",
        shots=tuple(sorted(files.glob("shots_*.csv"))),
        crs="EPSG:6515",
        combined_factor="0.999217",
        shot_order="pnezdh",
        out=out,
    )


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def computed(demo_files: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Computed, Rows]:
    out = tmp_path_factory.mktemp("computed") / "result.csv"
    told = compute(request_for(demo_files, out))
    return told, {row["structure"]: row for row in read(out)}


def test_every_station_span_and_deflection_of_the_key(computed: tuple[Computed, Rows], key: Key) -> None:
    _, rows = computed
    assert list(rows) == [row["structure"] for row in key["structures"]]
    for expected in key["structures"]:
        row = rows[expected["structure"]]
        assert row["station_text"] == expected["station"]
        assert row["station_region"] == expected["region"]
        assert abs(float(row["deflection_deg"]) - float(expected["deflection_deg"])) < 0.0001
        if expected["ahead_span_ft"]:
            assert abs(float(row["ahead_span"]) - float(expected["ahead_span_ft"])) < 0.001 + 0.0015
        else:
            assert row["ahead_span"] == ""


def test_design_poles_of_the_key(computed: tuple[Computed, Rows], key: Key) -> None:
    _, rows = computed
    for pole in key["poles"]:
        row = rows[pole["structure"]]
        letter = pole["pole"].lower()
        # list coordinates are printed to 0.001 ft
        assert abs(float(row[f"pole_{letter}_northing"]) - float(pole["northing_ft"])) < 0.002
        assert abs(float(row[f"pole_{letter}_easting"]) - float(pole["easting_ft"])) < 0.002


def test_columns_stand_in_the_promised_order(computed: tuple[Computed, Rows]) -> None:
    _, rows = computed
    assert tuple(rows["1/1"]) == COLUMNS


ANSWERS: dict[str, Callable[[dict[str, str]], bool]] = {
    "pass": lambda row: row["verdict"] == "pass" and row["reversed"] == "false",
    "fail": lambda row: row["verdict"] == "fail",
    "reversed": lambda row: row["reversed"] == "true" and row["verdict"] == "cannot tell",
    "cannot tell": lambda row: row["verdict"] == "cannot tell" and row["reversed"] == "false",
    "conflict": lambda row: row["verdict"] == "cannot tell" and "apart" in row["findings"],
    "relabel": lambda row: row["verdict"] == "cannot tell" and "2/5" in row["findings"],
    "incomplete": lambda row: row["verdict"] == "cannot tell" and "pole B not shot" in row["findings"],
    "not surveyed": lambda row: row["verdict"] == "not surveyed",
    # the order of columns and the foot are questions about a file: no structure of it passes
    "question": lambda row: row["verdict"] in ("cannot tell", "fail"),
}


def test_every_planted_fault_is_answered_as_the_key_says(computed: tuple[Computed, Rows], key: Key) -> None:
    _, rows = computed
    surveyed = {expected["structure"]: expected for expected in key["as_set"]}
    wrong = {
        number: (expected["answer"], rows[number]["verdict"], rows[number]["findings"])
        for number, expected in surveyed.items()
        if not ANSWERS[expected["answer"]](rows[number])
    }
    assert wrong == {}
    others = {row["verdict"] for number, row in rows.items() if number not in surveyed}
    assert others == {"not surveyed"}


@pytest.mark.parametrize(
    ("structure", "column", "expected", "within"),
    [
        ("2/3", "rotation_deg", 0.2, 0.35),
        ("5/5", "rotation_deg", 9.2, 0.35),
        ("8/1", "rotation_deg", 1.1, 0.35),
        ("8/2", "rotation_deg", 4.5, 0.35),
        ("4/2", "across", 9.96, 0.1),
        ("9/4", "along", 25.03, 0.1),
        ("3/4", "spacing_error", 11.94 - 12.5, 0.1),
        ("10/2", "spacing_error", 11.4 - 12.5, 0.1),
        ("8/1", "rotation_sigma_deg", 0.648, 0.005),  # sqrt(2) x 0.10 / 12.5 in degrees
    ],
)
def test_residuals_of_the_planted_faults(
    computed: tuple[Computed, Rows], structure: str, column: str, expected: float, within: float
) -> None:
    assert abs(float(computed[1][structure][column]) - expected) < within


def test_exchanged_columns_are_told_with_both_distances(computed: tuple[Computed, Rows]) -> None:
    told, rows = computed
    words = [finding.words for finding in told.ledger.everything() if finding.structure == "1/2"]
    assert any("exchanged" in text for text in words)
    assert rows["1/2"]["set_a_easting"] == ""


def test_the_order_said_for_a_file_is_followed(demo_files: Path, tmp_path: Path) -> None:
    request = replace(
        request_for(demo_files, tmp_path / "result.csv"),
        shots=(demo_files / "shots_2026-04-02.csv",),
        shot_order="penzdh",
    )
    compute(request)
    verdicts = {row["structure"]: row["verdict"] for row in read(request.out)}
    assert [verdicts[number] for number in ("1/1", "1/2", "1/3", "1/4")] == ["pass"] * 4


def test_shots_after_the_day_asked_for_are_not_used(demo_files: Path, tmp_path: Path) -> None:
    request = replace(request_for(demo_files, tmp_path / "result.csv"), as_of_date=dt.date(2026, 4, 16))
    compute(request)
    verdicts = {row["structure"]: row["verdict"] for row in read(request.out)}
    assert verdicts["2/1"] == "pass"
    assert verdicts["8/2"] == "not surveyed"


@pytest.mark.parametrize("suffix", [".xlsx", ".geojson", ".gpkg", ".parquet"])
def test_every_format_holds_the_same_stations(demo_files: Path, tmp_path: Path, suffix: str) -> None:
    request = replace(request_for(demo_files, tmp_path / f"result{suffix}"), shots=())
    compute(request)
    if suffix == ".xlsx":
        head, *rows = CalamineWorkbook.from_path(request.out).get_sheet_by_index(0).to_python()
        stations = [row[head.index("station")] for row in rows]
        numbers = [row[head.index("structure")] for row in rows]
    else:
        frame = (
            geopandas.read_parquet(request.out) if suffix == ".parquet" else geopandas.read_file(request.out)
        )
        stations, numbers = frame["station"].tolist(), frame["structure"].tolist()
        if suffix == ".gpkg":
            assert frame.crs.to_epsg() == 6515
            assert abs(frame.geometry.x[0] - 2_250_000.0) < 0.001
        if suffix == ".geojson":
            assert abs(frame.geometry.x[0] + 108.37717) < 1e-5
    assert numbers[0] == "1/1"
    assert numbers[-1] == "23/2"
    assert np.asarray(stations, dtype=float)[-1] == pytest.approx(118_060.25, abs=0.002)


def test_factor_from_scale_and_elevation_is_near_the_declared_one(demo_files: Path, tmp_path: Path) -> None:
    request = replace(request_for(demo_files, tmp_path / "result.csv"), combined_factor="auto", shots=())
    compute(request)
    last = read(request.out)[-1]
    # the declared factor is rounded and uses 4,000 ft: 2 parts per million over 117,736 ft are 0.24 ft
    assert abs(float(last["station"]) - 118_060.25) < 1.0


def test_without_a_factor_grid_is_ground_and_that_is_said(demo_files: Path, tmp_path: Path) -> None:
    request = replace(request_for(demo_files, tmp_path / "result.csv"), combined_factor="", shots=())
    request = replace(request, equations=None)
    told = compute(request)
    assert next(finding.code for finding in told.ledger.everything()) == "factor not declared"
    assert float(read(request.out)[1]["ahead_span"]) == pytest.approx(835.0 * 0.999217, abs=0.002)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"crs": "EPSG:999999"}, "EPSG:999999"),
        ({"crs": "EPSG:4326"}, "geographic"),
        ({"combined_factor": "12"}, "combined factor"),
        ({"pole_a": "middle"}, "left or right"),
        ({"start_station": "here"}, "--start-station"),
        ({"shot_order": "xyz"}, "--shot-order"),
        ({"out": Path("result.docx")}, ".csv"),
        ({"structures": Path("no_such_file.csv")}, "no_such_file.csv"),
    ],
)
def test_what_cannot_be_used_is_refused_and_nothing_is_written(
    demo_files: Path, tmp_path: Path, change: dict[str, str], words: str
) -> None:
    request = replace(request_for(demo_files, tmp_path / "result.csv"), **change)
    with pytest.raises(InputRefused, match=words):
        compute(request)
    assert list(tmp_path.iterdir()) == []


def test_equations_that_do_not_follow_are_refused_with_their_file(demo_files: Path, tmp_path: Path) -> None:
    equations = tmp_path / "eq.csv"
    equations.write_text("back station,ahead station\n953+84.50,953+23.75\n470+00,473+84.50\n")
    request = replace(request_for(demo_files, tmp_path / "result.csv"), equations=equations, shots=())
    with pytest.raises(InputRefused, match=r"eq\.csv"):
        compute(request)
    assert not request.out.exists()


def test_the_weight_span_is_a_column_when_a_constant_is_declared(demo_files: Path, tmp_path: Path) -> None:
    out = tmp_path / "weight.csv"
    compute(replace(request_for(demo_files, out), shots=(), catenary_constant="4500 ft: invented table"))
    rows = read(out)
    names = list(rows[0])
    assert names[names.index("wind_span") + 1] == "weight_span"
    total = sum(float(row["ahead_span"] or 0.0) for row in rows)
    assert sum(float(row["weight_span"]) for row in rows) == pytest.approx(total)
    with pytest.raises(InputRefused, match="is no number"):
        compute(replace(request_for(demo_files, out), shots=(), catenary_constant="tight"))


def test_columns_that_nothing_reads_are_named(demo_files: Path, tmp_path: Path) -> None:
    text = (demo_files / "structures_revB.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "list.csv").write_text(
        "\n".join(f"{line},{'Owner' if 'Northing' in line else 'me'}" for line in text)
    )
    request = replace(request_for(demo_files, tmp_path / "out.csv"), structures=tmp_path / "list.csv")
    said = [str(problem) for problem in compute(request).problems if problem.reason.startswith("not read")]
    assert said == ['list.csv: not read: "Owner" (me: 121 rows)']


def test_a_pattern_reads_the_shots_of_a_crew_with_its_own_words(demo_files: Path, tmp_path: Path) -> None:
    theirs = demo_files / "shots_2026-04-29.csv"
    own = tmp_path / theirs.name
    places = {"A": "1", "B": "2"}
    own.write_text(
        re.sub(
            r"(?m)^(.*,)(?:STR )?(\d+/\d+) ?([AB])(,[^,]*)$",
            lambda row: f"{row[1]}FOX {row[2]} N{places[row[3]]}{row[4]}",
            theirs.read_text(encoding="utf-8"),
        ),
        encoding="utf-8",
    )
    assert own.read_text(encoding="utf-8").count("FOX") == 8
    plain = replace(request_for(demo_files, tmp_path / "plain.csv"), shots=(theirs,))
    with_words = replace(plain, shots=(own,), out=tmp_path / "own.csv")
    compute(plain)
    unread = compute(with_words)
    asked = [each for each in unread.ledger.everything() if each.code == "description reads two ways"]
    assert len(asked) == 8
    compute(replace(with_words, patterns=("FOX <structure> N<pole>",)))
    assert read(plain.out) == read(with_words.out)


@pytest.mark.parametrize("pattern", ["FOX N<pole>", "FOX <structure>", "<structure> <pole> = banana"])
def test_what_is_no_pattern_is_refused(demo_files: Path, tmp_path: Path, pattern: str) -> None:
    request = replace(request_for(demo_files, tmp_path / "out.csv"), patterns=(pattern,))
    with pytest.raises(InputRefused, match="--pattern"):
        compute(request)
