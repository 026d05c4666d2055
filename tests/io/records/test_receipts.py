from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from linemap.domain.crew.material import shortages
from linemap.errors import InputRefused
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import RECEIPTS

Table = Callable[..., RawTable]
HEADS = (
    "Item,For Structure,Qty Ordered,Qty Received,Damaged,Received on,Due,Brand,Yard row,Released by,Remarks\n"
)


def test_a_list_becomes_receipts(table: Table) -> None:
    text = HEADS + (
        "H1-75 pole,13/2,3,1,,2026-05-04,2026-06-12,KS-26-75-H1,R7,material yard,\n"
        "75-1 pole,13/2,,2,1,2026-05-04,,,R7,,sent instead\n"
        "X-brace set,,200,120,,,,,,,\n"
        "TOTAL,,,123,,,,,,,\n"
    )
    raw = table(text)
    assert raw.kinds == ("receipts",)
    loaded = read_rows(raw, RECEIPTS, line_default="N")
    first, second, third = loaded.value
    assert (first.item, first.structure, first.ordered, first.received) == ("H1-75 pole", "13/2", 3, 1)
    assert (first.due, first.released_by, first.row) == (date(2026, 6, 12), "material yard", 2)
    assert (second.ordered, second.usable, second.remarks) == (None, 1, "sent instead")
    assert (third.structure, third.received) == ("", 120)
    assert loaded.rows_left_out == (5,)
    (lacking,) = shortages([first, second], ())
    assert (lacking.item, lacking.needed, lacking.received) == ("H1-75 pole", 3, 1)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("H1-75,2-Jan,3,1,,,2026-06-12,,,,", "turned into a date"),
        ("H1-75,13/2,3,some,,,2026-06-12,,,,", "some"),
        ("H1-75,13/2,3,1.5,,,2026-06-12,,,,", "no whole count"),
        ("H1-75,13/2,3,-1,,,2026-06-12,,,,", "no whole count"),
        ("H1-75,13/2,3,1,,,5/6/2026,,,,", "both ways"),
    ],
)
def test_a_row_that_cannot_be_read_refuses_the_list(table: Table, row: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_rows(table(f"{HEADS}{row}\n", kind="receipts"), RECEIPTS)
