"""Commands as a user runs them: exit codes, messages, files; and no traceback whatever the input."""

from __future__ import annotations

import json
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from command import Done, linemap

from linemap import __version__
from linemap.cli.main import COMMANDS

CENTRELINE = "PI,Northing,Easting\nPOB,900000,2250000\nPI-1,905000,2250000\nPOE,905000,2255000\n"
STRUCTURES = "Structure,Northing,Easting,Pole Spacing\n1/1,900000,2250000,12.5\n1/2,901000,2250000,12.5\n"
SHOTS = "1,901000.1,2249993.75,100,STR 1/2 A\n2,901000.1,2250006.25,100,STR 1/2 B\n"


def refused(done: Done) -> str:
    """Assert a clean refusal and return its first message, unwrapped."""
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("refused: ")
    return done.stderr


class Files:
    """The three ordinary files, any of them replaced."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.out = folder / "out" / "result.csv"
        self.out.parent.mkdir()
        self.write("centreline.csv", CENTRELINE)
        self.write("structures.csv", STRUCTURES)
        self.write("shots.csv", SHOTS)

    def write(self, name: str, content: str | bytes) -> Path:
        path = self.folder / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    def compute(self, **changes: object) -> Done:
        options: dict[str, object] = {
            "centreline": self.folder / "centreline.csv",
            "structures": self.folder / "structures.csv",
            "shots": self.folder / "shots.csv",
            "crs": "EPSG:6515",
            "out": self.out,
        } | changes
        arguments = [
            part for name, value in options.items() for part in (f"--{name.replace('_', '-')}", value)
        ]
        return linemap("compute", *arguments)


@pytest.fixture
def files(tmp_path: Path) -> Files:
    return Files(tmp_path)


def test_help_names_every_command_and_each_has_an_example() -> None:
    told = linemap("--help").stdout
    for command in COMMANDS:
        assert command in told
        assert "Example: linemap" in linemap(command, "--help").stdout
    assert linemap("--version").stdout.strip() == f"linemap {__version__}"


def test_compute_writes_the_table_and_tells_findings(files: Files) -> None:
    done = files.compute()
    assert done.returncode == 0, done.stderr
    rows = files.out.read_text().splitlines()
    assert len(rows) == 3
    assert "finding: centreline: no combined factor is declared" in done.stderr
    assert "2 structures written" in done.stderr


def test_compute_on_longitude_and_latitude(files: Files) -> None:
    files.write("structures.csv", "number,lon,lat,spacing\n1,-108.37717,46.71312,12.5\n")
    done = files.compute()
    assert done.returncode == 0, done.stderr
    row = dict(zip(*(line.split(",") for line in files.out.read_text().splitlines()), strict=True))
    assert abs(float(row["easting"]) - 2_250_000.0) < 2.0
    assert abs(float(row["northing"]) - 900_000.0) < 2.0


def bomb_xlsx(path: Path) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 100_000_000)


BAD: dict[str, tuple[Callable[[Files], dict[str, object]], tuple[str, ...]]] = {
    "missing file": (lambda f: {"structures": f.folder / "none.csv"}, ("none.csv",)),
    "folder": (lambda f: {"structures": f.folder}, ("folder",)),
    "empty file": (lambda f: {"structures": f.write("e.csv", "")}, ("e.csv", "empty")),
    "no header": (lambda f: {"structures": f.write("h.csv", "a,b\nc,d\n")}, ("h.csv",)),
    "unknown crs": (lambda _: {"crs": "EPSG:1"}, ("--crs", "EPSG:1")),
    "geographic crs": (lambda _: {"crs": "EPSG:4326"}, ("--crs", "geographic")),
    "another zone": (
        lambda f: {"structures": f.write("z.csv", STRUCTURES.replace("2250000", "3250000"))},
        ("z.csv", "row 2", "km from the centreline"),
    ),
    "duplicate number": (
        lambda f: {"structures": f.write("d.csv", STRUCTURES + "1/2,902000,2250000,12.5\n")},
        ("d.csv", "row 4", "1/2"),
    ),
    "one-point centreline": (
        lambda f: {"centreline": f.write("c.csv", "PI,Northing,Easting\nPOB,900000,2250000\n")},
        ("c.csv",),
    ),
    "repeated points only": (
        lambda f: {"centreline": f.write("r.csv", "PI,Northing,Easting\nA,9,2\nB,9,2\nC,9,2\n")},
        ("r.csv",),
    ),
    "doubles back": (
        lambda f: {
            "centreline": f.write(
                "b.csv", "PI,Northing,Easting\nA,900000,2250000\nB,901000,2250000\nC,900010,2250000\n"
            )
        },
        ("b.csv", "doubles back"),
    ),
    "nan": (
        lambda f: {"structures": f.write("n.csv", STRUCTURES + "1/3,nan,2250000,1\n")},
        ("n.csv", "row 4", "nan"),
    ),
    "infinity": (
        lambda f: {"structures": f.write("i.csv", STRUCTURES + "1/3,inf,2250000,1\n")},
        ("i.csv", "row 4", "inf"),
    ),
    "1e400": (
        lambda f: {"structures": f.write("x.csv", STRUCTURES + "1/3,1e400,2250000,1\n")},
        ("x.csv", "row 4", "1e400"),
    ),
    "10 MB in one line": (
        lambda f: {"structures": f.write("l.csv", "Structure,Northing," * 500_000)},
        ("l.csv",),
    ),
    "zip named csv": (
        lambda f: {"structures": f.write("zip.csv", b"PK\x03\x04" + b"\0" * 60)},
        ("zip.csv", "ZIP"),
    ),
    "pdf named csv": (
        lambda f: {"structures": f.write("pdf.csv", b"%PDF-1.7\n%\xe2\xe3")},
        ("pdf.csv", "PDF"),
    ),
    "kml bomb": (
        lambda f: {
            "centreline": f.write(
                "bomb.kml",
                '<!DOCTYPE k [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]><kml>&b;</kml>',
            )
        },
        ("bomb.kml",),
    ),
    "degrees as eastings": (
        lambda f: {
            "structures": f.write("g.csv", "Structure,Northing,Easting\n1,46.7,-108.4\n2,46.8,-108.3\n")
        },
        ("g.csv", "longitude"),
    ),
    "unknown unit": (
        lambda f: {"structures": f.write("u.csv", STRUCTURES.replace("Northing", "Northing (chains)"))},
        ("u.csv", "chains"),
    ),
    "output suffix": (lambda f: {"out": f.folder / "out" / "r.docx"}, ("--out", ".csv")),
    "option value": (lambda _: {"pole_a": "north"}, ("--pole-a", "north")),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_clear_refusal_and_nothing_is_written(files: Files, name: str) -> None:
    change, words = BAD[name]
    message = refused(files.compute(**change(files)))
    for word in words:
        assert word in message
    assert list(files.out.parent.iterdir()) == []


def test_an_xlsx_bomb_is_refused_before_it_is_unpacked(files: Files) -> None:
    bomb_xlsx(files.folder / "bomb.xlsx")
    assert "bomb.xlsx" in refused(files.compute(structures=files.folder / "bomb.xlsx"))


def test_one_pole_shot_is_a_finding_and_no_verdict(files: Files) -> None:
    files.write("shots.csv", SHOTS.splitlines()[0] + "\n")
    done = files.compute()
    assert done.returncode == 0
    assert "pole B not shot" in done.stderr
    assert "cannot tell" in files.out.read_text()


def test_structures_off_line_are_findings_with_the_distance(files: Files) -> None:
    files.write("structures.csv", STRUCTURES.replace("901000,2250000", "901000,2250003.1"))
    done = files.compute()
    assert done.returncode == 0
    assert "1/2: centre 3.10 ft right of the line" in done.stderr


def test_a_job_from_empty_to_export(files: Files) -> None:
    job = files.folder / "north.linemap"
    made = linemap("new", job, "--crs", "EPSG:6515", "--line", "North", "--combined-factor", "0.9995")
    assert made.returncode == 0, made.stderr
    assert "already" in refused(linemap("new", job, "--crs", "EPSG:6515"))
    names = [files.folder / f"{name}.csv" for name in ("centreline", "structures", "shots")]
    dry = linemap("load", job, "--dry-run", "--json", *names)
    assert [file["kind"] for file in json.loads(dry.stdout)["files"]] == ["centreline", "structures", "shots"]
    empty = linemap("check", job)
    assert (empty.returncode, "No line is loaded yet" in empty.stderr) == (0, True)
    assert linemap("load", job, *names).returncode == 0
    waiting = json.loads(linemap("check", job, "--json", "--all").stdout)
    assert [(row["structure"], row["verdict"]) for row in waiting] == [
        ("1/2", "cannot tell"),
        ("", ""),  # what is to be declared for the line
    ]
    assert "base point none" in linemap("declare", job, "--base-point", "none").stdout
    rows = json.loads(linemap("check", job, "--json", "--all").stdout)
    assert [(row["structure"], row["verdict"]) for row in rows] == [("1/2", "pass")]
    for form, suffix in (("csv", "csv"), ("geojson", "geojson"), ("gpkg", "gpkg"), ("snapshot", "html")):
        out = files.folder / f"north.{suffix}"
        done = linemap("export", job, form, "--out", out)
        assert done.returncode == 0, done.stderr
        assert out.stat().st_size > 100
    assert "snapshot" in refused(linemap("export", job, "snapshot", "--out", files.folder / "north.pdf"))


def test_a_point_file_for_the_controller_reads_back_as_hubs_only(files: Files) -> None:
    job = files.folder / "north.linemap"
    linemap(
        "new", job, "--crs", "EPSG:6515", "--line", "North", "--combined-factor", "1", "--base-point", "none"
    )
    names = [files.folder / f"{name}.csv" for name in ("centreline", "structures")]
    linemap("load", job, *names)
    points, table = files.folder / "stakes.csv", files.folder / "staking.csv"
    done = linemap(
        "stakeout", job, "--out", points, "--table", table, "--along", "10,25", "--structures", "1/2"
    )
    assert done.returncode == 0, done.stderr
    assert f"{len(points.read_text().splitlines())} points" in done.stdout
    assert len(table.read_text().splitlines()) == 1 + len(points.read_text().splitlines())
    assert linemap("load", job, points).returncode == 0
    rows = json.loads(linemap("check", job, "--json", "--all").stdout)
    assert [row for row in rows if row["verdict"] != "not surveyed"] == []
    assert "--along" in refused(linemap("stakeout", job, "--out", points, "--along", "ten"))
    near = ("stakeout", job, "--out", points, "--along", "3", "--structures", "1/2")
    assert "1/2 no stake back or ahead stands 5.0 ft or more from the holes" in linemap(*near).stdout
    told = json.loads(linemap(*near, "--json").stdout)
    assert told["points"] == len(points.read_text().splitlines())
    assert [each["structure"] for each in told["look_at"]] == ["1/2"]
    assert "parted by" in refused(linemap("declare", job, "--stakes-set-out", "25"))
    assert linemap("declare", job, "--stakes-set-out", "10; 30").returncode == 0
    linemap("stakeout", job, "--out", points, "--structures", "1/2")
    assert sorted(line.split()[-1] for line in points.read_text().splitlines() if " OS" in line) == sorted(
        ["OS10BK", "OS10AH"] * 2 + ["OS30L", "OS30R"]
    )


def test_a_refused_load_names_file_row_and_value_and_leaves_the_job(files: Files) -> None:
    job = files.folder / "north.linemap"
    linemap("new", job, "--crs", "EPSG:6515", "--line", "North")
    files.write("structures.csv", STRUCTURES + "1/3,nowhere,2250000,12.5\n")
    names = [files.folder / f"{name}.csv" for name in ("centreline", "structures")]
    message = refused(linemap("load", job, *names))
    assert "structures.csv, row 4" in message
    assert '"nowhere"' in message
    assert linemap("load", job, names[0]).returncode == 0


@pytest.mark.parametrize("content", [b"", b"not a database", b"SQLite format 3\0" + b"\0" * 200])
def test_a_file_that_is_no_job_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.linemap"
    path.write_bytes(content)
    refused(linemap("check", path))
    assert path.read_bytes() == content


def test_serving_other_machines_is_refused(files: Files) -> None:
    job = files.folder / "north.linemap"
    linemap("new", job, "--crs", "EPSG:6515")
    assert "the job has no people" in refused(linemap("serve", job, "--host", "0.0.0.0"))


@pytest.mark.parametrize(
    "arguments",
    [
        ("nonsense",),
        ("load",),
        ("compute", "--crs", "EPSG:6515"),
        ("serve", "x", "--port", "0"),
        ("load", "x", "y", "--as", "poem"),
    ],
)
def test_wrong_usage_is_one_message(arguments: tuple[str, ...]) -> None:
    refused(linemap(*arguments))


@pytest.mark.process
def test_the_program_starts_as_a_process_and_ends_with_the_same_codes(files: Files) -> None:
    def run(*arguments: object) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "linemap", *map(str, arguments)]
        return subprocess.run(command, capture_output=True, text=True, check=False)

    assert run("--version").stdout.strip() == f"linemap {__version__}"
    done = run("check", files.folder / "none.linemap")
    assert (done.returncode, done.stderr.startswith("refused: "), "Traceback" in done.stderr) == (
        2,
        True,
        False,
    )


@pytest.mark.process
def test_a_command_loads_only_what_it_needs() -> None:
    """`compute` starts without database, server and page libraries; that is half of its time."""
    code = "import sys, linemap.cli.job; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert not {"sqlalchemy", "fastapi", "folium", "pandas", "geopandas", "uvicorn"} & set(loaded)
