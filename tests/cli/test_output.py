from pathlib import Path

import pytest
from command import linemap
from pypdf import PdfReader


def test_cards_of_two_structures(demo_job: Path, tmp_path: Path) -> None:
    out = tmp_path / "cards.pdf"
    code, words, _ = linemap(
        "print", demo_job, "card", "--out", out, "--structures", "9/2", "--structures", "9/3"
    )
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
def test_what_cannot_be_printed_is_refused(demo_job: Path, arguments: tuple[str, ...], words: str) -> None:
    code, _, err = linemap("print", demo_job, *arguments)
    assert code == 2
    assert words in err
