"""What a person says about columns goes first, and files of one shape are known again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.cells.shape import Answers, read_column_option, shape_key
from linemap.io.cells.table import RawTable
from linemap.io.design.structures import read_structures
from linemap.io.source.read import read_source
from linemap.io.survey.shots import read_shots

Save = Callable[[str, str | bytes], Path]
Table = Callable[..., RawTable]

FOREIGN = "Pkt;Rechts;Hoch;Text\n1;2250000,5;900000,25;STR 1/1 A\n2;2250012,5;900000,25;STR 1/1 B\n"
SAID = Answers(
    kind="shots", fields={"point": "Pkt", "easting": "rechts", "northing": 3, "description": "Text"}
)


def test_headings_nobody_knows_are_read_as_a_person_says(save: Save, montana: Projection) -> None:
    path = save("odd.csv", FOREIGN)
    with pytest.raises(InputRefused, match="no row of headings"):
        read_source(path)
    loaded = read_shots(read_source(path, answers=SAID).tables[0], projection=montana)
    assert [(s.point, s.easting, s.northing, s.pole) for s in loaded.value] == [
        ("1", 2250000.5, 900000.25, "A"),
        ("2", 2250012.5, 900000.25, "B"),
    ]
    assert str(loaded.mapping["easting"]) == "Rechts (international foot)"


def test_a_persons_word_goes_before_the_headings(save: Save, montana: Projection) -> None:
    path = save("list.csv", "Str,N,E,Design N,Design E\n1/1,1,2,900000,2250000\n")
    said = Answers(kind="structures", fields={"northing": "Design N", "easting": "Design E"})
    found = read_structures(read_source(path, answers=said).tables[0], projection=montana).value
    assert (found.northing[0], found.easting[0]) == (900000.0, 2250000.0)


def test_units_may_be_said(save: Save, montana: Projection) -> None:
    path = save("list.csv", "Str,N,E\n1/1,274320,685800\n")
    said = Answers(kind="structures", units={"northing": "m", "easting": "metres"})
    found = read_structures(read_source(path, answers=said).tables[0], projection=montana).value
    assert found.easting[0] == pytest.approx(2_250_000.0)


def test_columns_by_number_need_no_headings(save: Save, montana: Projection) -> None:
    path = save("list.csv", "1/1,x,900000,2250000\n1/2,x,900500,2250900\n")
    said = Answers(kind="structures", fields={"number": 1, "northing": 3, "easting": 4})
    found = read_structures(read_source(path, answers=said).tables[0], projection=montana).value
    assert found.number.tolist() == ["1/1", "1/2"]


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (
            Answers(kind="shots", fields={"easting": "Ost", "northing": "Hoch", "point": 1}),
            "no such column|no row",
        ),
        (Answers(kind="shots", fields={"color": "Text"}), "shots have no field of this name; use one of"),
        (Answers(kind="shots", units={"easting": "cubits"}), "is no unit of easting"),
    ],
)
def test_answers_that_fit_nothing_are_refused(save: Save, answers: Answers, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_source(save("odd.csv", FOREIGN), answers=answers)


def test_a_heading_the_file_lacks_is_named(save: Save) -> None:
    path = save("list.csv", "Str,N,E\n1/1,900000,2250000\n")
    said = Answers(kind="structures", fields={"elevation": "Hoehe"})
    with pytest.raises(
        InputRefused, match='elevation "Hoehe": there is no such column; the headings are Str, N, E'
    ):
        read_source(path, answers=said)


def test_files_of_one_shape_have_one_key_whatever_their_rows(table: Table) -> None:
    first = shape_key(table("Str, Northing ,E,\n1/1,900000,2250000,\n"))
    more = shape_key(table("LIST\n\nstr,northing,e\n1/1,900000,2250000\n1/2,900500,2250900\n"))
    other = shape_key(table("Str,E,Northing\n1/1,2250000,900000\n"))
    semicolon = shape_key(table("Str;Northing;E\n1/1;900000;2250000\n"))
    assert first == more
    assert len({first, other, semicolon}) == 3


def test_point_files_without_headings_are_known_by_their_columns(table: Table) -> None:
    one = shape_key(table("1,900000,2250000,4000,STR 1/1 A\n", kind="shots"))
    two = shape_key(table("5,900100,2250700,4010,6-4 B\n6,900100,2250800,,6-4 A\n", kind="shots"))
    wider = shape_key(table("1,900000,2250000,4000,STR 1/1 A,0.04\n", kind="shots"))
    assert one == two
    assert one != wider


def test_answers_come_back_from_plain_tables() -> None:
    said = Answers(kind="poles", fields={"structure": 2}, units={"length": "m"}, date_order="dmy")
    assert Answers.from_dict(said.as_dict()) == said


@pytest.mark.parametrize("text", ["easting", "=X", "easting=", ""])
def test_options_that_name_nothing_are_refused(text: str) -> None:
    with pytest.raises(InputRefused, match="names no field and heading"):
        read_column_option(text)
