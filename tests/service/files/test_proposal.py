"""Proposals: what is shown is what accepting does, nothing is stored before, and an undo brings it back."""

from __future__ import annotations

import csv
import datetime as dt
import io
import shutil
import time
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from linemap.answers.change import Accepted, Choices, Proposal
from linemap.domain.record.event import Event
from linemap.errors import Conflict, InputRefused, NotFound
from linemap.kinds.registry import HOLDS
from linemap.service.files.edit import Signed
from linemap.service.files.proposal import (
    accept,
    add_proposal_file,
    begin,
    begin_undo,
    drop_proposal,
    load_proposal,
    read_proposal,
)
from linemap.service.files.proposal_answer import changes_answer
from linemap.service.job.job import create_job
from linemap.service.view.build import build_view
from linemap.store.database import Database, open_job
from linemap.store.events import add_events, since
from linemap.store.lines import list_lines
from linemap.store.lists import load_list
from linemap.store.states import list_states
from linemap.store.survey import load_shots
from linemap.store.versions import load_data_version

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
ONE_HOLD = "id,activities,structures,reason,set by,release by\nHZ-9,framing,13/6,wet ground,Otter,Otter\n"


@pytest.fixture
def job(demo_job: Path, tmp_path: Path) -> Iterator[Database]:
    path = tmp_path / "own.linemap"
    shutil.copy(demo_job, path)
    with open_job(path) as database:
        yield database


@pytest.fixture(scope="module")
def made_empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("empty") / "empty.linemap"
    create_job(str(path), {"crs": "EPSG:6515", "line": "North"}, now=NOW)
    return path


@pytest.fixture
def empty(made_empty: Path, tmp_path: Path) -> Iterator[Database]:
    """A job without lines: what is loaded and waits is the same in any job."""
    with open_job(shutil.copy(made_empty, tmp_path)) as database:
        yield database


def proposed(database: Database, choices: Choices | None = None, **files: str) -> Proposal:
    made = begin(database, who="Otter", now=NOW)
    for name, text in files.items():
        add_proposal_file(database, made, name.replace("__", "."), text.encode())
    return read_proposal(database, made, choices or Choices(), now=NOW)


def accepted(database: Database, proposal: Proposal, *removes: str) -> Accepted:
    return accept(
        database,
        proposal.id,
        Signed(who="Otter", reason="as agreed", removes=removes),
        digest=proposal.digest,
        now=NOW,
    )


def holds(database: Database) -> list[str]:
    with database.reading() as connection:
        return sorted(hold.id for hold in load_list(connection, HOLDS))


def shots(database: Database) -> int:
    with database.reading() as connection:
        return len(load_shots(connection))


def version(database: Database) -> int:
    with database.reading() as connection:
        return load_data_version(connection)


def codes(proposal: Proposal) -> list[str]:
    return [each.code for each in proposal.consequences]


def test_a_hold_more_is_added_and_those_the_file_does_not_name_stay(job: Database) -> None:
    before, stood = holds(job), version(job)
    found = proposed(job, holds__csv=ONE_HOLD)
    assert (found.state, found.needs, version(job)) == ("ready", [], stood)
    assert found.button == "Load 1 hold, end 0"
    assert codes(found) == ["stops being workable", "list added"]
    assert [each.structure for each in found.consequences[0].effects] == ["13/6"]
    assert [(each.kind, each.count, each.ends) for each in found.not_named] == [("holds", len(before), False)]
    done = accepted(job, found)
    assert done.change
    assert holds(job) == sorted([*before, "HZ-9"])


def test_ending_holds_needs_its_word_and_names_what_becomes_workable(job: Database) -> None:
    before = holds(job)
    found = proposed(job, Choices(ends=("holds",)), holds__csv=ONE_HOLD)
    assert [(each.word, each.count) for each in found.needs] == [("holds", len(before))]
    workable = next(each for each in found.consequences if each.code == "becomes workable")
    assert "14/2" in {each.structure for each in workable.effects}
    with pytest.raises(InputRefused, match="say --removes holds"):
        accepted(job, found)
    assert holds(job) == before
    done = accepted(job, found, "holds")
    assert holds(job) == ["HZ-9"]
    undo = begin_undo(job, done.change, who="Otter", now=NOW)
    back = read_proposal(job, undo, Choices(), now=NOW)
    assert back.what == "undo"
    assert "stops being workable" in codes(back)
    accepted(job, back, "holds")
    assert holds(job) == before
    with job.reading() as connection:
        assert len(list_states(connection, "holds")) == 3


