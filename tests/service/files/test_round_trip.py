"""Our own files loaded again change nothing; what is no list, or is of another job, is said to be so."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from linemap.errors import InputRefused, Severity
from linemap.report import ExportFormat
from linemap.report.red_marks import red_marks_xlsx
from linemap.service.compute import ComputeRequest, compute
from linemap.service.export import export_job
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import Edit, load_files, review
from linemap.service.job.job import create_job
from linemap.service.record.log import export_record
from linemap.service.survey.red_marks import red_marks
from linemap.service.survey.staking_table import write_staking_table
from linemap.service.view.build import build_view
from linemap.store.database import Database, open_job
from linemap.store.structures import load_structures

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)


@pytest.fixture
def demo(demo_job: Path, tmp_path: Path) -> Iterator[Database]:
    with open_job(shutil.copy(demo_job, tmp_path / "demo.linemap")) as database:
        yield database


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def exported(database: Database, path: Path) -> Path:
    export_job(build_view(database, today=NOW.date()), ExportFormat(path.suffix[1:]), path)
    return path


@pytest.mark.parametrize("suffix", ["csv", "geojson", "gpkg"])
def test_an_export_loaded_again_changes_nothing(demo: Database, tmp_path: Path, suffix: str) -> None:
    before = rows(exported(demo, tmp_path / "before.csv"))
    listed = build_view(demo, today=NOW.date()).figures.structures
    report = load_files(demo, LoadRequest(paths=(exported(demo, tmp_path / f"out.{suffix}"),)), now=NOW)
    assert report.files[0].changes == ()
    assert report.files[0].unread == ()
    assert rows(exported(demo, tmp_path / "after.csv")) == before
    again = build_view(demo, today=NOW.date()).figures.structures
    assert int((again.pole_count == 3).sum()) == 7
    assert again.type_code.tolist() == listed.type_code.tolist()
    assert again.remarks.tolist() == listed.remarks.tolist()


def test_a_structure_moved_in_an_export_moves_and_keeps_what_it_is(demo: Database, tmp_path: Path) -> None:
    path = exported(demo, tmp_path / "out.csv")
    found = rows(path)
    moved = next(row for row in found if row["structure"] == "9/2")
    text = path.read_text(encoding="utf-8")
    text = text.replace(moved["easting"], repr(float(moved["easting"]) + 5.0))
    path.write_text(text, encoding="utf-8")
    report = load_files(demo, LoadRequest(paths=(path,)), now=NOW)
    assert report.files[0].changes == ("9/2 moved 5.00 ft",)
    with demo.reading() as connection:
        structures = load_structures(connection)
    (row,) = [index for index, number in enumerate(structures.number) if number == "9/2"]
    assert structures.type_code[row] == "H-TRN"


@pytest.mark.parametrize("suffix", ["csv", "xlsx", "geojson", "gpkg"])
def test_what_compute_writes_is_computed_the_same_again(
    demo_files: Path, tmp_path: Path, suffix: str
) -> None:
    def computed(structures: Path, out: Path) -> Path:
        request = ComputeRequest(
            centreline=demo_files / "centreline.csv",
            structures=structures,
            crs="EPSG:6515",
            combined_factor="0.999217",
            out=out,
        )
        compute(request)
        return out

    source = demo_files / "structures_revC.csv"
    first = rows(computed(source, tmp_path / "first.csv"))
    second = rows(computed(computed(source, tmp_path / f"out.{suffix}"), tmp_path / "second.csv"))
    assert sum(bool(row["pole_c_easting"]) for row in first) == 7
    for one, other in zip(first, second, strict=True):
        assert one["structure"] == other["structure"]
        for name in one:
            if name != "findings" and one[name] != other[name]:
                assert float(one[name]) == pytest.approx(float(other[name]), abs=1e-6), name


@pytest.mark.parametrize("suffix", ["geojson", "gpkg"])
def test_an_export_of_another_job_is_asked_about(
    demo: Database, demo_files: Path, tmp_path: Path, suffix: str
) -> None:
    path = exported(demo, tmp_path / f"out.{suffix}")
    other = str(tmp_path / "other.linemap")
    create_job(other, {"crs": "EPSG:6515"}, now=NOW)
    with open_job(other) as database:
        load_files(database, LoadRequest(paths=(demo_files / "centreline.csv",)), now=NOW)
        with pytest.raises(InputRefused, match="exported from another job; say --as structures"):
            load_files(database, LoadRequest(paths=(path,)), now=NOW)
        said = Edit(load=LoadRequest(paths=(path,), kind="structures"))
        (file,) = review(database, said, now=NOW).applied.files
        noted = [each for each in file.problems if "another job" in each.reason]
        assert [problem.severity for problem in noted] == [Severity.NOTED]


@pytest.mark.parametrize(
    "name", ["holds", "tickets", "receipts", "punch", "guys", "framing_records", "facts"]
)
def test_a_list_of_another_jobs_structures_is_asked_about(
    demo_files: Path, tmp_path: Path, name: str
) -> None:
    other = str(tmp_path / "other.linemap")
    create_job(other, {"crs": "EPSG:6515"}, now=NOW)
    lists = (tmp_path / "centreline.csv", tmp_path / "structures.csv")
    lists[0].write_text("line,PI,Northing,Easting\nSouth,1,900000,2250000\nSouth,2,900000,2260000\n")
    lists[1].write_text("line,Str,Northing,Easting\nSouth,DE-1,900000,2250500\nSouth,DE-2,900000,2251500\n")
    request = LoadRequest(paths=(demo_files / f"{name}.csv",))
    with open_job(other) as database:
        load_files(database, LoadRequest(paths=lists), now=NOW)
        with pytest.raises(InputRefused, match="none of the structures that the file names") as refused:
            load_files(database, request, now=NOW)
        said = replace(request, kind=refused.value.problems[0].remedy.split()[2])
        (file,) = review(database, Edit(load=said), now=NOW).applied.files
        noted = [each for each in file.problems if "it may be of another job" in each.reason]
        assert [problem.severity for problem in noted] == [Severity.NOTED]


def test_a_structure_that_is_not_there_is_named_with_who_names_it(demo: Database, tmp_path: Path) -> None:
    path = tmp_path / "holds.csv"
    path.write_text(
        'id,activities,structures,reason\nHZ-8,framing,99/9,wet\nHZ-9,framing,"13/6, 99/9",wet\n', "utf-8"
    )
    (file,) = review(demo, Edit(load=LoadRequest(paths=(path,))), now=NOW).applied.files
    assert [(each.severity, each.value, each.reason) for each in file.problems] == [
        (Severity.NOTED, "99/9", "the job has no structure 99/9, which hold HZ-8 and 1 more name")
    ]


def test_what_is_no_list_is_refused_as_what_it_is(demo: Database, tmp_path: Path) -> None:
    view = build_view(demo, today=NOW.date())
    (tmp_path / "marks.xlsx").write_bytes(red_marks_xlsx(red_marks(demo, view)))
    write_staking_table(view, tmp_path / "stakes.xlsx", rows=[3])
    write_staking_table(view, tmp_path / "stakes.csv", rows=[3])
    export_job(view, ExportFormat.SNAPSHOT, tmp_path / "page.html")
    export_record(demo, tmp_path / "record.jsonl")
    for name, words in {
        "marks.xlsx": "red marks: what was surveyed beside the design",
        "stakes.xlsx": "a staking table: where stakes belong, not what was shot",
        "stakes.csv": "a staking table: where stakes belong, not what was shot",
        "page.html": "a page to look at, no list",
        "record.jsonl": "the record of a job with its hashes, no list",
    }.items():
        with pytest.raises(InputRefused, match=words):
            load_files(demo, LoadRequest(paths=(tmp_path / name,)), now=NOW)
