"""`linemap next` as a user runs it."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path

import pytest
from command import linemap

from linemap.domain.record.workflow import FRAMED_ALOFT
from linemap.service.view.build import build_view
from linemap.store.database import open_job


def test_the_list_names_the_way_and_the_refusals(demo_job: Path) -> None:
    code, out, _ = linemap("next", demo_job, "--crew", "Heron", "--from", "13/4")
    assert code == 0
    assert out.index("13/5") < out.index("13/6") < out.index("14/1")
    assert "13/2: two H1-75 poles missing, due 12 June 2026; released by material yard" in out
    assert "Treat every wire as energized" in out


def test_json_is_the_whole_answer(demo_job: Path) -> None:
    place = "-108.28320,46.74346"
    code, out, _ = linemap("next", demo_job, "--crew", "Otter", "--step", "set", "--from", place, "--json")
    found = json.loads(out)
    assert (code, found["for"], found["step"]) == (0, "Otter", "set")
    assert found["workable_count"] == len(found["workable"])
    assert found["where"]["sentence"].startswith("at or near 5/5")


def test_the_other_order_of_the_work_gives_another_next(demo_job: Path) -> None:
    ask = (demo_job, "--crew", "Heron", "--from", "13/4", "--workflow")
    _, ground, _ = linemap("next", *ask, "framed on ground")
    _, aloft, _ = linemap("next", *ask, "Framed aloft")
    # of the 18 that nothing else keeps, 15/2 was spotted before Rev C moved it
    assert "workable by the records: 17" in ground
    assert "15/2: hub is from before the move of 8.00 ft: restake (spotted recorded 6 May 2026" in ground
    assert "workable by the records: 0" in aloft
    assert "13/5: set is not on record" in aloft


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--crew", "Magpie"), "has no work on record"),
        (("--crew", "Heron", "--from", "99/9"), "no structure 99/9"),
        (("--crew", "Heron", "--workflow", "sideways"), "order of the work"),
        (("--crew", "Heron", "--as-of", "soon"), "is no date"),
        ((), "--crew"),
    ],
)
def test_refusals_are_one_message_and_code_2(
    demo_job: Path,
    arguments: tuple[str, ...],
    words: str,
) -> None:
    code, _, err = linemap("next", demo_job, *arguments)
    assert code == 2
    assert words in err
    assert "Traceback" not in err


def test_the_order_of_the_work_is_declared_for_the_job(demo_job: Path, tmp_path: Path) -> None:
    job = shutil.copy(demo_job, tmp_path / "own.linemap")
    linemap("declare", job, "--workflow", "Framed Aloft")
    _, out, _ = linemap("next", job, "--crew", "Otter", "--step", "set", "--from", "13/4")
    assert "13/5     679+61.25" in out
    with open_job(job) as database:
        view = build_view(database, today=dt.date(2026, 5, 15))
    assert view.workflow == FRAMED_ALOFT
    assert linemap("declare", job, "--workflow", "sideways").returncode == 2