def test_moved_removed_and_renumbered_structures_are_named(job: Database, demo_files: Path) -> None:
    rows = list(csv.reader((demo_files / "structures_revC.csv").read_text(encoding="utf-8").splitlines()))
    head = next(row for row in rows if "Structure" in row)
    number, northing = head.index("Structure"), head.index("Northing (ft)")
    for row in rows[rows.index(head) :]:
        if row[number] == "12/1":
            row[northing] = f"{float(row[northing]) + 30:.2f}"
        row[number] = {"12/2": "12/2B"}.get(row[number], row[number])
    written = io.StringIO()
    csv.writer(written).writerows(row for row in rows if row[number] != "1/4")
    text = written.getvalue()
    found = proposed(job, structures__csv=text)
    by_code = {each.code: each for each in found.consequences}
    assert [each.structure for each in by_code["moved"].effects] == ["12/1"]
    assert by_code["moved"].effects[0].words.startswith("moves 30.0")
    assert [each.words for each in by_code["renumbered"].effects] == ["stands where 12/2 stood"]
    assert [each.structure for each in by_code["removed"].effects] == ["1/4"]
    assert [each.structure for each in by_code["record without structure"].effects] == ["1/4"]
    assert [each.structure for each in by_code["records follow"].effects] == ["12/2"]
    assert [each.word for each in found.needs] == ["structures"]
    assert found.map is not None
    assert {each.change for each in found.map.places} == {"", "moved", "removed", "renumbered"}


def test_two_people_accept_one_after_the_other_and_the_second_sees_what_changed(job: Database) -> None:
    first = proposed(job, holds__csv=ONE_HOLD)
    second = proposed(job, Choices(ends=("holds",)), other__csv=ONE_HOLD.replace("HZ-9", "HZ-8"))
    accepted(job, first)
    late = accepted(job, second, "holds")
    assert not late.change
    assert late.proposal is not None
    assert late.proposal.digest != second.digest
    assert "hold HZ-9 ends" in {
        effect.words for each in late.proposal.consequences for effect in each.effects
    }
    assert accepted(job, late.proposal, "holds").change
    assert holds(job) == ["HZ-8"]


def test_what_is_refused_says_why_and_cannot_be_accepted(job: Database) -> None:
    stood = version(job)
    found = proposed(job, holds__csv="id,activities,structures,reason\nHZ-9,framing,12/1x9,wet\n")
    assert (found.state, found.button) == ("refused", "")
    assert any("12/1x9" in problem.value for problem in found.files[0].problems)
    with pytest.raises(InputRefused, match="refused as they are"):
        accepted(job, found)
    assert version(job) == stood


def test_shots_set_aside_by_an_undo_count_again_when_they_are_loaded_again(
    job: Database, demo_files: Path
) -> None:
    rows = "9001,911423.70,2273378.01,3952.66,STR 20/1 A\n9002,911410.07,2273384.24,3953.30,STR 20/1 B\n"
    found = proposed(job, more__txt=rows)
    if found.state == "refused":
        pytest.fail(str(found.files))
    seen = shots(job)
    done = accepted(job, found)
    assert shots(job) == seen + 2
    undo = read_proposal(job, begin_undo(job, done.change, who="Otter", now=NOW), Choices(), now=NOW)
    undone = accepted(job, undo)
    assert shots(job) == seen
    with pytest.raises(Conflict, match="it was undone on 2026-05-16 by Otter"):
        begin_undo(job, done.change, who="Otter", now=NOW)
    again = accepted(job, proposed(job, more__txt=rows))
    assert again.change
    assert shots(job) == seen + 2
    listed = changes_answer(job)
    assert [(each.what, bool(each.undone_by)) for each in listed.changes[:3]] == [
        ("load", False),
        ("undo", False),
        ("load", True),
    ]
    assert listed.changes[1].id == undone.change


def test_a_dropped_proposal_is_gone(empty: Database) -> None:
    found = proposed(empty, holds__csv=ONE_HOLD)
    assert load_proposal(empty, found.id) == found
    drop_proposal(empty, found.id)
    with pytest.raises(NotFound, match="accepted or dropped"):
        load_proposal(empty, found.id)


