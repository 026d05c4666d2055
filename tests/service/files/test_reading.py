"""Columns a person names: for one load, or remembered for every file of the same shape."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from linemap.errors import InputRefused, Severity
from linemap.service.files.load_report import LoadedFile, LoadReport, LoadRequest
from linemap.service.files.review import Edit, load_files, review
from linemap.service.job.job import create_job
from linemap.store.database import Database, open_job
from linemap.store.files import list_answers, list_files, standing_answers
from linemap.store.structures import load_structures
from linemap.store.survey import load_shots

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
CENTRELINE = "PI,Northing,Easting\nPOB,900000,2250000\nPOE,905000,2250000\n"
STRUCTURES = "Structure,Northing,Easting,Pole Spacing\n1/1,900000,2250000,12.5\n1/2,901000,2250000,12.5\n"
FOREIGN = "Pkt,Rechts,Hoch,Text\n1,2249993.8,900000.1,STR 1/1 A\n"
COLUMNS: dict[str, str | int] = {
    "point": "Pkt",
    "easting": "Rechts",
    "northing": "Hoch",
    "description": "Text",
}


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with a line and two structures, not to be changed."""
    path = tmp_path_factory.mktemp("loaded") / "north.linemap"
    create_job(str(path), {"crs": "EPSG:6515", "line": "North", "combined_factor": "0.9995"}, now=NOW)
    with open_job(path) as database:
        load(database, path.parent, c=CENTRELINE, s=STRUCTURES)
    return path


@pytest.fixture
def job(loaded: Path, tmp_path: Path) -> Iterator[Database]:
    with open_job(shutil.copy(loaded, tmp_path / "north.linemap")) as database:
        yield database


def load(job: Database, folder: Path, *, request: LoadRequest | None = None, **files: str) -> LoadReport:
    paths = []
    for name, text in files.items():
        path = folder / f"{name}.csv"
        path.write_text(text, encoding="utf-8")
        paths.append(path)
    return load_files(job, replace(request or LoadRequest(paths=()), paths=tuple(paths)), now=NOW)


def look(job: Database, folder: Path, text: str, request: LoadRequest) -> LoadedFile:
    """Look at what loading a file would do, and store nothing."""
    path = folder / "looked_at.csv"
    path.write_text(text, encoding="utf-8")
    (file,) = review(job, Edit(load=replace(request, paths=(path,))), now=NOW).applied.files
    return file


def remembered(**said: object) -> LoadRequest:
    fields = {"kind": "shots", "columns": COLUMNS, "remember": True, "loaded_by": "R. Calder", **said}
    return LoadRequest(paths=(), **fields)  # type: ignore[arg-type]


def test_columns_are_named_once_and_remembered_for_the_next_file(job: Database, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="no row of headings"):
        load(job, tmp_path, day1=FOREIGN)
    first = load(job, tmp_path, day1=FOREIGN, request=remembered())
    assert first.files[0].understood.endswith("columns as said now")
    second = load(job, tmp_path, day2=FOREIGN + "2,2250006.2,900000.1,STR 1/1 B\n")
    assert second.files[0].understood.endswith("columns as confirmed by R. Calder on 2026-05-16")
    assert second.files[0].mapping["easting"] == "Rechts (international foot)"
    with job.reading() as connection:
        assert len(load_shots(connection)) == 3
        (answer,) = standing_answers(connection)
    assert (answer.who, answer.content["kind"]) == ("R. Calder", "shots")


def test_another_shape_is_not_read_by_it(job: Database, tmp_path: Path) -> None:
    load(job, tmp_path, day1=FOREIGN, request=remembered())
    with pytest.raises(InputRefused, match="no row of headings"):
        load(job, tmp_path, day2=FOREIGN.replace("Rechts,Hoch", "Hoch,Rechts"))


