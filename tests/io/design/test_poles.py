from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.domain.design.pole_words import parse_letters
from linemap.errors import InputRefused
from linemap.io.cells.table import RawTable
from linemap.io.design.poles import read_poles
from linemap.units import LengthUnit

Table = Callable[..., RawTable]


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
        ("1/4", "A"),
        ("1/4", "B"),
    ]
    assert (poles[0].length_ft, poles[0].pole_class, poles[0].ground_elevation) == (70.0, "2", 4012.5)
    assert (poles[0].ground_wire, poles[1].ground_wire) == (True, None)
    assert poles[1].length_ft == pytest.approx(75.0)
    assert poles[1].pole_class == "H1"
    assert loaded.rows_left_out == (6, 7)
    assert (loaded.rows_in, loaded.rows_used) == (6, 4)


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


def sizes(
    table: Table, rows: str, head: str = "Str,Pole,Length,Class,Remarks\n"
) -> dict[str, tuple[object, str]]:
    loaded = read_poles(table(head + rows, kind="poles"), unit=LengthUnit.FOOT)
    return {f"{p.structure}{p.letter}": (p.length_ft, p.pole_class) for p in loaded.value}


def test_ditto_marks_and_blanks_mean_as_above(table: Table) -> None:
    rows = '1/1,A,75,2,\n1/1,B,,,\n1/2,A/B same,"""","""",\n1/3,A,do.,1,\n,B,as above,do.,\n'
    assert sizes(table, rows) == {
        "1/1A": (75.0, "2"),
        "1/1B": (75.0, "2"),
        "1/2A": (75.0, "2"),
        "1/2B": (75.0, "2"),
        "1/3A": (75.0, "1"),
        "1/3B": (75.0, "1"),
    }


def test_a_blank_at_another_structure_is_filled_in_and_asked_about(table: Table) -> None:
    loaded = read_poles(table("Str,Pole,Length\n1/1,A,75\n1/2,A,\n"), unit=LengthUnit.FOOT)
    assert loaded.value[1].length_ft == 75.0
    assert "taken as in row 2 above, another structure; is that meant?" in loaded.problems[0].reason


def test_unequal_legs_in_one_cell(table: Table) -> None:
    head = "Str,Pole,Ht/Class\n"
    assert sizes(table, "1/1,A/B,75-2/70-2\n", head) == {"1/1A": (75.0, "2"), "1/1B": (70.0, "2")}
    assert sizes(table, "5/5,ABC,75-1 (3)\n", head)["5/5C"] == (75.0, "1")


def test_exchanged_length_and_class_are_read_and_noted(table: Table) -> None:
    loaded = read_poles(table("Str,Pole,Length,Class\n1/1,A,2,75\n"), unit=LengthUnit.FOOT)
    assert (loaded.value[0].length_ft, loaded.value[0].pole_class) == (75.0, "2")
    assert "exchanged" in loaded.problems[0].reason


def test_mixed_units_in_one_column(table: Table) -> None:
    found = sizes(table, "1/1,A,75,2,\n1/1,B,75',2,\n1/2,A,22.86m,2,\n1/2,B,22.9 m,2,\n")
    assert [length for length, _ in found.values()] == pytest.approx([75, 75, 75, 75.131], abs=0.001)


def test_a_single_row_without_a_pole_is_for_all_of_them(table: Table) -> None:
    loaded = read_poles(
        table("Str,Pole,Ht/Class\n1/1,,75-2\n5/5,,75-1 (3)\n6/1,A,75-2\n6/1,,75-2\n"), unit=LengthUnit.FOOT
    )
    assert [p.structure + p.letter for p in loaded.value] == ["1/1A", "1/1B", "5/5A", "5/5B", "5/5C", "6/1A"]
    assert loaded.rows_left_out == (5,)


def test_totals_at_the_end_are_no_structures(table: Table) -> None:
    rows = "1/1,A,75,2,\n1/1,B,75,2,\nTOTAL BY SIZE,,,,\n75-2,,41,,\n70-2,,131,,\n"
    loaded = read_poles(table("Str,Pole,Length,Class,Remarks\n" + rows), unit=LengthUnit.FOOT)
    assert len(loaded.value) == 2
    assert loaded.rows_left_out == (4, 5, 6)


def test_dates_are_restored_by_the_neighbours(table: Table) -> None:
    rows = "1/1,A,75,2,\n1-Jan,B,75,2,\n2-Jan,A/B same,75,2,\n1/3,A,75,2,\n1/3,B,75,2,\n"
    assert list(sizes(table, rows)) == ["1/1A", "1/1B", "1/2A", "1/2B", "1/3A", "1/3B"]


def test_substitutions_by_the_yard_are_kept_as_remarks(table: Table) -> None:
    text = "Str,Pole,Length,Remarks\n1/1,A,75,sent 80-1 for 75-1\n"
    loaded = read_poles(table(text), unit=LengthUnit.FOOT)
    assert (loaded.value[0].length_ft, loaded.value[0].remarks) == (75.0, "sent 80-1 for 75-1")
    assert "another pole was sent" in loaded.problems[0].reason
