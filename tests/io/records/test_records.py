from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest

from linemap.domain.record.event import Event
from linemap.domain.record.workflow import PartPer
from linemap.errors import InputRefused
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.records.records import read_records

Table = Callable[..., RawTable]
NOW = datetime(2026, 5, 15, 18, tzinfo=UTC)


def load(table: Table, rows: str, headings: str = "structure,step,date,crew") -> Loaded[tuple[Event, ...]]:
    return read_records(
        table(f"{headings}\n{rows}"), received_at=NOW, zone=ZoneInfo("America/Denver"), line_default="N"
    )


def test_a_row_becomes_an_event(table: Table) -> None:
    event = load(table, "02-5,Made up,2026-05-13 14:05,Heron\n").value[0]
    assert (event.line, event.structure, event.pole, event.step) == ("N", "2/5", "", "framed")
    assert event.happened_at.isoformat() == "2026-05-13T14:05:00-06:00"
    assert (event.received_at, event.crew, event.file, event.row) == (NOW, "Heron", "list.csv", 2)


def test_lists_of_structures_and_poles_become_an_event_each(table: Table) -> None:
    loaded = load(table, '"13/1, 13/3",set,2026-05-13,Otter,A\n', "structure,step,date,crew,pole")
    assert [(e.structure, e.pole) for e in loaded.value] == [("13/1", "A"), ("13/3", "A")]
    assert loaded.rows_in == loaded.rows_used == 1
    assert "taken at noon, in 1 rows" in loaded.problems[0].reason
    assert loaded.value[0].happened_at.hour == 12


def test_loading_twice_gives_the_same_identifiers(table: Table) -> None:
    rows = "1/1,framed,2026-05-13,Heron\n1/2,framed,2026-05-13,Heron\n"
    first, again = load(table, rows).value, load(table, rows).value
    assert [event.id for event in first] == [event.id for event in again]
    assert len({event.id for event in first}) == 2
    assert all(UUID(event.id).version == 5 for event in first)


def test_an_identifier_of_the_row_is_kept(table: Table) -> None:
    own = "6F9619FF-8B86-4D11-B42D-00C04FC964FF"
    loaded = load(table, f"1/1,framed,2026-05-13,{own}\n", "structure,step,date,id")
    assert loaded.value[0].id == own.lower()


def test_time_result_and_receipt_columns(table: Table) -> None:
    heads = "structure,step,date,time,result,received at,note"
    event = load(table, "5/2,framed,2026-04-08,7:30 am,Rejected,2026-04-09T01:00Z,arm low\n", heads).value[0]
    assert event.happened_at.isoformat() == "2026-04-08T07:30:00-06:00"
    assert event.received_at == datetime(2026, 4, 9, 1, tzinfo=UTC)
    assert (event.result, event.note) == ("rejected", "arm low")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("1/2,lunch,2026-05-13,Heron", "no step"),
        ("1/2,framed,5/6/2026,Heron", "both ways"),
        ("1/2,framed,,Heron", "date is missing"),
        (",framed,2026-05-13,Heron", "number is missing"),
        ("22/2 thru 22/5,framed,2026-05-13,Heron", "name each structure"),
        ("2-Jan,framed,2026-05-13,Heron", "turned into a date"),
        ("the bay,framed,2026-05-13,Heron", "no structure number"),
        ("structure,step,date,crew", "the headings again"),
        ("Total,,,3", "a total"),
    ],
)
def test_a_row_that_cannot_be_used_is_listed(table: Table, row: str, words: str) -> None:
    loaded = load(table, f"1/1,framed,2026-05-13,Heron\n{row}\n")
    assert len(loaded.value) == 1
    assert loaded.rows_left_out == (3,)
    assert any(words in str(problem) for problem in loaded.problems if problem.row == 3)
    assert (loaded.rows_in, loaded.rows_used) == (2, 1)


def test_a_file_without_a_usable_row_is_refused(table: Table) -> None:
    with pytest.raises(InputRefused, match="no row of the file"):
        load(table, "1/1,lunch,2026-05-13,Heron\n")


STEPS: dict[str, PartPer] = {"guyed": "guy", "strung": "span"}


def load_parts(table: Table, rows: str, headings: str) -> Loaded[tuple[Event, ...]]:
    return read_records(table(f"{headings}\n{rows}"), received_at=NOW, line_default="N", part_steps=STEPS)


def test_a_column_names_the_guys_and_the_span_of_steps_that_have_them(table: Table) -> None:
    rows = '5/5,guyed,2026-05-13,"G1, G3"\n5/5,guyed,2026-05-13,\n05-5,Stringing,2026-05-13,\n'
    loaded = load_parts(table, rows, "structure,step,date,guy").value
    assert [(each.step, each.part) for each in loaded] == [
        ("guyed", "G1"), ("guyed", "G3"), ("guyed", ""), ("strung", ""),
    ]  # fmt: skip
    assert len({each.id for each in loaded}) == 4
    spans = load_parts(table, "9/2,strung,2026-05-13,09-2 - 9/3\n", "structure,step,date,span").value
    assert [(each.structure, each.part) for each in spans] == [("9/2", "9/2 to 9/3")]


def test_a_span_of_another_structure_is_left_out_and_says_how_to_write_it(table: Table) -> None:
    rows = "9/3,strung,2026-05-13,9/2 to 9/3\n9/2,strung,2026-05-13,9/2 to 9/3\n"
    loaded = load_parts(table, rows, "structure,step,date,span")
    assert [each.structure for each in loaded.value] == ["9/2"]
    assert "the span 9/2 to 9/3 is not the one ahead of 9/3" in loaded.problems[0].reason
    assert "write the structure at its back end" in loaded.problems[0].remedy


def test_without_declared_steps_a_part_changes_nothing(table: Table) -> None:
    rows = "5/5,guyed,2026-05-13,Mole\n"
    plain = load(table, rows).value[0]
    named = load(table, "5/5,guyed,2026-05-13,Mole,G1\n", "structure,step,date,crew,guy").value[0]
    assert named == plain
    with pytest.raises(InputRefused, match="no step linemap knows"):
        load(table, "5/5,strung,2026-05-13,Swift\n")