def test_the_newest_answer_stands(job: Database, tmp_path: Path) -> None:
    text = "Str,N,E,N2,E2\n1/1,1,2,900000,2250000\n1/2,1,2,901000,2250000\n"
    wrong = remembered(kind="structures", columns={"northing": "N2", "easting": "N2"})
    right = remembered(kind="structures", columns={"northing": "N2", "easting": "E2"}, loaded_by="A. Other")
    with pytest.raises(InputRefused):
        load(job, tmp_path, list=text, request=wrong)
    load(job, tmp_path, list=text, request=right)
    report = load(job, tmp_path, again=text)
    assert "confirmed by A. Other" in report.files[0].understood
    with job.reading() as connection:
        assert load_structures(connection).easting.tolist() == [2250000.0, 2250000.0]
        # what was refused is not remembered
        assert {answer.who for answer in list_answers(connection)} == {"A. Other"}


def test_a_dry_run_remembers_nothing(job: Database, tmp_path: Path) -> None:
    look(job, tmp_path, FOREIGN, remembered())
    with job.reading() as connection:
        assert list_answers(connection) == ()


def test_without_remember_it_is_for_one_load(job: Database, tmp_path: Path) -> None:
    load(job, tmp_path, day1=FOREIGN, request=remembered(remember=False))
    with job.reading() as connection:
        assert list_answers(connection) == ()


@pytest.mark.parametrize(
    ("request_", "words"),
    [
        (remembered(loaded_by=" "), "nobody is named who confirms"),
        (remembered(kind=None), "not what the file is; say it with --as KIND"),
        (remembered(columns={"color": "Text"}), "no field of this name"),
        (remembered(columns={**COLUMNS, "elevation": "Hoehe"}), "there is no such column|no row of headings"),
    ],
)
def test_answers_that_say_too_little_are_refused(
    job: Database, tmp_path: Path, request_: LoadRequest, words: str
) -> None:
    with pytest.raises(InputRefused, match=words):
        load(job, tmp_path, day1=FOREIGN, request=request_)


def test_columns_are_named_for_one_file_at_a_time(job: Database, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="several files given; load that file alone"):
        load(job, tmp_path, day1=FOREIGN, day2=FOREIGN, request=remembered())


def test_the_order_of_dates_may_be_said_and_is_remembered(job: Database, tmp_path: Path) -> None:
    # both readings lie in order, and no station tells the mile
    text = "Structure,Northing,Easting\n4-Mar,902000,2250000\n10/1,903000,2250000\n"
    with pytest.raises(InputRefused, match=r"may be 3/4 or 4/3.*--date-order mdy"):
        load(job, tmp_path, list=text)
    said = LoadRequest(paths=(), date_order="dmy", remember=True, loaded_by="R. Calder")
    report = load(job, tmp_path, list=text, request=said)
    assert any("restored from date as 4/3" in problem.reason for problem in report.problems)
    again = load(job, tmp_path, list2=text.replace("10/1", "10/2"))
    assert any("restored from date as 4/3" in problem.reason for problem in again.problems)


def test_shots_of_another_job_refuse_the_load_and_nothing_is_stored(job: Database, tmp_path: Path) -> None:
    far = "1,500000,1250000,4000,STR 1/1 A\n2,500000,1250010,4000,STR 1/1 B\n"
    with job.reading() as connection:
        before = list_files(connection)
    with pytest.raises(InputRefused, match="all 2 shots lie at least") as caught:
        load(job, tmp_path, far=far)
    assert len(caught.value.problems) == 1
    with job.reading() as connection:
        assert list_files(connection) == before
    seen = look(job, tmp_path, far, LoadRequest(paths=()))
    assert {problem.severity for problem in seen.problems} == {Severity.REFUSED}


def test_a_dry_run_shows_how_every_file_is_understood(job: Database, tmp_path: Path) -> None:
    shots = "1,900000.1,2249993.8,100,STR 1/1 A\n2,900000.1,2250006.2,100,?\nend,,,,\n"
    file = look(job, tmp_path, shots, LoadRequest(paths=()))
    assert file.understood == "utf-8, cells apart by commas, no headings"
    assert file.mapping["northing"] == "column 2 (international foot)"
    assert file.evidence == (
        "coordinates: the file declares no reference; all 2 points lie within the area of use of EPSG:6515",
        "distance to the line: 6.2 to 6.2 ft",
    )
    assert (file.rows_in, file.rows_used) == (3, 2)
    assert [str(problem.severity) for problem in file.problems] == ["noted", "left out"]
