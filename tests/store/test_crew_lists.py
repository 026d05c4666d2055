"""Tickets and receipts are lists replaced whole; punch entries are only ever added."""

from __future__ import annotations

import datetime as dt

import pytest
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from linemap.domain.crew.material import Receipt
from linemap.domain.crew.ticket import Ticket
from linemap.domain.record.punch import PunchEntry
from linemap.kinds.registry import PUNCH
from linemap.kinds.registry import RECEIPTS as RECEIPT_KIND
from linemap.kinds.registry import TICKETS as TICKET_KIND
from linemap.store import versions
from linemap.store.database import Database
from linemap.store.lists import add_records, keep_list, load_list

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
named = texts.filter(str.strip)
days = st.none() | st.dates(dt.date(2026, 1, 1), dt.date(2027, 1, 1))

TICKETS = st.builds(
    Ticket,
    number=named,
    line=texts,
    structures=st.lists(st.sampled_from(["9/2", "12/3A"]), min_size=1, max_size=2).map(tuple),
    covers_anchors=st.booleans(),
    expires=days,
    life=st.sampled_from(["", "28 days", "20 working days"]),
    responses=texts,
    renewed_by=texts,
)
RECEIPTS = st.builds(
    Receipt,
    item=named,
    line=texts,
    structure=st.sampled_from(["", "13/2"]),
    ordered=st.none() | st.integers(0, 9),
    received=st.integers(0, 9),
    damaged=st.integers(0, 9),
    received_on=days,
    due=days,
    brand=texts,
    yard_row=texts,
    released_by=texts,
    remarks=texts,
    row=st.integers(0, 9),
)
ENTRIES = st.builds(
    PunchEntry,
    item=st.sampled_from(["P-1", "P-2"]),
    line=texts,
    structure=named,
    part=texts,
    action=st.sampled_from(["opened", "closed", "reopened"]),
    on=st.dates(dt.date(2026, 1, 1), dt.date(2026, 1, 9)),
    text=texts,
    severity=texts,
    owner=texts,
    due=days,
    who=texts,
    evidence=texts,
)
QUICK = settings(max_examples=examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])


@QUICK
@given(listed=st.lists(TICKETS, max_size=3), yard=st.lists(RECEIPTS, max_size=3))
def test_every_value_comes_back_and_takes_the_place_of_what_is_told_to_end(
    database: Database, now: dt.datetime, listed: list[Ticket], yard: list[Receipt]
) -> None:
    with database.writing() as connection:
        keep_list(connection, TICKET_KIND, listed, ends=True, now=now)
        keep_list(connection, RECEIPT_KIND, yard, ends=True, now=now)
    with database.reading() as connection:
        assert load_list(connection, TICKET_KIND) == tuple(listed)
        assert load_list(connection, RECEIPT_KIND) == tuple(yard)


@QUICK
@given(first=st.lists(ENTRIES, max_size=3), second=st.lists(ENTRIES, max_size=3))
def test_a_later_punch_list_adds_and_takes_nothing_out(
    database: Database, first: list[PunchEntry], second: list[PunchEntry]
) -> None:
    with database.writing() as connection:
        before = load_list(connection, PUNCH)
        add_records(connection, PUNCH, first)
        add_records(connection, PUNCH, second)
        assert add_records(connection, PUNCH, [*first, *second]) == 0
    with database.reading() as connection:
        assert load_list(connection, PUNCH) == tuple(dict.fromkeys([*before, *first, *second]))


ENTRY = PunchEntry(item="P-1", structure="3/4", action="opened", on=dt.date(2026, 5, 4))


def test_only_new_entries_are_a_change(database: Database) -> None:
    told = []
    for _ in range(2):
        with database.writing() as connection:
            add_records(connection, PUNCH, [ENTRY])
        with database.reading() as connection:
            told.append(versions.load_data_version(connection))
    assert told[0] == told[1] == 1


@pytest.mark.parametrize("statement", ["DELETE FROM punch_entry", "UPDATE punch_entry SET evidence = 'x'"])
def test_the_database_itself_keeps_the_history_of_the_punch_list(database: Database, statement: str) -> None:
    with database.writing() as connection:
        add_records(connection, PUNCH, [ENTRY])
    with pytest.raises(DBAPIError, match="only ever added"), database.writing() as connection:
        connection.execute(text(statement))
