"""The readings of a list of records."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from linemap.domain.record.event import Event
from linemap.domain.record.reading import words_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.records.records import read_records

Table = Callable[..., RawTable]


def load(table: Table, headings: str, row: str) -> Loaded[tuple[Event, ...]]:
    text = f"structure,step,date time,{headings}\n1/1,set,2026-05-13 08:00,{row}\n"
    return read_records(table(text), received_at=datetime(2026, 5, 15, tzinfo=UTC), line_default="N")


@pytest.mark.parametrize(
    ("headings", "row", "found"),
    [
        ("Depth (ft)", "9.5", [("", "depth 9.5 ft")]),
        ("Depth (m)", "2.9", [("", "depth 2.9 m")]),
        ("Depth", "2.9 m", [("", "depth 2.9 m")]),
        ("Depth", "9'-6\"", [("", "depth 9.5 ft")]),
        ("Depth (ft)", "9.5/10.1", [("", "depth 9.5 ft at A, depth 10.1 ft at B")]),
        ("Depth A,Depth B", "9.5,10.1", [("", "depth 9.5 ft at A, depth 10.1 ft at B")]),
        ("Pole,Depth", '"A,B",9.5/10.1', [("A", "depth 9.5 ft"), ("B", "depth 10.1 ft")]),
        ("Pole,Depth B", "A,9.5", [("A", "")]),
        ("Level,Low by (in)", "yes,0.5 at B", [("", "arm level, arm 0.5 in low at B")]),
        ("Level,Plumb", "no,ok", [("", "arm not level, plumb")]),
        ("Wind (mph),Gusts", "18,29", [("", "wind 18 mph, gusts 29 mph")]),
        ("Wind km/h", "30", [("", "wind 30 km/h")]),
        ("Ground resistance (ohms)", "8.4", [("", "8.4 ohms")]),
        ("Ohms", "8.4 Ω", [("", "8.4 ohms")]),
        ("Brand,Brand B", ",75-2 2024", [("", "brand 75-2 2024 at B")]),
        ("Depth,Ohms", "-,n/a", [("", "")]),
    ],
)
def test_columns_of_readings(table: Table, headings: str, row: str, found: list[tuple[str, str]]) -> None:
    loaded = load(table, headings, row)
    assert [problem.reason for problem in loaded.problems] == []
    assert [(event.pole, words_of(event.readings)) for event in loaded.value] == found


@pytest.mark.parametrize(
    ("headings", "row", "reason"),
    [
        ("Depth (ft)", "rock", "depth: 'rock' is no length in feet and inches"),
        ("Depth (ft)", "95", "depth 95 ft cannot be; it lies between 0.5 and 60 ft"),
        ("Depth (mph)", "9", "depth 9.0 is in 'mph'; use ft, in, m, cm"),
        ("Level", "tomorrow", "level 'tomorrow' is neither yes nor no"),
        ("Wind", "W 15-20", "wind 'W 15-20' is no number"),
        ("Low by", "0.5", "low 0.5 names no pole"),
    ],
)
def test_a_cell_that_is_no_reading_is_noted_and_the_record_stands(
    table: Table, headings: str, row: str, reason: str
) -> None:
    loaded = load(table, headings, row)
    (problem,) = loaded.problems
    assert (problem.row, problem.column, problem.value) == (2, headings, row)
    assert problem.reason.startswith(reason)
    assert "the record is kept without it" in problem.reason
    assert loaded.value[0].readings == ()


def test_another_reading_is_another_record_and_the_same_one_is_not(table: Table) -> None:
    first, again, other = (load(table, "Depth", text).value[0].id for text in ("9.5", "9.5", "9.6"))
    assert first == again != other
    assert load(table, "Crew", "Otter").value[0].id == load(table, "Crew,Depth", "Otter,").value[0].id