def test_files_that_are_dropped_while_they_are_read_are_read_no_more(
    empty: Database, demo_files: Path
) -> None:
    head, *rows = (demo_files / "framing_records.csv").read_text(encoding="utf-8").splitlines()
    made = begin(empty, who="Otter", now=NOW)
    add_proposal_file(empty, made, "records.csv", "\n".join([head, *rows * 100]).encode())
    with ThreadPoolExecutor(1) as pool:
        reading = pool.submit(read_proposal, empty, made, Choices(), now=NOW)
        while load_proposal(empty, made).state != "reading":
            time.sleep(0.01)
        drop_proposal(empty, made)
        with pytest.raises(NotFound):
            reading.result()


def test_a_list_that_another_replaced_is_told_when_it_comes_again(job: Database, demo_files: Path) -> None:
    text = (demo_files / "structures_revB.csv").read_text(encoding="utf-8")
    found = proposed(job, structures_revB__csv=text)
    said = [problem.reason for problem in found.files[0].problems]
    assert any("and structures_revC.csv took its place on" in reason for reason in said)
    assert "moved" in codes(found)


def test_a_list_that_renumbers_everything_says_so_and_takes_no_record_away_unasked(
    job: Database, demo_files: Path
) -> None:
    rows = list(csv.reader((demo_files / "structures_revC.csv").read_text(encoding="utf-8").splitlines()))
    at = next(row for row in rows if "Structure" in row).index("Structure")
    for number, row in enumerate(row for row in rows if "/" in row[at]):
        row[at] = str(500 + number)
    written = io.StringIO()
    csv.writer(written).writerows(rows)
    found = proposed(job, structures__csv=written.getvalue())
    by_code = {each.code: each for each in found.consequences}
    assert by_code["renumbered"].count == 121
    assert by_code["renumbered"].effects[0].words == "stands where 1/1 stood"
    assert "moved" not in by_code
    held = {each.words: each.structure for each in by_code["place held no more"].effects}
    assert held["hold HN-1 names 14/2, which stood here"] == "572"
    assert len(held) == 14
    assert found.button == "Load 121 structures, take out 121 structures, end 9 holds"
    free = [each.structure for each in by_code["becomes workable"].effects]
    assert "572" in free, "a place is followed to its new number"
    assert [each.word for each in found.needs] == ["structures", "holds"]
    assert "HN-1 (its structures are gone)" in found.needs[1].words
    with pytest.raises(InputRefused, match="no longer where recorded"):
        accepted(job, found)
    with pytest.raises(InputRefused, match="9 holds end: HW-1"):
        accepted(job, found, "structures")


def test_records_of_a_number_that_moves_far_are_named_as_often_as_its_word_is_asked_for(
    job: Database, demo_files: Path
) -> None:
    text = (demo_files / "structures_revC.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines()))
    head = next(row for row in rows if "Structure" in row)
    row = next(row for row in rows if row[head.index("Structure")] == "14/2")
    row[head.index("Northing (ft)")] = str(float(row[head.index("Northing (ft)")]) + 300.0)
    written = io.StringIO()
    csv.writer(written).writerows(rows)
    found = proposed(job, structures__csv=written.getvalue())
    assert [each.word for each in found.needs] == ["structures"]
    (lost,) = (each for each in found.consequences if each.code == "record without structure")
    assert [each.structure for each in lost.effects] == ["14/2"]
    assert lost.effects[0].words == "3 records: another place stands under that number"


def test_a_load_that_changed_nothing_is_not_what_an_undo_undoes(job: Database) -> None:
    first = accepted(job, proposed(job, holds__csv=ONE_HOLD)).change
    again = accepted(job, proposed(job, holds__csv=ONE_HOLD)).change
    listed = {each.id: each.kept_by for each in changes_answer(job).changes}
    assert (listed[first], listed[again]) == ("", "it changed nothing")
    with pytest.raises(Conflict, match="it changed nothing"):
        begin_undo(job, again, who="Otter", now=NOW)


def test_the_same_holds_once_more_change_nothing(job: Database, demo_files: Path) -> None:
    found = proposed(job, holds__csv=(demo_files / "holds.csv").read_text(encoding="utf-8"))
    assert found.consequences == []
    assert found.files[0].rows_used == 0
    assert "the list stands as this very file made it" in found.files[0].problems[0].reason


def test_records_that_phones_send_meanwhile_are_kept_and_hinder_nothing(job: Database) -> None:
    found = proposed(job, holds__csv=ONE_HOLD)
    with job.reading() as connection:
        line = list_lines(connection)[0].name
    event = Event(
        id=str(uuid.uuid4()),
        line=line,
        structure="13/5",
        step="framed",
        crew="Heron",
        happened_at=NOW,
        received_at=NOW,
    )
    with job.writing() as connection:
        add_events(connection, [event])
    assert accepted(job, found).change
    with job.reading() as connection:
        assert event.id in {each.event.id for each in since(connection, 0)}


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("empty.csv", b"", "is empty"),
        ("holds.pdf", b"%PDF-1.7", "files of this kind are not read"),
        ("broken.xlsx", b"PK\x03\x04 and no more", ""),
        ("half.gpkg", b"SQLite format 3\x00" + b"\x00" * 40, ""),
    ],
)
def test_broken_files_are_refused_in_words(empty: Database, name: str, content: bytes, said: str) -> None:
    made = begin(empty, who="Otter", now=NOW)
    add_proposal_file(empty, made, name, content)
    found = read_proposal(empty, made, Choices(), now=NOW)
    assert found.state == "refused"
    (problem,) = found.files[0].problems
    assert said in problem.reason
    assert problem.remedy
    with pytest.raises(InputRefused, match="refused as they are"):
        accepted(empty, found)


