"""`linemap progress` as a manager runs it: the numbers, any day, the report of a day, and refusals."""

from __future__ import annotations

import json
from pathlib import Path

from command import linemap


def test_the_answer_of_15_may(demo_job: Path) -> None:
    out = linemap("progress", demo_job).stdout
    assert (
        "59 of 121 set, 68 planned by Fri 15 May 2026: "
        "9 behind the baseline plan (revision 0, frozen 2026-03-02)" in out
    )
    assert "last structure (14/2) not before Mon 17 Aug 2026" in out
    assert "section 1 (1/1-7/5): 35 of 37 set, not ready: 7/3, 7/4" in out
    assert "passed by: mile 7: 7/3, 7/4; mile 9: 9/2" in out
    assert "Treat every wire as energized" in out


def test_any_day_as_json(demo_job: Path) -> None:
    found = json.loads(linemap("progress", demo_job, "--as-of", "2026-04-24", "--json").stdout)
    assert next(count["done"] for count in found["counts"] if count["step"] == "set") == 33
    assert "charts" not in found
    known = json.loads(linemap("progress", demo_job, "--known-by", "2026-05-12", "--json").stdout)
    assert (known["as_of"], known["known_by"]) == ("2026-05-12", "2026-05-12")


def test_report_of_a_day(demo_job: Path) -> None:
    out = linemap("progress", demo_job, "--daily", "2026-05-13").stdout
    assert "Heron: 3 framed (13/1, 13/3, 13/4), 66 to date" in out
    assert "13/4: framed recorded twice: Heron, Raven" in out
    assert "weather other than wind, hours, delays and visitors are not in the record" in out
    assert "nothing is recorded as done" in linemap("progress", demo_job, "--daily", "2026-05-15").stdout


def test_a_day_that_is_none_and_a_line_that_is_none_are_refused(demo_job: Path) -> None:
    for arguments, words in ((["--as-of", "soon"], "is no date"), (["--line", "South"], "has no line South")):
        done = linemap("progress", demo_job, *arguments)
        assert done.returncode == 2
        assert words in done.stderr


def test_a_command_says_once_at_the_upgrade_which_steps_rested_on_notes(older_job: str) -> None:
    for said in (1, 0):
        found = linemap("progress", older_job)
        assert found.stderr.count("grounded is claimed, no longer verified, at 1/1, 1/2, ") == said
        assert "in a note alone, which proves nothing: 1/1, 1/2, " in found.stdout
