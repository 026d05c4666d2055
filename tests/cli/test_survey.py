"""`linemap decide` and `linemap redmarks` on a copy of the invented line's job."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from command import linemap

FOOT = "file shots_2026-04-29.csv"


def run(*arguments: object) -> tuple[int, str]:
    """Return the exit code and everything that was printed."""
    done = linemap(*arguments)
    return done.returncode, done.stdout + done.stderr


def listed(job: Path) -> list[dict[str, Any]]:
    code, text = run("decide", job, "--json")
    assert code == 0
    found: list[dict[str, Any]] = json.loads(text)
    return found


@pytest.fixture
def job(demo_job: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(demo_job, tmp_path / "demo.linemap"))


def test_causes_are_listed_with_numbers_and_what_they_ask_for(job: Path) -> None:
    code, text = run("decide", job)
    assert code == 0
    assert f"foot definition, {FOOT}: open" in text
    assert "ask for the unit setting of the controller" in text
    assert "nothing here is a clearance" in text
    assert [each["number"] for each in listed(job)] == list(range(1, 16))


def test_accepting_and_withdrawing_by_subject_and_by_name(job: Path) -> None:
    code, text = run("decide", job, "accept", FOOT, "--by", "P. Chief", "--note", "US feet")
    assert code == 0
    assert "pass 27 -> 31" in text
    assert "7/6: fail -> pass" in text
    last = listed(job)[-1]
    assert (last["cause"], last["decision"]["who"]) == ("foot definition", "P. Chief")
    code, text = run("decide", job, "withdraw", last["id"], "--by", "P. Chief")
    assert code == 0
    assert "7/6: pass -> fail" in text
    assert [each["decision"] for each in listed(job)] == [None] * 15


def test_names_stay_when_another_cause_is_decided_and_numbers_are_refused_then(job: Path) -> None:
    before = {each["subject"]: each for each in listed(job)}
    second, third = list(before.values())[1:3]
    code, _ = run("decide", job, "reject", second["number"], "--by", "P. Chief")
    assert code == 0
    after = {each["subject"]: each for each in listed(job)}
    assert {name: each["id"] for name, each in after.items()} == {
        name: each["id"] for name, each in before.items() if name in after
    }
    assert len({each["id"] for each in after.values()}) == len(after)
    number = after[third["subject"]]["number"]
    code, text = run("decide", job, "reject", number, "--by", "P. Chief")
    assert code == 2
    assert "numbers move with every decision" in text
    assert third["id"] in text.replace("\n", "")
    assert listed(job) == list(after.values())
    code, _ = run("decide", job, "reject", third["id"], "--by", "P. Chief")
    assert code == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("accept", FOOT), "names nobody"),
        (("accept", "99", "--by", "P"), "is no cause of this job"),
        (("accept", "structure 2/3", "--by", "P"), "second evidence"),
        (("withdraw", FOOT, "--by", "P"), "no answer to withdraw"),
        (("approve", FOOT, "--by", "P"), "approve"),
    ],
)
def test_what_is_no_decision_is_refused(job: Path, arguments: tuple[str, ...], words: str) -> None:
    code, text = run("decide", job, *arguments)
    assert code == 2
    assert words in text
    assert "Traceback" not in text
    assert all(each["decision"] is None for each in listed(job))


@pytest.mark.parametrize(("name", "start"), [("marks.xlsx", b"PK"), ("marks.pdf", b"%PDF-")])
def test_red_marks_are_written_whole(job: Path, tmp_path: Path, name: str, start: bytes) -> None:
    out = tmp_path / name
    code, text = run("redmarks", job, "--out", out, "--paper", "a4")
    assert code == 0
    assert "121 structures; 27 pass, 10 fail, 16 cannot tell, 68 not surveyed" in text
    assert out.read_bytes().startswith(start)


def test_red_marks_of_a_stretch(job: Path, tmp_path: Path) -> None:
    code, text = run("redmarks", job, "--out", tmp_path / "m.xlsx", "--from", "3/3", "--to", "3/5")
    assert code == 0
    assert "3 structures; 1 pass, 1 fail, 1 cannot tell, 0 not surveyed; 3 chosen of 121" in text


def test_red_marks_of_another_kind_are_refused(job: Path, tmp_path: Path) -> None:
    code, text = run("redmarks", job, "--out", tmp_path / "marks.docx")
    assert code == 2
    assert "written as .xlsx or .pdf" in text
    assert not (tmp_path / "marks.docx").exists()