@pytest.fixture
def bare(target: str, tmp_path: Path) -> Iterator[Database]:
    rules = {"crs": "EPSG:6515", "line": "North", "combined_factor": "0.9995", "base_point": "none"}
    create_job(target, rules, now=NOW)
    with open_job(target) as database:
        yield database


def test_a_first_load_is_proposed_accepted_and_undone_on_either_database(bare: Database) -> None:
    lists = {
        "centreline__csv": "PI,Northing,Easting\nPOB,900000,2250000\nPOE,905000,2250000\n",
        "structures__csv": "Structure,Northing,Easting\n1/1,900000,2250000\n1/2,901000,2250000\n",
    }
    found = proposed(bare, **lists)
    assert (found.state, found.button) == ("ready", "Load 2 points of the centreline, 2 structures")
    assert [(each.code, each.count) for each in found.consequences] == [("added", 2)]
    done = accepted(bare, found)
    assert build_view(bare, today=NOW.date()).figures.structures.number.tolist() == ["1/1", "1/2"]
    undo = read_proposal(bare, begin_undo(bare, done.change, who="Otter", now=NOW), Choices(), now=NOW)
    assert [each.word for each in undo.needs] == ["centreline"]
    accepted(bare, undo, "centreline")
    again = proposed(bare, **lists)
    assert [(each.code, each.count) for each in again.consequences] == [("added", 2)]
    assert accepted(bare, again).change


def test_what_nobody_accepted_for_two_weeks_is_dropped_and_there_is_an_end_to_what_waits(
    empty: Database,
) -> None:
    old = begin(empty, who="Otter", now=NOW - dt.timedelta(days=15))
    for _ in range(100):
        begin(empty, who="Otter", now=NOW)
    with pytest.raises(NotFound):
        load_proposal(empty, old)
    with pytest.raises(Conflict, match="100 loads wait for a review"):
        begin(empty, who="Otter", now=NOW)


def test_two_lists_of_one_load_are_undone_together(job: Database) -> None:
    before = holds(job)
    both = {"one__csv": ONE_HOLD, "two__csv": ONE_HOLD.replace("HZ-9", "HZ-8")}
    found = proposed(job, **both)
    assert [(each.kind, each.count) for each in found.not_named] == [("holds", len(before))]
    done = accepted(job, found)
    assert holds(job) == sorted([*before, "HZ-8", "HZ-9"])
    undo = read_proposal(job, begin_undo(job, done.change, who="Otter", now=NOW), Choices(), now=NOW)
    assert accepted(job, undo, "holds").change
    assert holds(job) == before
    ends = proposed(job, Choices(ends=("holds",)), **{name: f"{text}\n" for name, text in both.items()})
    assert ends.state == "refused"
    assert "2 files of holds come together" in ends.refused[0]
    assert holds(job) == before
