"""Loading files into a job: all or none, in any order, with what was understood and what was wrong."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import orjson
import pytest

from linemap.domain.record.person import Audience
from linemap.errors import InputRefused, Severity
from linemap.kinds.registry import TOLERANCES
from linemap.service.files.file_page import files_answer
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import Edit, load_files, review
from linemap.service.job.job import create_job, declare
from linemap.service.people.redact import redact_view
from linemap.service.survey.survey import check_job
from linemap.service.survey.survey_page import survey_answer
from linemap.service.view.build import build_view
from linemap.store.database import Database, open_job
from linemap.store.files import file_content, list_files, standing_problems
from linemap.store.lists import load_list
from linemap.store.states import list_states
from linemap.store.structures import load_structures
from linemap.store.survey import load_shots
from linemap.store.versions import load_data_version

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
CENTRELINE = "PI,Northing,Easting\nPOB,900000,2250000\nPOE,905000,2250000\n"
STRUCTURES = "Structure,Northing,Easting,Pole Spacing\n1/1,900000,2250000,12.5\n1/2,901000,2250000,12.5\n"


@pytest.fixture
def job(target: str) -> Iterator[Database]:
    rules = {"crs": "EPSG:6515", "line": "North", "combined_factor": "0.9995", "base_point": "none"}
    create_job(target, rules, now=NOW)
    with open_job(target) as database:
        yield database


def write(folder: Path, **files: str) -> tuple[Path, ...]:
    paths = []
    for name, text in files.items():
        path = folder / f"{name}.csv"
        path.write_text(text, encoding="utf-8")
        paths.append(path)
    return tuple(paths)


def version(database: Database) -> int:
    with database.reading() as connection:
        return load_data_version(connection)


def test_files_are_loaded_in_any_order(job: Database, tmp_path: Path) -> None:
    paths = write(tmp_path, structures=STRUCTURES, centreline=CENTRELINE)
    report = load_files(job, LoadRequest(paths=paths), now=NOW)
    assert [file.kind for file in report.files] == ["centreline", "structures"]
    assert [file.rows_used for file in report.files] == [2, 2]
    view = build_view(job, today=NOW.date())
    assert view.figures.ahead_span[0] == pytest.approx(1000.0 / 0.9995)
    assert view.name


def test_originals_are_kept_byte_for_byte(job: Database, tmp_path: Path) -> None:
    paths = write(tmp_path, centreline="\ufeff" + CENTRELINE.replace("\n", "\r\n"))
    load_files(job, LoadRequest(paths=paths), now=NOW)
    with job.reading() as connection:
        (record,) = list_files(connection)
        assert file_content(connection, record.id) == paths[0].read_bytes()


def test_one_bad_file_refuses_all_and_changes_nothing(job: Database, tmp_path: Path) -> None:
    load_files(job, LoadRequest(paths=write(tmp_path, centreline=CENTRELINE)), now=NOW)
    before = version(job)
    bad = STRUCTURES + "1/3,nan,2250000,12.5\n"
    paths = write(tmp_path, centreline2=CENTRELINE.replace("905000", "906000"), structures=bad)
    with pytest.raises(InputRefused, match=r"structures\.csv, row 4.*nan"):
        load_files(job, LoadRequest(paths=paths), now=NOW)
    assert version(job) == before
    with job.reading() as connection:
        assert len(list_files(connection)) == 1
        assert len(load_structures(connection)) == 0


def test_a_dry_run_tells_everything_and_stores_nothing(job: Database, tmp_path: Path) -> None:
    paths = write(tmp_path, centreline=CENTRELINE, structures=STRUCTURES + "1/2,1,2,3\n", junk="a,b\n1,2\n")
    before = version(job)
    found = review(job, Edit(load=LoadRequest(paths=paths)), now=NOW)
    assert found.stops
    assert {file.name: file.kind for file in found.applied.files} == {
        "centreline.csv": "centreline",
        "structures.csv": "structures",
        "junk.csv": "",
    }
    assert found.applied.files[0].mapping["northing"].startswith("Northing")
    assert version(job) == before
    with job.reading() as connection:
        assert list_files(connection) == ()


def test_structures_of_a_line_without_centreline_are_refused(job: Database, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="no centreline"):
        load_files(job, LoadRequest(paths=write(tmp_path, structures=STRUCTURES)), now=NOW)


def test_structures_far_from_their_centreline_are_refused(job: Database, tmp_path: Path) -> None:
    far = STRUCTURES.replace("2250000", "250000")
    paths = write(tmp_path, centreline=CENTRELINE, structures=far)
    with pytest.raises(InputRefused, match=r"2 structures: half of them lie \d+ km or more from the line"):
        load_files(job, LoadRequest(paths=paths), now=NOW)
    with job.reading() as connection:
        assert list_files(connection) == ()


def test_the_same_shots_are_not_loaded_twice(job: Database, tmp_path: Path) -> None:
    shots = "1,900000.1,2249993.8,100,STR 1/1 A\n2,900000.1,2250006.2,100,STR 1/1 B\n"
    paths = write(tmp_path, centreline=CENTRELINE, structures=STRUCTURES, shots=shots)
    load_files(job, LoadRequest(paths=paths), now=NOW)
    again = load_files(job, LoadRequest(paths=paths[2:]), now=NOW)
    assert again.files[0].rows_used == 0
    assert [problem.severity for problem in again.problems] == [Severity.NOTED]
    assert build_view(job, today=NOW.date()).set_poles.count.max() == 1


def test_files_without_a_line_are_of_the_only_line_that_comes_with_them(target: str, tmp_path: Path) -> None:
    """The very first load: the lists name their line, the shots, as ever, do not."""
    create_job(target, {"crs": "EPSG:6515"}, now=NOW)
    texts = {"centreline": CENTRELINE, "structures": STRUCTURES, "shots": SHOTS}
    for name in ("centreline", "structures"):
        head, *rows = texts[name].strip().splitlines()
        texts[name] = "".join(f"{line}\n" for line in (f"line,{head}", *(f"South,{row}" for row in rows)))
    with open_job(target) as database:
        load_files(database, LoadRequest(paths=write(tmp_path, **texts)), now=NOW)
        with database.reading() as connection:
            assert {shot.line for shot in load_shots(connection)} == {"South"}


def test_shots_without_a_line_find_theirs_where_the_lists_name_another_than_the_job(
    target: str, tmp_path: Path
) -> None:
    create_job(target, {"crs": "EPSG:6515", "line": "North"}, now=NOW)
    texts = {"centreline": CENTRELINE, "structures": STRUCTURES, "shots": SHOTS}
    for name in ("centreline", "structures"):
        head, *rows = texts[name].strip().splitlines()
        texts[name] = "".join(f"{line}\n" for line in (f"line,{head}", *(f"South,{row}" for row in rows)))
    with open_job(target) as database:
        load_files(database, LoadRequest(paths=write(tmp_path, **texts)), now=NOW)
        assert build_view(database, today=NOW.date()).set_poles.count.any()


def test_a_new_revision_tells_what_it_changes(job: Database, tmp_path: Path) -> None:
    load_files(job, LoadRequest(paths=write(tmp_path, c=CENTRELINE, s=STRUCTURES), label="A"), now=NOW)
    moved = STRUCTURES.replace("901000", "901010.005")
    report = load_files(job, LoadRequest(paths=write(tmp_path, t=moved), label="B"), now=NOW)
    assert report.files[0].changes == ("1/2 moved 10.01 ft",)  # 10 ft on the grid
    changes = build_view(job, today=NOW.date()).changes_by_structure
    assert {key: [change.words for change in found] for key, found in changes.items()} == {
        ("North", "1/2"): ["Rev B: moved 10.01 ft"]
    }


def test_what_a_file_is_can_be_said(job: Database, tmp_path: Path) -> None:
    paths = write(tmp_path, list="Name,Northing,Easting\nPOB,900000,2250000\nPOE,905000,2250000\n")
    report = load_files(job, LoadRequest(paths=paths, kind="centreline"), now=NOW)
    assert report.files[0].kind == "centreline"


def test_verdicts_wait_until_factor_and_base_point_are_declared(target: str, tmp_path: Path) -> None:
    create_job(target, {"crs": "EPSG:6515", "line": "North"}, now=NOW)
    shots = "1,900000.1,2249993.75,100,STR 1/1 A\n2,900000.1,2250006.25,100,STR 1/1 B\n"
    paths = write(tmp_path, centreline=CENTRELINE, structures=STRUCTURES, shots=shots)
    with open_job(target) as database:
        load_files(database, LoadRequest(paths=paths), now=NOW)
        before = build_view(database, today=NOW.date())
        assert before.declaration.missing == ("combined factor", "base point")
        assert str(before.checks.verdict[0]) == "cannot tell"
        assert any(
            "combined factor and base point not declared" in f.words for f in before.ledger.everything()
        )
        declare(database, {"combined_factor": "1.0", "base_point": "none"}, now=NOW)
        after = build_view(database, today=NOW.date())
    assert after.declaration.missing == ()
    assert str(after.checks.verdict[0]) == "pass"


def test_a_new_list_of_tolerances_names_what_it_takes_away(job: Database, tmp_path: Path) -> None:
    load_files(job, LoadRequest(paths=write(tmp_path, c=CENTRELINE, s=STRUCTURES)), now=NOW)
    first = write(tmp_path, t="name,value,unit,source\nspacing,0.1,ft,4.3\nacross,0.2,ft,4.4\n")
    assert load_files(job, LoadRequest(paths=first), now=NOW).files[0].changes == ()
    declare(job, {"tolerance": ["plumb=0.75: spec 16.3"]}, now=NOW)
    second = write(tmp_path, u="name,value,unit,source\nspacing,0.15,ft,4.3\n")
    assert load_files(job, LoadRequest(paths=second), now=NOW).files[0].changes == (
        "tolerance spacing value 0.1 -> 0.15",
        "tolerance across removed",
        "tolerance plumb removed",
    )
    tolerances = build_view(job, today=NOW.date()).tolerances
    assert (tolerances.spacing.value, tolerances.across.value) == (0.15, 0.25)
    with job.reading() as connection:
        states = list_states(connection, "tolerances")
        assert len(load_list(connection, TOLERANCES, state=states[1].id)) == 3


HOLDS = "Hold,Activities,Structures,Until,Reason\nHZ-1,dig,1/1,,wet\nHZ-2,dig,1/2,,nest\n"


def test_one_new_hold_takes_none_away(job: Database, tmp_path: Path) -> None:
    """What held people back before holds them back after a file that does not name it."""
    load_files(job, LoadRequest(paths=write(tmp_path, c=CENTRELINE, s=STRUCTURES, h=HOLDS)), now=NOW)
    one = write(tmp_path, one="Hold,Activities,Structures,Reason\nHZ-3,wire,1/2,road\n")
    (file,) = load_files(job, LoadRequest(paths=one), now=NOW).files
    assert file.changes == ("hold HZ-3 added",)
    assert [hold.id for hold in build_view(job, today=NOW.date()).holds] == ["HZ-1", "HZ-2", "HZ-3"]


def test_what_was_wrong_in_a_file_stands_while_its_other_rows_do(job: Database, tmp_path: Path) -> None:
    """Of a list that is kept by key too: a small file does not take a finding on a large one away."""
    holds = "Hold,Activities,Structures,Reason,Restricted\nHZ-1,dig,1/1,wet,who knows\n"
    load_files(job, LoadRequest(paths=write(tmp_path, c=CENTRELINE, s=STRUCTURES, h=holds)), now=NOW)
    one = write(tmp_path, one="Hold,Activities,Structures,Reason\nHZ-3,wire,1/2,road\n")
    load_files(job, LoadRequest(paths=one), now=NOW)
    with job.reading() as connection:
        assert {problem.file for _, problem in standing_problems(connection)} == {"h.csv"}
    load_files(job, LoadRequest(paths=write(tmp_path, h=HOLDS)), now=NOW)
    with job.reading() as connection:
        assert standing_problems(connection) == ()


def test_what_was_wrong_in_a_file_goes_when_its_rows_have_ended(job: Database, tmp_path: Path) -> None:
    doubtful = "Hold,Activities,Structures,Reason,Restricted\nHZ-1,dig,1/1,wet,who knows\n"
    load_files(job, LoadRequest(paths=write(tmp_path, c=CENTRELINE, s=STRUCTURES, h=doubtful)), now=NOW)
    load_files(job, LoadRequest(paths=write(tmp_path, g=HOLDS.replace("HZ-1", "HZ-3"))), now=NOW)
    ends = LoadRequest(paths=write(tmp_path, e=HOLDS), ends=frozenset({"holds"}))

    def wrong() -> set[str]:
        with job.reading() as connection:
            return {problem.file for _, problem in standing_problems(connection)}

    assert wrong() == {"h.csv"}
    load_files(job, ends, now=NOW, removes=["holds"])
    assert wrong() == set()


@pytest.mark.parametrize("name", ["holds", "structures", "centreline", "tolerances"])
def test_the_same_file_once_more_makes_no_new_state(job: Database, tmp_path: Path, name: str) -> None:
    tolerances = "name,value,unit\nspacing,0.1,ft\n"
    paths = write(tmp_path, centreline=CENTRELINE, structures=STRUCTURES, holds=HOLDS, tolerances=tolerances)
    load_files(job, LoadRequest(paths=paths, label="A"), now=NOW)
    path = tmp_path / f"{name}.csv"

    def states() -> int:
        with job.reading() as connection:
            return len(list_states(connection))

    before = states()
    (again,) = load_files(job, LoadRequest(paths=(path,)), now=NOW).files
    assert [problem.reason for problem in again.problems] == [
        "the list stands as this very file made it on 2026-05-16"
    ]
    assert states() == before
    load_files(job, LoadRequest(paths=(path,), label="B"), now=NOW)
    assert states() == before + 1, "a label of its own makes a state"
    path.write_text(path.read_text("utf-8") + "\n", "utf-8")
    load_files(job, LoadRequest(paths=(path,)), now=NOW)
    assert states() == before + 2, "other bytes make a state, though their rows are the same"


def test_tolerances_that_are_none_are_refused(job: Database, tmp_path: Path) -> None:
    wrong = write(tmp_path, t="name,value,unit\nlean,0.1,ft\nacross,0.2,in\n")
    with pytest.raises(InputRefused, match="not a tolerance") as refused:
        load_files(job, LoadRequest(paths=wrong), now=NOW)
    assert len(refused.value.problems) == 2


RECORDS = "Date,Structure,Step,Crew\n2026-05-04,1/1,framed,Heron\n2026-05-05,1/2,lunch,Heron\n"
SHOTS = (
    "Point,Northing,Easting,Elevation,Description\n1,900000,2250006,640,STR 1/1 A\n2,north,0,0,STR 1/1 B\n"
)


def test_what_loading_left_out_is_a_finding_until_the_file_comes_again(job: Database, tmp_path: Path) -> None:
    """At the structure that its row names, else beside all; the office or the surveyor is asked."""
    load_files(job, LoadRequest(paths=write(tmp_path, structures=STRUCTURES, centreline=CENTRELINE)), now=NOW)
    load_files(job, LoadRequest(paths=write(tmp_path, records=RECORDS, shots=SHOTS)), now=NOW)
    view = build_view(job, today=NOW.date())
    at = {view.key(row)[1]: view.ledger.on("panel", row) for row in range(2)}
    (left,) = [each for each in at["1/2"] if each.code == "row left out"]
    assert (left.severity.label, left.asks, left.values["row"]) == ("cannot tell", "office", 3)
    assert left.words.startswith("left out of the records: records.csv, row 3, Step: ")
    assert "row left out" not in {each.code for each in at["1/1"]}
    (shot,) = view.ledger.beside("check")
    assert (shot.code, shot.structure, shot.asks, shot.values["row"]) == ("shot left out", "", "surveyor", 3)
    (row,) = [row for row in check_job(build_view(job, today=NOW.date())).rows if not row.structure]
    assert row.findings == [shot.words]
    assert survey_answer(view).beside[0].findings == [shot.words]
    (file,) = [file for file in files_answer(job, view).files if file.name == "records.csv"]
    assert [(each.structure, each.code, each.standing) for each in file.problems] == [
        ("1/1", "row in question", True),
        ("1/2", "row left out", True),
    ]
    assert {each.code for each in redact_view(view, Audience.CREW).ledger.everything()} >= {"row left out"}
    public = redact_view(view, Audience.PUBLIC).ledger
    assert not {"row left out", "shot left out"} & {each.code for each in public.everything()}
    again = write(tmp_path, records=RECORDS.replace("lunch", "framed"))
    load_files(job, LoadRequest(paths=again), now=NOW)
    view = build_view(job, today=NOW.date())
    assert "row left out" not in {each.code for each in view.ledger.everything()}
    new, old = [file for file in files_answer(job, view).files if file.name == "records.csv"]
    assert [{each.standing for each in file.problems} for file in (new, old)] == [{True}, {False}]


def test_unread_columns_are_in_the_report(job: Database, tmp_path: Path) -> None:
    text = STRUCTURES.replace("\n", ",Owner\n", 1).replace("12.5\n", "12.5,me\n")
    report = load_files(job, LoadRequest(paths=write(tmp_path, c=CENTRELINE, s=text)), now=NOW)
    assert [str(column) for column in report.files[1].unread] == ['"Owner" (me: 2 rows)']
    (answer,) = orjson.loads(orjson.dumps(report.as_dict()))["files"][1]["unread"]
    assert (answer["heading"], answer["rows"]) == ("Owner", 2)


def test_files_are_named_from_the_folder_one_is_in(
    job: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However long ago, and wherever, the process was started that reads."""
    for folder, name in (("a", "centreline"), ("b", "structures")):
        (tmp_path / folder).mkdir()
        text = {"centreline": CENTRELINE, "structures": STRUCTURES}[name]
        (tmp_path / folder / f"{name}.csv").write_text(text, encoding="utf-8")
        monkeypatch.chdir(tmp_path / folder)
        (file,) = load_files(job, LoadRequest(paths=(Path(f"{name}.csv"),)), now=NOW).files
        assert file.rows_used == 2
