from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.domain.record.punch import punch_items
from linemap.errors import InputRefused, Severity
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import PUNCH

Table = Callable[..., RawTable]
HEADS = "Punch No,Str,Part,Description,Severity,Responsible,Due,Opened,Closed,Closed by,Evidence,Reopened\n"


def test_rows_become_the_history_of_items(table: Table) -> None:
    text = HEADS + (
        "P-1,3/4,brace,brace set 12.0 on 12.5 spacing,major,Heron,2026-05-20,2026-05-04,,,,\n"
        "P-2,5/2,,number plate missing,minor,Otter,,2026-04-20,2026-04-28,Four Tines,photo 118,\n"
        "P-2,5/2,,plate is that of the old line,,,,,,,,2026-05-06\n"
        "P-3,6/1,A,loose nut,minor,Heron,,2026-04-20,2026-04-28,,,\n"
    )
    raw = table(text)
    assert raw.kinds == ("punch",)
    loaded = read_rows(raw, PUNCH, line_default="N")
    first, second, third = punch_items(loaded.value)
    assert (first.open, first.owner, first.part, first.line) == (True, "Heron", "brace", "N")
    assert [entry.action for entry in second.history] == ["opened", "closed", "reopened"]
    assert (second.open, second.history[1].evidence, second.history[1].who) == (
        True,
        "photo 118",
        "Four Tines",
    )
    assert third.open
    noted = [problem for problem in loaded.problems if problem.severity is Severity.NOTED]
    assert [(problem.row, problem.reason) for problem in noted] == [
        (5, "closed without evidence: the item stays open")
    ]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("P-1,,A,loose,,,,2026-05-04,,,,", "structure number is missing"),
        ("P-1,2-Jan,A,loose,,,,2026-05-04,,,,", "turned into a date"),
        ("P-1,3/4,A,loose,,,,,,,,", "no date"),
        ("P-1,3/4,A,loose,,,,soon,,,,", "not a date"),
    ],
)
def test_a_row_that_cannot_be_read_refuses_the_list(table: Table, row: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_rows(table(f"{HEADS}{row}\n", kind="punch"), PUNCH)
