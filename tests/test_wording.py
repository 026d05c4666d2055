"""No screen, command or document says what reads as a clearance, a permission or a count of people."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "linemap"
FORBIDDEN = re.compile(
    r"\b(safe to|is safe|are safe|safely|all clear|clear to|de-?energi[sz]ed|certif(y|ied)|meets code|"
    r"ok to lift|crew is out|no crews|cleared)\b",
    re.IGNORECASE,
)
FILES = sorted(
    path
    for path in PACKAGE.rglob("*")
    if path.suffix in {".py", ".js", ".html", ".css"} and "migrations" not in path.parts
)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_wording_reads_as_a_clearance(path: Path) -> None:
    found = [
        line.strip()
        for line in path.read_text(encoding="utf-8").splitlines()
        if FORBIDDEN.search(line) and "clearance" not in line
    ]
    assert found == []
