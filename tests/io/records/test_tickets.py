from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from linemap.errors import InputRefused
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import TICKETS

Table = Callable[..., RawTable]
HEADS = "Ticket No,Structures,Anchors,Valid from,Expires,Life,Responses,Renewed by\n"


def test_a_list_becomes_tickets(table: Table) -> None:
    text = (
        "LOCATE TICKETS AS OF 2026-05-15\n"
        + HEADS
        + "LT-45,9/2,yes,2026-04-03,2026-05-01,,all marked,contractor\n"
        + 'LT-46,"9/3, 9-04",no,2026-05-15,,28 days,gas pending,\n'
        + "LT-47,10/1 to 10/5,maybe,,12 Jun 2026,,,\n"
    )
    raw = table(text)
    assert raw.kinds == ("tickets",)
    loaded = read_rows(raw, TICKETS, line_default="N")
    first, second, third = loaded.value
    assert (first.number, first.line, first.structures, first.covers_anchors) == (
        "LT-45",
        "N",
        ("9/2",),
        True,
    )
    assert (first.valid_from, first.expires) == (date(2026, 4, 3), date(2026, 5, 1))
    assert (second.structures, second.last_day, second.waits_for_answers) == (
        ("9/3", "9/4"),
        date(2026, 6, 11),
        True,
    )
    assert third.reach.covers("N", "10/3")
    assert not third.covers_anchors
    assert [problem.column for problem in loaded.problems if "neither yes nor no" in problem.reason] == [
        "Anchors"
    ]
    assert loaded.rows_left_out == (1,)


def test_ends_may_stand_in_two_columns(table: Table) -> None:
    (ticket,) = read_rows(table("ticket,from str,to str,expires\nLT-1,10/1,10/5,2026-06-12\n"), TICKETS).value
    assert (ticket.from_structure, ticket.to_structure) == ("10/1", "10/5")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("LT-1,2-Jan,,,2026-06-12,,,", "turned into a date"),
        ("LT-1,,,,2026-06-12,,,", "names no structure"),
        ("LT-1,9/2,,,5/6/2026,,,", "both ways"),
        ("LT-1,9/2,,2026-06-01,2026-05-01,,,", "before it begins"),
        ("LT-1,9/2,,2026-06-01,,a while,,", "a while"),
    ],
)
def test_a_ticket_that_cannot_be_read_refuses_the_list(table: Table, row: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_rows(table(f"{HEADS}LT-0,9/1,yes,,2026-06-12,,,\n{row}\n", kind="tickets"), TICKETS)
