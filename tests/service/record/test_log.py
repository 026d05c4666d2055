"""The exported record: verifiable by itself, by anyone, and by the byte."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from command import linemap

from linemap import __version__
from linemap.errors import InputRefused
from linemap.service.record.log import export_record, verify_export, verify_record
from linemap.service.view.view import JobView
from linemap.store.database import Database


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
    assert of_job.count + of_job.change_count == len(exported.read_bytes().splitlines())
    assert of_job.change_count == 3


def test_anyone_can_check_the_file_without_this_program(exported: Path) -> None:
    """The check as the help of the command describes it."""
    rows = list(map(json.loads, exported.read_text("utf-8").splitlines()))
    for what in ("event", "change"):
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
