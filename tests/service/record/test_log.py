"""The exported record: verifiable by itself, by anyone, and by the byte."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from command import linemap

from linemap import __version__
from linemap.errors import InputRefused
from linemap.service.record.log import export_record, lost_since, newest_of_job, verify_export, verify_record
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job


@pytest.fixture(scope="module")
def exported(demo_database: Database, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("log") / "record.jsonl"
    assert export_record(demo_database, path) > 700
    return path


def changed(exported: Path, tmp_path: Path, old: bytes, new: bytes) -> tuple[Path, int]:
    """A copy with the first occurrence of some bytes changed, and the row it stands in."""
    content = exported.read_bytes()
    at = content.index(old)
    path = tmp_path / "changed.jsonl"
    path.write_bytes(content[:at] + new + content[at + len(old) :])
    return path, content[:at].count(b"\n") + 1


def test_job_and_export_verify_to_the_same_head(demo_database: Database, exported: Path) -> None:
    of_job, of_file = verify_record(demo_database), verify_export(exported)
    assert of_job == of_file
    assert of_job.broken is None
    assert of_job.change_broken is None
    assert of_job.holds
    counts = (of_job.count, of_job.change_count, of_job.seal_count)
    assert sum(counts) == len(exported.read_bytes().splitlines())
    assert of_job.change_count == 3
    assert of_job.seal_count > 60


def test_anyone_can_check_the_file_without_this_program(exported: Path) -> None:
    """The check as the help of the command describes it."""
    rows = list(map(json.loads, exported.read_text("utf-8").splitlines()))
    for what in ("event", "change", "seal"):
        previous = ""
        for row in (row for row in rows if what in row):
            said = json.dumps(row[what], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
            previous = hashlib.sha256((previous + said).encode("utf-8")).hexdigest()
            assert row["hash"] == previous


def test_the_first_line_says_of_which_job_it_is(demo_view: JobView, exported: Path) -> None:
    first, *rest = map(json.loads, exported.read_text("utf-8").splitlines())
    made = {"identity": demo_view.identity, "incarnation": demo_view.incarnation, "software": __version__}
    assert first["job"] == made
    assert all("job" not in row for row in rest)


@pytest.mark.parametrize(
    ("old", "new"), [(b"Heron", b"Raven"), (b'"row":9', b'"row":8'), (b"2026-04", b"2026-03")]
)
def test_a_change_names_the_event(exported: Path, tmp_path: Path, old: bytes, new: bytes) -> None:
    path, row = changed(exported, tmp_path, old, new)
    found = verify_export(path)
    assert found.broken is not None
    assert found.broken.row == row
    assert found.broken.id == json.loads(exported.read_text("utf-8").splitlines()[row - 1])["event"]["id"]
    assert found.count == row - 1


def test_an_accepted_change_that_is_changed_or_of_another_record_is_named(
    exported: Path, tmp_path: Path
) -> None:
    path, _ = changed(exported, tmp_path, b'"who":"demo"', b'"who":"nemo"')
    found = verify_export(path)
    assert found.broken is None
    assert found.change_broken is not None
    assert (found.change_count, found.change_broken.seq) == (0, 1)
    rows = list(map(json.loads, exported.read_text("utf-8").splitlines()))
    last = [row for row in rows if "change" in row][-1]
    path.write_text("".join(json.dumps(row) + "\n" for row in rows if "change" in row), "utf-8")
    other = verify_export(path)
    assert bool(other.change_broken) == bool(last["change"]["event_hash"])


def test_a_removed_event_names_the_one_after_it(exported: Path, tmp_path: Path) -> None:
    lines = exported.read_text("utf-8").splitlines(keepends=True)
    path = tmp_path / "short.jsonl"
    path.write_text("".join(lines[:10] + lines[11:]), "utf-8")
    found = verify_export(path)
    assert found.broken is not None
    assert (found.broken.row, found.broken.seq) == (11, json.loads(lines[11])["seq"])


def test_a_noted_hash_must_stand_in_the_record(demo_database: Database, exported: Path) -> None:
    noted = json.loads(exported.read_text("utf-8").splitlines()[99])["hash"]
    assert verify_record(demo_database, noted=noted.upper()).noted_found
    assert verify_export(exported, noted="0" * 64).noted_found is False


@pytest.mark.parametrize(
    "content", ["no json\n", "[]\n", '{"seq": 1}\n', '{"seq": "a", "event": {}, "hash": ""}\n']
)
def test_a_file_that_is_no_export_is_refused(tmp_path: Path, content: str) -> None:
    path = tmp_path / "other.jsonl"
    path.write_text(content)
    with pytest.raises(InputRefused, match=r"other\.jsonl, row 1: is no event of an exported record"):
        verify_export(path)


def test_the_command_exports_verifies_and_fails_on_a_change(
    demo_job: Path, exported: Path, tmp_path: Path
) -> None:
    out = tmp_path / "record.jsonl"
    assert linemap("log", demo_job, "export", "--out", str(out)).returncode == 0
    assert out.read_bytes() == exported.read_bytes()
    good = linemap("log", demo_job, "verify")
    assert (good.returncode, "follow from each other" in good.stdout) == (0, True)
    path, row = changed(exported, tmp_path, b"Heron", b"Raven")
    bad = linemap("log", path, "verify")
    assert (bad.returncode, f"row {row} of an export" in bad.stdout) == (1, True)
    assert linemap("log", demo_job, "export").returncode == 2


def forge(job: Path, *statements: str) -> None:
    with closing(sqlite3.connect(job)) as raw, raw:
        triggers = raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for statement in (*(f"DROP TRIGGER {name}" for (name,) in triggers), *statements):
            raw.execute(statement)


def test_the_command_names_the_first_altered_thing_of_each_kind(demo_job: Path, tmp_path: Path) -> None:
    job = Path(shutil.copy(demo_job, tmp_path / "forged.linemap"))
    forge(
        job,
        "UPDATE hold SET to_date = '2026-04-28' WHERE id = 'HE-1'",
        "UPDATE fact SET length_ft = 10 WHERE seq = (SELECT max(seq) FROM fact)",
        "UPDATE file SET content = X'00' WHERE name = 'holds.csv'",
        "UPDATE event SET note = 'all well' WHERE seq = 700",
    )
    found = linemap("log", job, "verify")
    assert found.returncode == 1
    said = found.stdout.splitlines()
    assert any(re.fullmatch(r"changed: event .*, number 700, row 700 of an export", line) for line in said)
    named = [line.partition(", not as seal")[0] for line in said if ", not as seal" in line]
    with closing(sqlite3.connect(job)) as raw:
        what, structure, pole = raw.execute(
            "SELECT what, structure, pole FROM fact ORDER BY seq DESC"
        ).fetchone()
    fact = f"changed: fact of {what} {structure} {pole} 2026-05-07"
    assert named == ["changed: hold HE-1", fact, "changed: file holds.csv"]
    plain = json.loads(linemap("log", job, "verify", "--json").stdout)
    assert [each["how"] for each in plain["altered"]] == ["changed"] * 3
    assert plain["altered"][0]["name"] == "HE-1"


def test_the_command_names_a_hold_that_was_taken_out(demo_job: Path, tmp_path: Path) -> None:
    job = Path(shutil.copy(demo_job, tmp_path / "forged.linemap"))
    forge(job, "DELETE FROM hold WHERE id = 'HN-1'")
    assert "gone: hold HN-1, not as seal" in linemap("log", job, "verify").stdout


def test_the_command_names_what_can_no_longer_be_read(demo_job: Path, tmp_path: Path) -> None:
    job = Path(shutil.copy(demo_job, tmp_path / "forged.linemap"))
    forge(
        job,
        "UPDATE event SET photos = '[x' WHERE seq = 700",
        "UPDATE job_change SET summary = '{' WHERE seq = (SELECT min(seq) FROM job_change)",
    )
    found = linemap("log", job, "verify")
    assert found.returncode == 1
    assert "changed: event what can no longer be read, number 700, row 700" in found.stdout
    assert "changed: accepted change what can no longer be read, number 1\n" in found.stdout


def test_a_cut_tail_shows_to_whoever_noted_the_newest_links(demo_job: Path, tmp_path: Path) -> None:
    job = Path(shutil.copy(demo_job, tmp_path / "cut.linemap"))
    with open_job(job) as database, database.reading() as connection:
        noted = newest_of_job(connection)
        assert lost_since(connection, noted) == ()
    whole = linemap("log", job, "verify", "--noted", noted)
    assert (whole.returncode, "the noted hash is in this record" in whole.stdout) == (0, True)
    forge(job, "DELETE FROM event WHERE seq > 780", "DELETE FROM seal WHERE of = 'file' OR seq > 40")
    with open_job(job) as database, database.reading() as connection:
        assert lost_since(connection, noted) == ("events", "seals")
        assert lost_since(connection, f"of another job: {noted.replace('events', 'fences')}") == ("seals",)
    assert linemap("log", job, "verify", "--noted", noted).returncode == 1
