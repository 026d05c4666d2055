"""Rows that are no rows are left out and named; a row that is half a record is never passed over."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.likeness import shape_of
from linemap.io.cells.table import Loaded
from linemap.io.source.read import read_source
from linemap.service.files.reading import ReaderContext, understand

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
STRUCTURES = (
    "Str,Station,Northing,Easting,Type,Ahead Span,Remarks\n"
    "1/1,0+00,900000,2250000,H-TAN,1073,\n"
    "1/2,10+73,900499.4,2250948.7,H-TAN,835,\n"
    "T-45A,19+08,900888.0,2251687.6,P3-SUS,1026,guys on bisector\n"
)
PIS = "PI,N,E,Bearing\nPOB,900000,2250000,N62-14-20E\nPI-1,905510.59,2260468.98,\nPOE,911410,2273384,\n"
POLES = "Structure,Pole,Size\n1/1,A,70-2\n1/1,B,70-2\n1/2,A,75-2\n1/2,B,75-2\n"
HOLDS = "id,structures,activities,from date,condition,reason\n"
HOLDS += "".join(f"H-{n},{n}/1,dig,2026-05-0{n},,nest\n" for n in range(1, 5))
TICKETS = "number,structures,expires\nT-26-001,1/1,2026-06-01\nT-26-002,1/2,2026-06-01\n"
TYPES = "Type,Words,Poles,Weight\nH-TAN,tangent,2,1\nP3-SUS,running angle,3,1.5\nP3-DE,dead end,3,2\n"


@pytest.fixture
def read(save: Callable[..., Path], montana: Projection) -> Callable[[str, Kind], Loaded[Any]]:
    """Read a text as a kind, as loading does."""
    context = ReaderContext(projection=montana, line_default="North", settings={})

    def loaded(text: str, kind: Kind) -> Loaded[Any]:
        table = read_source(save("list.csv", text), kind=kind).table(kind)
        return understand(table, kind, context, now=NOW)

    return loaded


@pytest.mark.parametrize(
    ("kind", "text", "row"),
    [
        ("structures", STRUCTURES, "Prepared by,,R. Calder,2026-02-09,,,"),
        ("structures", STRUCTURES, "2026-02-09,,R. Calder,,,,"),
        ("structures", STRUCTURES, "Approved:,,,9 Feb 2026,,,"),
        ("structures", STRUCTURES, ",,,2026-02-09,,,"),
        ("structures", STRUCTURES, "Sheet 3 of 7,,,,,,"),
        ("structures", STRUCTURES, "TOTAL,,3 structures,,,2934,"),
        ("structures", STRUCTURES, ",,,,MILE 6 SUBTOTAL,4773,"),
        ("structures", STRUCTURES, "Str,Station,Northing,Easting,Type,Ahead Span,Page 2"),
        ("structures", STRUCTURES, "Note: spans are along the line,,see note,see note,,,"),
        ("centreline", PIS, "Prepared by R. Calder,,,"),
        ("centreline", PIS, "Checked by A. Other,2026-02-09,,"),
        ("centreline", PIS, "Sheet 3 of 7,,,"),
        ("centreline", PIS, "PI,N,E,Sheet 2"),
        ("poles", POLES, "2026-02-09,R. Calder,"),
        ("poles", POLES, "Prepared by R. Calder,,2026-02-09"),
        ("holds", HOLDS, "Prepared by R. Calder,2026-02-09,,,,"),
        ("holds", HOLDS, "Notes: see the permit for details,,,,,"),
        ("tickets", TICKETS, "Prepared by R. Calder,,2026-06-01"),
        ("tickets", TICKETS, "Sheet 3 of 7,,"),
        ("types", TYPES, "Prepared by R. Calder,,,2026-02-09"),
    ],
)
def test_a_row_that_is_no_row_is_left_out_and_named(
    read: Callable[..., Loaded[Any]], kind: Kind, text: str, row: str
) -> None:
    clean, found = read(text, kind), read(text + row + "\n", kind)
    assert (found.rows_used, found.rows_in) == (clean.rows_used, clean.rows_in + 1)
    assert found.rows_left_out == (text.count("\n") + 1,)
    (problem,) = set(found.problems) - set(clean.problems)
    assert problem.severity is Severity.LEFT_OUT


@pytest.mark.parametrize(
    ("kind", "text", "row"),
    [
        ("structures", STRUCTURES, "1/4,29+34,,,H-TAN,1000,"),
        ("structures", STRUCTURES, "1/4,,9009x0,2252000,,,"),
        ("structures", STRUCTURES, ",29+34,901300,2252500,H-TAN,,"),
        ("structures", STRUCTURES, "END,29+34,n/a,n/a,P3-SUS,,"),
        ("structures", STRUCTURES, "END,,901300,tbd,,,"),
        ("structures", STRUCTURES, "4-Jan,29+34,,,H-TAN,1000,"),
        ("centreline", PIS, "PI-9,,,N62-14-20E"),
        ("centreline", PIS, "POE,,,"),
        ("centreline", PIS, "Point of End,,2273384,"),
        ("holds", HOLDS, "H-9,12-x3,dig,,,"),
        ("holds", HOLDS, ",12-x3,dig,,,"),
        ("tickets", TICKETS, "T-26-003,1-x,2026-06-01"),
        ("tickets", TICKETS, "T-26-003,1/3,soon"),
        ("tickets", TICKETS, "EMERGENCY,1/3,soon"),
    ],
)
def test_half_a_record_is_refused(read: Callable[..., Loaded[Any]], kind: Kind, text: str, row: str) -> None:
    with pytest.raises(InputRefused, match=rf"list\.csv, row {text.count(chr(10)) + 1}"):
        read(text + row + "\n", kind)


def test_a_row_that_names_a_structure_is_a_record(read: Callable[..., Loaded[Any]]) -> None:
    found = read(TICKETS + "EMERGENCY,1/3,\n", "tickets")
    assert [ticket.number for ticket in found.value] == ["T-26-001", "T-26-002", "EMERGENCY"]


def test_a_short_list_has_no_look_and_passes_nothing_over(read: Callable[..., Loaded[Any]]) -> None:
    with pytest.raises(InputRefused, match="row 3"):
        read("number,structures,expires\nT-1,1/1,2026-06-01\nT-2 (new),1-x,2026-06-01\n", "tickets")


def test_dates_have_one_look_however_they_are_kept() -> None:
    assert shape_of(dt.date(2026, 2, 9)) == "date"
    assert shape_of("STR 12/3 A") == "a 0 0 a"
