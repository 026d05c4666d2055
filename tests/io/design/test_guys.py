"""Guy schedules as owners send them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.domain.design.guy import Guy, parse_kind, parse_ratio
from linemap.domain.design.naming import ListedNumbers, Naming
from linemap.domain.design.pole_words import PoleWords
from linemap.errors import InputRefused, Severity
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import GUYS
from linemap.units import LengthUnit

Table = Callable[..., RawTable]
FOOT = LengthUnit.FOOT
HEADS = "Structure,Guy,Direction,Side,Pole,Lead (ft),Attachment Height (ft),Lead:Height,Azimuth,Remarks\n"


def test_a_schedule_becomes_guys(table: Table) -> None:
    text = (
        "GUY SCHEDULE REV B\n"
        + HEADS
        + "5/5,G1,bisector,,A,,58,1:1,,see G-3\n"
        + "9/2,,ahead,both,,45,,,,\n"
        + "9/2,,BK,L,,45,,,,\n"
        + "13/2,D1,azimuth,,,60,,,N 45-00-00 W,\n"
        + ",,,,,,,,TOTAL 4,\n"
    )
    raw = table(text)
    assert raw.kinds == ("guys",)
    loaded = read_rows(raw, GUYS, unit=FOOT, line_default="N")
    assert loaded.value == (
        Guy(
            line="N", structure="5/5", id="G1", kind="bisector", pole="A", height=58.0, ratio=1.0,
            remarks="see G-3", source_row=3,
        ),
        Guy(line="N", structure="9/2", id="G1L", kind="ahead", side="left", lead=45.0, source_row=4),
        Guy(line="N", structure="9/2", id="G1R", kind="ahead", side="right", lead=45.0, source_row=4),
        Guy(line="N", structure="9/2", id="G2", kind="back", side="left", lead=45.0, source_row=5),
        Guy(
            line="N", structure="13/2", id="D1", kind="azimuth", azimuth_deg=315.0, lead=60.0, source_row=6
        ),
    )  # fmt: skip
    assert loaded.rows_left_out == (1, 7)
    assert loaded.rows_in == loaded.rows_used + 2


def test_lengths_end_up_in_the_unit_of_the_line(table: Table) -> None:
    text = "structure,direction,lead (m),ratio\n5/5,bisector,13.716,1 to 2\n"
    loaded = read_rows(table(text), GUYS, unit=FOOT)
    (guy,) = loaded.value
    assert guy.lead == pytest.approx(45.0)
    assert guy.ratio == 0.5
    assert any("converted" in problem.reason for problem in loaded.problems)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("2-Jan,G1,bisector,,,45,,,,", "turned into a date"),
        (",G1,bisector,,,45,,,,", "structure number is missing"),
        ("5/5,G1,upward,,,45,,,,", "no direction of a guy; write bisector"),
        ("5/5,G1,,,,45,,,,", "no direction of a guy"),
        ("5/5,G1,bisector,middle,,45,,,,", "no side of the line"),
        ("5/5,G1,bisector,,,long,,,,", "not a number"),
        ("5/5,G1,bisector,,,-45,,,,", "lead -45.0 is not above 0"),
        ("5/5,G1,bisector,,,,58,steep,,", "no ratio"),
        ("5/5,G1,bisector,,,,58,0:1,,", "no ratio"),
        ("5/5,G1,azimuth,,,45,,,,", "an azimuth goes with kind azimuth"),
        ("5/5,G1,azimuth,,,45,,,somewhere,", "write degrees clockwise from grid north"),
        ("6/1,G9,back,,,45,,,,", "guy G9 of 6/1 stands twice"),
    ],
)
def test_a_guy_that_cannot_be_read_refuses_the_schedule(table: Table, row: str, words: str) -> None:
    good = "6/1,G9,ahead,,,45,,,,\n"
    with pytest.raises(InputRefused, match=words):
        read_rows(table(HEADS + good + row + "\n"), GUYS, unit=FOOT)


def test_a_pole_that_is_not_one_is_noted_and_not_guessed(table: Table) -> None:
    loaded = read_rows(table(HEADS + "5/5,G1,bisector,,all,45,,,,\n"), GUYS, unit=FOOT)
    assert loaded.value[0].pole == ""
    (problem,) = loaded.problems
    assert problem.severity is Severity.NOTED
    assert "no single pole" in problem.reason


@pytest.mark.parametrize(
    ("words", "cell", "why"),
    [("", "Q", "no single pole A, B or C"), ("L/R", "M", "no single pole L or R"), ("1/2", "L/R", "1 or 2")],
)
def test_a_word_for_no_pole_is_refused_with_file_row_and_value(
    table: Table, words: str, cell: str, why: str
) -> None:
    naming = Naming(listed=ListedNumbers({"": {"5/5": 2}}), poles=PoleWords.parse(words))
    with pytest.raises(InputRefused, match=why) as refused:
        read_rows(table(HEADS + f"5/5,G1,bisector,,{cell},45,,,,\n"), GUYS, unit=FOOT, naming=naming)
    (problem,) = refused.value.problems
    assert (problem.file, problem.row, problem.column, problem.value) == ("list.csv", 2, "Pole", cell)


def test_a_pole_schedule_stays_a_pole_schedule(table: Table) -> None:
    assert table("Structure,Pole,Length,Class,Guys\n5/5,A,75,2,1\n").kinds == ("poles",)


@pytest.mark.parametrize("text", ["guy", "up", "", "left"])
def test_what_is_no_direction(text: str) -> None:
    with pytest.raises(ValueError, match="no direction"):
        parse_kind(text)


@pytest.mark.parametrize("text", ["?", "-", "middle", "1"])
def test_what_is_no_side(table: Table, text: str) -> None:
    with pytest.raises(InputRefused, match="no side"):
        read_rows(table(HEADS + f"5/5,G1,bisector,{text},,45,,,,\n"), GUYS)


@pytest.mark.parametrize("text", ["1:0", "0", "-1", "1:1:1", "one"])
def test_what_is_no_ratio(text: str) -> None:
    with pytest.raises(ValueError, match="no ratio"):
        parse_ratio(text)
