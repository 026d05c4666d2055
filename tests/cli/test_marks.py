"""`linemap marks` as a foreman runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from command import linemap


def test_marks_as_text(demo_job: Path) -> None:
    code, out, _ = linemap("marks", demo_job, "6/4", "--spacing", "12.5")
    assert code == 0
    assert "Pole A: 75.00 ft, 9.77 ft deep" in out
    arm = next(line for line in out.splitlines() if line.startswith("  arm"))
    assert arm.split() == ["arm", "9'-0\"", "9.00", "ft", "66'-0\"", "66.00", "ft", "FT-1110", "sh", "1"]
    assert "stamped drawing and specification govern" in " ".join(out.split())


def test_marks_as_json(demo_job: Path) -> None:
    code, out, _ = linemap("marks", demo_job, "6/4", "--measured", "a=75.4", "--json")
    assert code == 0
    marks = json.loads(out)
    assert [pole["depth"] for pole in marks["poles"]] == pytest.approx([10.17, 9.0], abs=0.006)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("99/9",), "no structure 99/9"),
        (("6/4", "--measured", "75.4"), "write it like A=75.4"),
        (("6/4", "--depth", "A=deep"), "write it like A=75.4"),
        (("6/4", "--brand", "C=4"), "6/4 has no pole C"),
    ],
)
def test_what_cannot_be_used_is_one_message(demo_job: Path, arguments: tuple[str, ...], words: str) -> None:
    code, _, err = linemap("marks", demo_job, *arguments)
    assert code == 2
    assert err.startswith("refused: ")
    assert words in err
    assert "Traceback" not in err
