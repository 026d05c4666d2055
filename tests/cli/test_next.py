"""`linemap next` as a user runs it."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path

import pytest

from linemap.cli.main import main
from linemap.domain.record.workflow import FRAMED_ALOFT
from linemap.service.view.build import build_view
from linemap.store.database import open_job


def run(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *arguments: object
) -> tuple[int, str, str]:
    monkeypatch.setattr("sys.argv", ["linemap", "next", *map(str, arguments)])
    code = 0
    try:
        main()
    except SystemExit as stop:
        code = int(stop.code or 0)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_the_list_names_the_way_and_the_refusals(
    demo_job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out, _ = run(capsys, monkeypatch, demo_job, "--crew", "Heron", "--from", "13/4")
    assert code == 0
    assert out.index("13/5") < out.index("13/6") < out.index("14/1")
    assert "13/2: two H1-75 poles missing, due 12 June 2026; released by material yard" in out
    assert "Treat every wire as energized" in out


def test_json_is_the_whole_answer(
    demo_job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    place = "-108.28320,46.74346"
    code, out, _ = run(
        capsys, monkeypatch, demo_job, "--crew", "Otter", "--step", "set", "--from", place, "--json"
    )
    found = json.loads(out)
    assert (code, found["for"], found["step"]) == (0, "Otter", "set")
    assert found["workable_count"] == len(found["workable"])
    assert found["where"]["sentence"].startswith("at or near 5/5")


def test_the_other_order_of_the_work_gives_another_next(
    demo_job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    ask = (demo_job, "--crew", "Heron", "--from", "13/4", "--workflow")
    _, ground, _ = run(capsys, monkeypatch, *ask, "framed on ground")
    _, aloft, _ = run(capsys, monkeypatch, *ask, "Framed aloft")
    # of the 18 that nothing else keeps, 15/2 was spotted before Rev C moved it
    assert "workable by the records: 17" in ground
    assert "15/2: hub is from before the move: restake (spotted recorded 6 May 2026" in ground
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
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...],
    words: str,
) -> None:
    code, _, err = run(capsys, monkeypatch, demo_job, *arguments)
    assert code == 2
    assert words in err
    assert "Traceback" not in err


def test_the_order_of_the_work_is_declared_for_the_job(
    demo_job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    job = shutil.copy(demo_job, tmp_path / "own.linemap")
    monkeypatch.setattr("sys.argv", ["linemap", "declare", str(job), "--workflow", "Framed Aloft"])
    main()
    capsys.readouterr()
    _, out, _ = run(capsys, monkeypatch, job, "--crew", "Otter", "--step", "set", "--from", "13/4")
    assert "13/5     679+61.25" in out
    with open_job(job) as database:
        view = build_view(database, today=dt.date(2026, 5, 15))
    assert view.workflow == FRAMED_ALOFT
    monkeypatch.setattr("sys.argv", ["linemap", "declare", str(job), "--workflow", "sideways"])
    with pytest.raises(SystemExit) as stop:
        main()
    assert stop.value.code == 2
