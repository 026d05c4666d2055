"""A list of control points in a job: loaded after the shots, added to, told to each as they may read it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from linemap.domain.record.person import Audience
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import Edit, load_files, review
from linemap.service.job.job import create_job
from linemap.service.people.redact import redact_view
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
DAY = NOW.date()
CENTRELINE = "PI,N,E\nP1,900000,2250000\nP2,904000,2250000\n"
STRUCTURES = "Structure,Northing,Easting,Spacing\n" + "".join(
    f"1/{n},{900000 + 1000 * n},2250000,12.5\n" for n in (1, 2, 3)
)
#: Frames as designed, left and right of the line, and a shot on CP-3.
SHOTS = (
    "".join(
        f"{n}{pole},{900000 + 1000 * n}.00,{2250000 + side * 6.25:.2f},3900,1/{n} {pole}\n"
        for n in (1, 2, 3)
        for pole, side in (("A", -1), ("B", 1))
    )
    + "CHK1,900100.03,2250200.02,3899.9,CP-3 CHECK ; gate code 4711\n"
)
CONTROL = (
    "Control Point,Northing,Easting,Elev,Description\nCP-3,900100,2250200,3900,by the gate of R. Calder\n"
)


@pytest.fixture
def job(target: str) -> str:
    declared = {"crs": "EPSG:6515", "line": "North", "combined_factor": "1", "base_point": "none"}
    create_job(target, declared, now=NOW)
    return target


def load(database: Database, folder: Path, **files: str) -> None:
    paths = []
    for name, text in files.items():
        path = folder / f"{name}.csv"
        path.write_text(text, encoding="utf-8")
        paths.append(path)
    load_files(database, LoadRequest(paths=tuple(paths)), now=NOW)


def seen(database: Database) -> JobView:
    return build_view(database, today=DAY)


def codes(view: JobView) -> list[str]:
    return [
        each.code for each in view.ledger.beside("survey") if each.code.startswith(("check-in", "session w"))
    ]


def test_a_list_that_comes_after_the_shots_counts_for_them(job: str, tmp_path: Path) -> None:
    with open_job(job) as database:
        load(database, tmp_path, centreline=CENTRELINE, structures=STRUCTURES)
        load(database, tmp_path, shots=SHOTS)
        before = seen(database)
        assert (before.check_ins, codes(before)) == ((), [])
        assert {str(held) for held in before.checks.held} == {"against its own base"}
        load(database, tmp_path, control=CONTROL)
        after = seen(database)
        (found,) = after.check_ins
        assert (found.control, found.how, found.off) == ("CP-3", "number", False)
        assert (found.east, found.north, found.up) == (
            pytest.approx(0.02, abs=1e-6), pytest.approx(0.03, abs=1e-6), pytest.approx(-0.1, abs=1e-6),
        )  # fmt: skip
        assert {str(held) for held in after.checks.held} == {"by control"}
        assert {str(verdict) for verdict in after.checks.verdict} == {"pass"}


def test_a_further_file_adds_points_and_moves_those_it_names(job: str, tmp_path: Path) -> None:
    with open_job(job) as database:
        load(database, tmp_path, centreline=CENTRELINE, structures=STRUCTURES, control=CONTROL)
        load(database, tmp_path, shots=SHOTS)
        more = "Control Point,Northing,Easting\nCP-3,900100.5,2250200\nCP-4,902000,2250300\n"
        (tmp_path / "more.csv").write_text(more, encoding="utf-8")
        request = LoadRequest(paths=(tmp_path / "more.csv",))
        reviewed = review(database, Edit(load=request), now=NOW)
        words = [each for file in reviewed.applied.files for each in file.changes]
        assert "control point CP-3 northing 900100.000 ft -> 900100.500 ft" in words
        assert "control point CP-4 added" in words
        load_files(database, request, now=NOW)
        moved = seen(database)
        assert [point.name for point in moved.control] == ["CP-3", "CP-4"]
        assert codes(moved) == ["check-in off"]


def test_the_public_reads_the_points_and_not_what_is_written_beside_them(job: str, tmp_path: Path) -> None:
    with open_job(job) as database:
        load(database, tmp_path, centreline=CENTRELINE, structures=STRUCTURES, control=CONTROL)
        load(database, tmp_path, shots=SHOTS)
        view = seen(database)
    owner, public = (redact_view(view, audience) for audience in (Audience.OWNER, Audience.PUBLIC))
    assert [(each.name, each.note) for each in owner.control] == [("CP-3", "by the gate of R. Calder")]
    assert [(each.name, each.note) for each in public.control] == [("CP-3", "")]
    assert [each.description for each in owner.check_ins] == ["CP-3 CHECK ; gate code 4711"]
    assert [each.description for each in public.check_ins] == [""]


def test_a_number_alone_is_a_check_in_where_it_lies_at_a_point_and_a_question_elsewhere(
    job: str, tmp_path: Path
) -> None:
    there, nowhere = "CHK1,900100.00,2250200.00,3900,CHECK 3\n", "CHK2,902500.00,2250300.00,3900,CHECK 3\n"
    with open_job(job) as database:
        load(database, tmp_path, centreline=CENTRELINE, structures=STRUCTURES, control=CONTROL)
        load(database, tmp_path, shots=SHOTS.partition("CHK1")[0] + there + nowhere)
        view = seen(database)
    assert [(each.point, each.how) for each in view.check_ins] == [("CHK1", "place")]
    asked = [each.words for each in view.ledger.beside("survey") if "CHECK 3" in each.words]
    assert len(asked) == 1
    assert "CHK2" in asked[0]
    assert "CHK1" not in asked[0]


def test_a_list_of_another_place_is_taken_with_a_question(job: str, tmp_path: Path) -> None:
    with open_job(job) as database:
        load(database, tmp_path, centreline=CENTRELINE, structures=STRUCTURES)
        (tmp_path / "far.csv").write_text(CONTROL.replace("900100", "1900100"), encoding="utf-8")
        report = load_files(database, LoadRequest(paths=(tmp_path / "far.csv",)), now=NOW)
    (told,) = [each for each in report.files[0].problems if "every line" in each.reason]
    assert told.reason.startswith("every control point lies 304 km or more")
