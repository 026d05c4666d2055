"""`linemap shots` on a copy of the invented line's job."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from command import linemap

TWICE = "shots_2026-04-16.csv:8"


def run(*arguments: object) -> tuple[int, str]:
    """Return the exit code and everything that was printed."""
    done = linemap("shots", *arguments)
    return done.returncode, done.stdout + done.stderr


def listed(job: Path, *options: str) -> list[dict[str, Any]]:
    code, text = run(job, "--json", *options)
    assert code == 0
    found: list[dict[str, Any]] = json.loads(text)
    return found


@pytest.fixture
def job(demo_job: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(demo_job, tmp_path / "demo.linemap"))


def test_open_shots_are_listed_with_the_nearest_poles_and_what_each_choice_gives(job: Path) -> None:
    code, text = run(job)
    assert code == 0
    assert f"{TWICE}  5008  '3-5 B GL'  contradicted 3/5 B" in text
    assert "without it, with point 5007 of shots_2026-04-16.csv: arm turned 0.0°" in text
    assert "nearest: 3/5 B 6.21 ft off: 6.21 ft ahead, 0.02 ft left; 3/5 A 13.93 ft off" in text
    assert "13 of 125 shots." in text
    assert [len(listed(job)), len(listed(job, "--all"))] == [13, 19]


def test_a_shot_is_set_aside_and_taken_back(job: Path) -> None:
    before = listed(job, "--all")
    code, text = run(job, "set-aside", TWICE, "--by", "P. Chief", "--note", "rod on the wrong pole")
    assert (code, text.splitlines()) == (
        0,
        ["shots set aside, row 8 of shots_2026-04-16.csv", "     3/5: cannot tell -> pass"],
    )
    (aside,) = [each for each in listed(job, "--all") if each["state"] == "set aside"]
    assert aside["decision"]["words"].endswith("rod on the wrong pole")
    code, text = run(job, "take-back", TWICE, "--by", "P. Chief", "--json")
    assert (code, json.loads(text)["changed"][0]["after"]) == (0, "cannot tell")
    assert listed(job, "--all") == before


def test_shots_go_where_they_lie_or_where_they_are_said_to_be(job: Path) -> None:
    code, text = run(job, "assign", "shots_2026-04-09.csv:13-14", "--nearest", "--by", "P. Chief")
    assert code == 0
    assert "2/5: not surveyed -> pass" in text
    named = ("--structure", "9-3", "--pole", "b", "--by", "P. Chief")
    code, text = run(job, "assign", "shots_2026-05-13.csv:38", *named)
    assert code == 0
    (shot,) = [each for each in listed(job) if each["point"] == "5038"]
    assert (shot["structure"], shot["pole"], shot["state"]) == ("9/3", "B", "conflicting")


def test_what_is_described_alike_is_listed_then_read_by_a_pattern(job: Path) -> None:
    code, text = run(job, "--pattern", "? = check")
    assert (code, text.splitlines()) == (
        0,
        ["shots_2026-05-13.csv:38  5038  '?'", "? = check: 1 shot would be read as a check shot"],
    )
    code, text = run(job, "assign", "--pattern", "? = check", "--by", "P. Chief", "--note", "control")
    assert (code, text.splitlines()) == (0, ["shots read by pattern, ?", "     no verdict changed"])
    (shot,) = [each for each in listed(job, "--all") if each["point"] == "5038"]
    assert (shot["state"], shot["item"]) == ("assigned", "check")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("set-aside", TWICE, "--note", "x"), "names nobody"),
        (("set-aside", TWICE, "--by", "P"), "gives no reason"),
        (("set-aside", "--by", "P", "--note", "x"), "names no shot and no decision"),
        (("set-aside", "shots_2026-04-16.csv", "--by", "P", "--note", "x"), "names no rows of a file"),
        (("set-aside", TWICE, "--point", "7", "--by", "P", "--note", "x"), "no shot in row 8"),
        (("set-aside", "other.csv:1", "--by", "P", "--note", "x"), "no shot in row 1 of other.csv"),
        (("assign", TWICE, "--by", "P", "--structure", "3/5", "--pole", "D"), "use one of A, B"),
        (("assign", TWICE, "--by", "P", "--structure", "99/9", "--pole", "A"), "no structure 99/9"),
        (("assign", TWICE, "--by", "P", "--item", "tree"), "use one of pole, top"),
        (("assign", "shots_2026-04-16.csv:1", "--by", "P", "--nearest"), "is used as it was read"),
        (("assign", "--by", "P", "--pattern", "FOX <structure>"), "names no pole; name it once"),
        (("assign", "--by", "P", "--pattern", "FOX <structure> = top A"), "reads no shot"),
        (("take-back", TWICE, "--by", "P"), "has no decision that stands"),
        (("erase", TWICE, "--by", "P"), "erase"),
    ],
)
def test_what_cannot_be_is_refused(job: Path, arguments: tuple[str, ...], words: str) -> None:
    code, text = run(job, *arguments)
    assert code == 2
    assert words in " ".join(text.split())
    assert "Traceback" not in text
    assert all(each["decision"] is None for each in listed(job, "--all"))
