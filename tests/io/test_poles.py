from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.errors import InputRefused
from linemap.io.pole_sizes import parse_size
from linemap.io.poles import parse_letters, read_poles
from linemap.io.table import RawTable
from linemap.units import LengthUnit

Table = Callable[..., RawTable]


@pytest.mark.parametrize(
    ("text", "length", "pole_class"),
    [("75-2", 75, "2"), ("75/2", 75, "2"), ("H1-75", 75, "H1"), ("80' CL 1", 80, "1"),
     ("2-75", 75, "2"), ("75 H2", 75, "H2")],
)  # fmt: skip
def test_sizes(text: str, length: float, pole_class: str) -> None:
    assert parse_size(text) == (length, pole_class)


@pytest.mark.parametrize("text", ["75-2/70-2", "tall", "75", "7-2"])
def test_what_is_no_size(text: str) -> None:
    with pytest.raises(ValueError, match="no pole size"):
        parse_size(text)


@pytest.mark.parametrize(
    ("text", "letters"),
    [("A", "A"), ("pole c", "C"), ("A,B", "AB"), ("A and B", "AB"), ("all", "ABC"), ("L", "A"),
     ("D", ""), ("", "")],
)  # fmt: skip
def test_letters(text: str, letters: str) -> None:
    assert parse_letters(text) == letters


def test_a_schedule_becomes_poles(table: Table) -> None:
    text = (
        "Structure,Pole,Length,Class,Ground El,Ground wire,Remarks\n"
        "1/1,A,70,2,4012.5,yes,\n1/1,B,22.86 m,CL H1,,,\n1/2,A/B,75',2,,,both\n,,,,,,\n"
        "TOTAL 75-2,,41,,,,\n1/3,D,70,2,,,\n1/4,,70,2,,,\n"
    )
    loaded = read_poles(table(text), unit=LengthUnit.FOOT, line_default="N")
    poles = loaded.value
    assert [(p.structure, p.letter) for p in poles] == [
        ("1/1", "A"),
        ("1/1", "B"),
        ("1/2", "A"),
        ("1/2", "B"),
    ]
    assert (poles[0].length_ft, poles[0].pole_class, poles[0].ground_elevation) == (70.0, "2", 4012.5)
    assert (poles[0].ground_wire, poles[1].ground_wire) == (True, None)
    assert poles[1].length_ft == pytest.approx(75.0)
    assert poles[1].pole_class == "H1"
    assert loaded.rows_left_out == (6, 7, 8)
    assert (loaded.rows_in, loaded.rows_used) == (6, 3)


def test_sizes_in_one_column(table: Table) -> None:
    loaded = read_poles(table("Str,Pole,Ht/Class\n1/1,A,70-2\n1/1,B,75-2/70-2\n"), unit=LengthUnit.FOOT)
    assert [(p.length_ft, p.pole_class) for p in loaded.value] == [(70.0, "2"), (None, "")]
    assert "2 sizes for 1 poles" in loaded.problems[0].reason


def test_lengths_no_pole_has_are_not_used(table: Table) -> None:
    loaded = read_poles(table("Str,Pole,Length (m)\n1/1,A,75\n1/1,B,22.86\n"), unit=LengthUnit.METRE)
    assert [p.length_ft for p in loaded.value] == [None, pytest.approx(75.0)]
    assert "246.1 ft long" in loaded.problems[0].reason


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("1/1,A,70\n1/1,both,75\n", "pole A of 1/1 stands twice, in rows 2 and 3"),
        ("2-Jan,A,70\n", "turned into a date"),
        ("1/1,Q,70\n", "no row of the file"),
    ],
)
def test_schedules_that_contradict_themselves_are_refused(table: Table, rows: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_poles(table("Str,Pole,Length\n" + rows), unit=LengthUnit.FOOT)
