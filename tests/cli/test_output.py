import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from linemap.cli.main import main


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["linemap", "print", *map(str, arguments)])
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
    told = capsys.readouterr()
    return code, told.out, told.err


def test_cards_of_two_structures(demo_job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "cards.pdf"
    code, words, _ = run(capsys, demo_job, "card", "--out", out, "--structures", "9/2", "--structures", "9/3")
    assert code == 0
    assert "The stamped drawing governs" in words
    assert len(PdfReader(out).pages) == 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("card", "--out", "x.txt"), "sheets are written as .pdf"),
        (("poster", "--out", "x.pdf"), "poster"),
        (("card", "--out", "x.pdf", "--structures", "99/9"), "no structure 99/9"),
    ],
)
def test_what_cannot_be_printed_is_refused(
    demo_job: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], words: str
) -> None:
    code, _, err = run(capsys, demo_job, *arguments)
    assert code == 2
    assert words in err
