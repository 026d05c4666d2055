"""`linemap load`: columns named on the command line, remembered, and everything a dry run shows."""

from __future__ import annotations

import contextlib
import io
import json
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from linemap.cli.main import main

CENTRELINE = "PI,Northing,Easting\nPOB,900000,2250000\nPOE,905000,2250000\n"
FOREIGN = "Pkt,Rechts,Hoch,Text\n1,2249993.8,900000.1,STR 1/1 A\n2,2250006.2,900000.1,?\nend,,,\n"
COLUMNS = ["--column", "easting=Rechts", "--column", "northing=3", "--column", "description=Text"]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "north.linemap"
    linemap("new", str(path), "--crs", "EPSG:6515", "--line", "North", "--combined-factor", "0.9995")
    (tmp_path / "centreline.csv").write_text(CENTRELINE, encoding="utf-8")
    linemap("load", str(path), str(tmp_path / "centreline.csv"))
    return path


@dataclass(frozen=True)
class Done:
    """What a command printed."""

    stdout: str
    stderr: str


def linemap(*arguments: str, code: int = 0) -> Done:
    """Run a command in this process, as the installed program does."""
    out, err = io.StringIO(), io.StringIO()
    with (
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        patch.setattr(sys, "argv", ["linemap", *arguments])
        found = 0
        try:
            main()
        except SystemExit as stop:
            found = int(stop.code or 0)
    assert found == code, err.getvalue()
    return Done(out.getvalue(), err.getvalue())


def test_columns_are_named_remembered_and_used_again(job: Path, tmp_path: Path) -> None:
    first = tmp_path / "day1.csv"
    first.write_text(FOREIGN, encoding="utf-8")
    assert "no row of headings" in linemap("load", str(job), str(first), code=2).stderr
    said = ["--as", "shots", *COLUMNS, "--remember", "--by", "R. Calder"]
    assert "columns as said now" in linemap("load", str(job), str(first), *said).stdout
    second = tmp_path / "day2.csv"
    second.write_text(FOREIGN.replace("900000.1", "900001.1"), encoding="utf-8")
    told = linemap("load", str(job), str(second), "--dry-run").stdout
    for words in (
        "day2.csv: shots, 2 of 3 rows used",
        "read as: utf-8, cells apart by commas, headings in row 1, columns as confirmed by R. Calder on ",
        "easting from Rechts (international foot)",
        "coordinates: the file declares no reference; all 2 points lie within the area of use of EPSG:6515",
        "distance to the line: 6.2 to 6.2 ft",
        "left out: day2.csv, row 4",
        "noted: day2.csv, row 3",
        "nothing stored (dry run)",
    ):
        assert words in told, words


def test_a_dry_run_tells_the_same_as_json(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "day.csv"
    path.write_text(FOREIGN, encoding="utf-8")
    done = linemap("load", str(job), str(path), "--as", "shots", *COLUMNS, "--dry-run", "--json")
    (file,) = json.loads(done.stdout)["files"]
    assert (file["rows_in"], file["rows_used"]) == (3, 2)
    assert file["evidence"][1] == "distance to the line: 6.2 to 6.2 ft"


def test_an_ambiguous_date_is_asked_about_once_and_answered_by_an_option(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(
        "Structure,Northing,Easting\n4-Mar,902000,2250000\n10/1,903000,2250000\n", encoding="utf-8"
    )
    refused = linemap("load", str(job), str(path), code=2).stderr
    assert refused.count("refused:") == 1
    assert "may be 3/4 or 4/3" in refused
    told = linemap("load", str(job), str(path), "--date-order", "mdy").stdout
    assert "restored from date as 3/4" in told


def test_many_notes_are_cut_short_on_the_screen_only(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "topo.csv"
    rows = "".join(f"{n},{900000 + n},2250000.0,100,NG\n" for n in range(100))
    path.write_text(rows, encoding="utf-8")
    told = linemap("load", str(job), str(path), "--dry-run").stdout
    assert told.count("noted: topo.csv, row") == 40
    assert "noted: and 60 more; --json lists them all" in told


@pytest.mark.parametrize("option", ["easting", "=X"])
def test_a_column_without_a_heading_is_refused(job: Path, tmp_path: Path, option: str) -> None:
    path = tmp_path / "day.csv"
    path.write_text(FOREIGN, encoding="utf-8")
    done = linemap("load", str(job), str(path), "--column", option, code=2)
    assert "names no field and heading" in done.stderr


def test_a_document_is_of_what_is_declared_with_it(job: Path) -> None:
    linemap("declare", str(job), "--base-point", "none", "--source", "control sheet 4")
    told = linemap("declare", str(job), "--hospital", "Cold Ford General", "--source", "safety plan 2").stdout
    assert "nearest hospital: Cold Ford General (safety plan 2)" in told
    assert "(from control sheet 4)" in told.splitlines()[0]
