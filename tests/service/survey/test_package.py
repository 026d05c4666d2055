"""The package to be signed: numbers are numbers, passes say what holds them, nothing answers for itself."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
import re
import shutil
import uuid
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from linemap.errors import InputRefused
from linemap.report import ExportFormat
from linemap.service.export import export_job
from linemap.service.job.job import create_job, declare
from linemap.service.survey.package import HASHES, PAPER, WORKBOOK, package_files, package_of, package_zip
from linemap.service.survey.survey_page import Asked, decide
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job

DAY = dt.date(2026, 5, 15)
NOW = dt.datetime(2026, 5, 16, 8, tzinfo=dt.UTC)
#: Words that would read as if the program answered for what it shows.
SIGNING = re.compile(
    r"certif|approved|accepted by|meets code|de-energized|\bsafe\b|\bclear\b|guarantee", re.I
)


@pytest.fixture(scope="module")
def files(demo_database: Database, demo_view: JobView) -> dict[str, bytes]:
    return package_files(demo_database, demo_view)


@pytest.fixture(scope="module")
def book(files: dict[str, bytes]) -> dict[str, list[list[Any]]]:
    return read(files)


def read(files: dict[str, bytes]) -> dict[str, list[list[Any]]]:
    book = CalamineWorkbook.from_filelike(io.BytesIO(files[WORKBOOK]))
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def rows(book: dict[str, list[list[Any]]], name: str) -> list[dict[str, Any]]:
    heads, *found = next(sheet for title, sheet in book.items() if title.startswith(name))
    return [dict(zip(heads, row, strict=True)) for row in found]


def text_of(files: dict[str, bytes]) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(files[PAPER])).pages)


@pytest.fixture
def corrected(demo_job: Path, tmp_path: Path) -> Iterator[Database]:
    """The demo job with the order of columns and the foot of two files accepted."""
    path = tmp_path / "copy.linemap"
    shutil.copy(demo_job, path)
    with open_job(str(path)) as database:
        for code in ("columns exchanged", "foot definition"):
            view = build_view(database, today=DAY)
            (cause,) = [each for each in view.causes if each.code == code]
            asked = Asked(
                id=str(uuid.uuid4()),
                cause=cause.code,
                subject=cause.subject,
                line=cause.line,
                answer="accepted",
                who="P. Chief",
            )
            decide(database, view, asked, at=NOW)
        yield database


def test_numbers_of_the_workbook_are_numbers_with_their_units_in_the_headings(
    book: dict[str, list[list[Any]]], demo_view: JobView
) -> None:
    poles = rows(book, "passes") + rows(book, "other structures")
    assert len({row["structure"] for row in poles}) == 53
    at = {
        (number, "AB"[pole]): demo_view.set_poles.position[row, pole]
        for (_, number), row in demo_view.row_of.items()
        for pole in (0, 1)
    }
    for row in rows(book, "passes"):
        known = [
            row[name]
            for name in row
            if name.startswith(("design", "observed", "corrected", "ahead", "sigma"))
        ]
        assert known
        assert all(isinstance(value, float) for value in known)
        east, north = at[row["structure"], row["pole"]]
        assert (row["corrected E (grid ft)"], row["corrected N (grid ft)"]) == (
            pytest.approx(east, abs=6e-4),
            pytest.approx(north, abs=6e-4),
        )
        assert isinstance(row["elevation (ft)"], float)
    for name, found in book.items():
        for heading, *cells in zip(*found, strict=True) if name != "package" else ():
            if heading.endswith((" ft)", "(ft)", "(deg)", "(bytes)")):
                assert all(isinstance(cell, float) or cell == "" for cell in cells), (name, heading)


def test_only_what_control_holds_is_among_the_passes_and_others_say_why_not(
    demo_database: Database, demo_view: JobView, key: dict[str, list[dict[str, str]]]
) -> None:
    package = package_of(demo_database, demo_view)
    passing = {row["structure"] for row in key["as_set"] if row["answer"] == "pass"}
    passes, apart = {number for _, number in package.passes}, {each.structure: each for each in package.apart}
    # the crew of 23 April shot no control point
    own_base = {"5/2", "5/3", "5/4", "6/1", "6/2", "6/3", "6/5"}
    assert passes == passing - own_base
    assert {(apart[each].verdict, apart[each].reason) for each in own_base} == {
        ("pass", "against its own base: no check-in")
    }
    assert passes.isdisjoint(apart)
    assert len(apart) + len(passes) == 53
    assert apart["8/4"].reason == "pole B not shot"
    assert all(each.reason for each in apart.values())


def test_a_corrected_session_is_held_by_its_check_ins_as_corrected(corrected: Database) -> None:
    """Those of the foot day stand in a file of their own; that of the first day counts once put right."""
    view = build_view(corrected, today=DAY)
    text = text_of(package_files(corrected, view))
    (first,) = [each for each in view.check_ins if each.file == "shots_2026-04-02.csv"]
    assert f"{first.observed_north:+.3f}" in text
    assert all(f"{each.up:+.3f}" in text for each in view.check_ins)
    package = package_of(corrected, view)
    assert {"1/1", "1/2", "1/3", "1/4", "7/1", "7/2", "7/5", "7/6"} <= {
        number for _, number in package.passes
    }
    found = {(each.control, each.fits) for each in package.check_ins if "04-02" in each.session}
    assert found == {("CP-3", "fits")}
    foot = [each for each in package.check_ins if "04-29" in each.session]
    assert [(each.control, each.fits) for each in foot] == [("BM-12", "fits"), ("CP-6", "fits")]
    for each in foot:
        assert float(each.observed_east) == pytest.approx(-4.55, abs=0.05)
        assert abs(float(each.east)) < 0.05


def test_observed_and_correction_are_corrected(corrected: Database) -> None:
    book = read(package_files(corrected, build_view(corrected, today=DAY)))
    moved = [
        row for name in ("passes", "other") for row in rows(book, name) if row["correction N (grid ft)"] != ""
    ]
    assert {row["structure"] for row in moved} >= {"1/1", "7/1"}
    for row in moved:
        for axis in "NE":
            parts = (row[f"{name} {axis} (grid ft)"] for name in ("observed", "correction", "corrected"))
            observed, correction, as_counted = parts
            assert observed + correction == pytest.approx(as_counted, abs=1.1e-3)
    untouched = next(row for row in rows(book, "passes") if row["structure"] == "2/1")
    assert untouched["observed N (grid ft)"] == untouched["corrected N (grid ft)"]


def test_an_export_says_last_what_holds_a_pass_and_where_poles_were_observed(
    corrected: Database, tmp_path: Path
) -> None:
    view, path = build_view(corrected, today=DAY), tmp_path / "north.csv"
    export_job(view, ExportFormat.CSV, path)
    with path.open(encoding="utf-8", newline="") as file:
        table = {row["structure"]: row for row in csv.DictReader(file)}
    assert list(table["7/1"])[-8:] == [
        "findings", "held", "observed_a_easting", "observed_a_northing", "observed_b_easting",
        "observed_b_northing", "observed_c_easting", "observed_c_northing",
    ]  # fmt: skip
    foot, plain, unsurveyed = (table[number] for number in ("7/1", "2/1", "23/2"))
    assert foot["held"] == "by control: 2 check-ins, largest residual 0.02 ft"
    assert float(foot["set_a_easting"]) - float(foot["observed_a_easting"]) == pytest.approx(4.55, abs=0.02)
    assert plain["set_a_easting"] == plain["observed_a_easting"]
    assert (unsurveyed["held"], unsurveyed["observed_a_easting"]) == ("", "")


def test_what_is_not_declared_says_so_and_a_file_may_have_its_own(demo_job: Path, tmp_path: Path) -> None:
    path = tmp_path / "copy.linemap"
    shutil.copy(demo_job, path)
    with open_job(str(path)) as database:
        before = package_of(database, build_view(database, today=DAY)).sessions
        assert {(each.instrument, each.crew, each.method) for each in before} == {("not declared",) * 3}
        texts = {
            "survey_instrument": "receiver 12, serial 4411; shots_2026-04-23.csv: total station 3",
            "survey_method": "shots_2026-04-23.csv: resection",
        }
        declare(database, texts, now=NOW, who="Ada")
        found = {each.words: each for each in package_of(database, build_view(database, today=DAY)).sessions}
    own = found["file shots_2026-04-23.csv, 2026-04-23"]
    assert (own.instrument, own.method, own.crew) == ("total station 3", "resection", "not declared")
    other = found["file shots_2026-04-16.csv, 2026-04-16"]
    assert (other.instrument, other.method) == ("receiver 12, serial 4411", "not declared")
    assert other.held == "by control: 1 check-in, residual 0.03 ft"
    assert own.held == "against its own base: no check-in"


def test_the_digests_are_those_of_the_files(files: dict[str, bytes], demo_job: Path) -> None:
    folder = demo_job.parent / "files"
    named = dict(line.split("  ")[::-1] for line in files[HASHES].decode().splitlines())
    assert {"control_points.csv", "shots_2026-04-02.csv", "structures_revC.csv"} <= named.keys()
    assert "structures_revB.csv" not in named
    for name, digest in named.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest


def test_the_paper_has_room_to_sign_and_answers_for_nothing(files: dict[str, bytes]) -> None:
    text = text_of(files)
    for words in ("licence number", "signature", "seal", "remarks", "a licensed surveyor examines it"):
        assert words in text
    assert text.count("It asserts nothing by itself") >= len(PdfReader(io.BytesIO(files[PAPER])).pages)
    assert "check-ins, measured minus known" in text
    assert "against its own base: no check-in" in text
    assert not SIGNING.search(text)
    cells = [str(cell) for sheet in read(files).values() for row in sheet for cell in row]
    assert not any(map(SIGNING.search, cells))


def test_no_number_is_broken_over_lines(files: dict[str, bytes]) -> None:
    """Seven digits and three decimals stand on one line, wherever the coordinates are printed."""
    text = text_of(files)
    assert len(re.findall(r"^\d{6,7}\.\d{3}$|\b\d{6,7}\.\d{3}\b", text, re.M)) > 500
    assert not re.search(r"\d{6,7}\.\d{0,2}$", text, re.M)
    assert "datum of control points: NAD 83(2011) epoch 2010.00, NAVD 88" in text


def test_the_same_job_gives_the_same_bytes(
    files: dict[str, bytes], demo_database: Database, demo_view: JobView
) -> None:
    again = package_files(demo_database, demo_view)
    assert again == files
    made = package_zip(files)
    assert made == package_zip(again)
    with zipfile.ZipFile(io.BytesIO(made)) as archive:
        assert {name: archive.read(name) for name in archive.namelist()} == files


def test_without_a_survey_there_is_nothing_to_sign(tmp_path: Path) -> None:
    path = str(tmp_path / "north.linemap")
    create_job(path, {"crs": "EPSG:6515"}, now=NOW)
    with open_job(path) as database, pytest.raises(InputRefused, match="has no surveyed structure"):
        package_files(database, build_view(database, today=DAY))
