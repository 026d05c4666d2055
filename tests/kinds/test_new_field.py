"""One new field of a list: its line in the record (and a migration), and it is everywhere."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Annotated, Any

import pytest

from linemap.domain.crew.ticket import Ticket
from linemap.domain.kind.compare import compare_records
from linemap.domain.kind.kind import Cell, Kind
from linemap.domain.record.person import Audience
from linemap.io.cells import meaning
from linemap.io.cells.meaning import VOCABULARY, columns_in_words, words_of
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.io.source.read import read_source
from linemap.kinds.registry import KINDS, TICKETS
from linemap.service.crew.field_card import design_cards
from linemap.service.people.redact import redact_view
from linemap.service.sheets.sheet_content import card_of
from linemap.service.view.lists import list_answer
from linemap.service.view.panel import structure_panel
from linemap.service.view.view import JobView
from linemap.store.database import Database
from linemap.store.lists import keep_list, load_list
from linemap.store.schema import metadata, table_of

NOW = dt.datetime(2026, 5, 16, tzinfo=dt.UTC)
FILE = "Ticket No,Structures,Expires,Permit No\nLT-1,9/2,2026-06-12,{permit}\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketWithPermit(Ticket):
    """The record as it is with one line more."""

    permit: Annotated[str, Cell("permitno permit", free=True, on=("panel", "card", "paper"))] = ""


@pytest.fixture
def kind(monkeypatch: pytest.MonkeyPatch) -> Iterator[Kind[TicketWithPermit]]:
    """The kind of tickets with the new record, in the registry's place of tickets."""
    told = {each.name: getattr(TICKETS, each.name) for each in fields(TICKETS)}
    kind: Kind[Any] = Kind(**told | {"record": TicketWithPermit, "table": "ticket_with_permit"})
    monkeypatch.setitem(KINDS, "tickets", kind)
    words = words_of(kind)
    monkeypatch.setitem(VOCABULARY, "tickets", words)  # type: ignore[arg-type]
    monkeypatch.setitem(meaning._KNOWN, "tickets", frozenset(w for each in words.values() for w in each))  # type: ignore[arg-type]
    yield kind
    metadata.remove(metadata.tables[kind.table]) if kind.table in metadata.tables else None


@pytest.fixture
def read(tmp_path: Path, kind: Kind[TicketWithPermit]) -> Callable[[str], tuple[TicketWithPermit, ...]]:
    """Read a file of one ticket with this permit."""

    def read(permit: str) -> tuple[TicketWithPermit, ...]:
        path = tmp_path / "tickets.csv"
        path.write_text(FILE.format(permit=permit), encoding="utf-8")
        table: RawTable = read_source(path).table("tickets")
        return read_rows(table, kind, line_default="").value

    return read


Read = Callable[[str], tuple[TicketWithPermit, ...]]


def test_it_is_read_by_its_heading(read: Read) -> None:
    assert [ticket.permit for ticket in read("RW-1")] == ["RW-1"]


def test_it_is_in_the_help_of_columns(kind: Kind[Any]) -> None:
    assert "permit (permitno, permit)" in columns_in_words(kind)


def test_it_is_kept_and_what_a_file_changes_is_named(database: Database, kind: Kind[Any], read: Read) -> None:
    table = table_of(kind)
    first, second = read("RW-1"), read("RW-2")
    with database.writing() as connection:
        table.create(connection)
        assert keep_list(connection, kind, first, now=NOW) == ()
        (change,) = keep_list(connection, kind, second, now=NOW)
        assert change.words == "ticket LT-1 permit RW-1 -> RW-2"
        assert load_list(connection, kind) == second
        (gone,) = keep_list(connection, kind, (), ends=True, now=NOW)
        assert gone.words == "ticket LT-1 removed"
        table.drop(connection)


def test_two_states_that_differ_in_it_alone_differ(kind: Kind[Any], read: Read) -> None:
    assert [each.words for each in compare_records(kind, read("RW-1"), read(""))] == [
        "ticket LT-1 permit RW-1 -> not given"
    ]


@pytest.fixture
def view(demo_view: JobView, read: Read) -> JobView:
    """The demo job with this one ticket, whose permit names a restricted owner."""
    return replace(demo_view, tickets=read("RW-1 of Ada Marrow"))


def test_it_is_on_the_panel_the_phone_card_and_paper(view: JobView) -> None:
    row = view.row("", "9/2")
    line = view.key(row)[0]
    words = "RW-1 of Ada Marrow"
    (listed,) = structure_panel(view, line, "9/2").lists[:1]
    assert (listed.name, [(each.label, each.text) for each in listed.fields]) == (
        "ticket LT-1",
        [("permit", words)],
    )
    (card,) = design_cards(view, [row])
    assert listed in card.lists
    notes = dict(card_of(view, row).notes)
    assert f"ticket LT-1: permit {words}" in notes["Lists"]


def test_it_is_in_the_answer_for_programs(view: JobView, kind: Kind[Any]) -> None:
    answer = list_answer(view, kind, view.tickets)
    (place,) = (index for index, field in enumerate(answer.fields) if field.name == "permit")
    assert (answer.fields[place].label, answer.fields[place].type) == ("permit", "text")
    assert answer.rows[0][place] == "RW-1 of Ada Marrow"


def test_restricted_words_are_taken_out_of_it(view: JobView) -> None:
    crossing = replace(view.crossings[0], owner="Ada Marrow")
    view = replace(view, crossings=(crossing,))
    crew = redact_view(view, Audience.CREW)
    assert [ticket.permit for ticket in crew.tickets] == ["RW-1 of [not shown]"]  # type: ignore[attr-defined]
    assert redact_view(view, Audience.PUBLIC).tickets == ()
