"""Lists of facts: each row needs what its kind needs, and every problem names its row and value."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from linemap.domain.survey.fact import RecordedFact
from linemap.errors import InputRefused, Severity
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import FACTS
from linemap.units import LengthUnit

Table = Callable[..., RawTable]
HEADS = (
    "line,structure,what,pole,pointed by,length (ft),class,face,looking,side,lower height,lower along,"
    "lower across,upper height,upper along,upper across,pole height,left,right,arm length,seen by,date,note\n"
)
DAY = dt.date(2026, 5, 7)
SEEN = "Otter,2026-05-07,photo 12\n"


def read(raw: RawTable) -> Loaded[tuple[RecordedFact, ...]]:
    return read_rows(raw, FACTS, unit=LengthUnit.FOOT, line_default="N")


def test_each_kind_of_fact_is_read_from_its_own_columns(table: Table) -> None:
    raw = table(
        HEADS
        + f",6/4,brand,B,place,75,,,,,,,,,,,,,,,{SEEN}"
        + f",6/4,Ground wire,A,Label,,,,,,,,,,,,,,,,{SEEN}"
        + f"M,6/5,arm face,,,,,BK,,,,,,,,,,,,,{SEEN}"
        + f",6/4,tag,A,,,,,ahead,Lt,,,,,,,,,,,{SEEN}"
        + f",6/4,plumb,B,,,,,,,0,0,0,60,0.5,-0.25,60,,,,{SEEN}"
        + f",6/4,arm level,,,,,,,,,,,,,,,54.5,54.25,25,{SEEN}"
    )
    assert raw.kinds == ("facts",)
    brand, wire, face, tag, plumb, level = read(raw).value
    assert brand == RecordedFact(
        line="N",
        structure="6/4",
        what="brand",
        pole="B",
        pointed_by="place",
        length_ft=75.0,
        who="Otter",
        on=DAY,
        note="photo 12",
    )
    assert brand.source_row == 2
    assert (wire.what, wire.pole, wire.pointed_by) == ("ground wire", "A", "label")
    assert (face.line, face.structure, face.face) == ("M", "6/5", "back")
    assert (tag.pole, tag.looking, tag.side) == ("A", "ahead", "left")
    assert (plumb.upper_height, plumb.upper_along, plumb.upper_across) == (60.0, 0.5, -0.25)
    assert (level.left_height, level.right_height, level.arm_length) == (54.5, 54.25, 25.0)


def test_lengths_come_in_the_unit_of_the_line_and_brands_in_feet(table: Table) -> None:
    heads = "Str,What,Pole,Pointed by,Length (ft),Left (m),Right (m),Arm length (m),Seen by,Date\n"
    raw = table(
        heads
        + "6/4,arm level,,,,16.764,16.6116,7.62,Otter,2026-05-07\n"
        + "6/4,brand,A,place,70,,,,Otter,2026-05-07\n"
    )
    level, brand = read(raw).value
    assert level.left_height == pytest.approx(55.0)
    assert level.right_height == pytest.approx(54.5)
    assert level.arm_length == pytest.approx(25.0)
    metric = read_rows(raw, FACTS, unit=LengthUnit.METRE).value[1]
    assert (brand.length_ft, metric.length_ft) == (70.0, 70.0)


@pytest.mark.parametrize(
    ("row", "value", "words"),
    [
        (f",6/4,hat,B,place,75,,,,,,,,,,,,,,,{SEEN}", "hat", "names nothing that can be recorded"),
        (f",6/4,,B,place,75,,,,,,,,,,,,,,,{SEEN}", "", "what was seen is missing"),
        (f",,brand,B,place,75,,,,,,,,,,,,,,,{SEEN}", "", "structure number is missing"),
        (f",2-Jan,brand,B,place,75,,,,,,,,,,,,,,,{SEEN}", "2-Jan", "date"),
        (f",6/4,brand,AB,place,75,,,,,,,,,,,,,,,{SEEN}", "AB", "no single pole"),
        (f",6/4,brand,B,hill,75,,,,,,,,,,,,,,,{SEEN}", "hill", "not place or label"),
        (f",6/4,brand,B,place,,,,,,,,,,,,,,,,{SEEN}", "", "needs length ft or pole class"),
        (f",6/4,brand,B,place,tall,,,,,,,,,,,,,,,{SEEN}", "tall", "not a number"),
        (f",6/4,arm face,,,,,up,,,,,,,,,,,,,{SEEN}", "up", "not ahead or back"),
        (f",6/4,plumb,B,,,,,,,60,0,0,0,0.5,0,60,,,,{SEEN}", "0", "lower one first"),
        (f",6/4,arm level,,,,,,,,,,,,,,,54,30,20,{SEEN}", "20", "cannot have ends"),
        (",6/4,brand,B,place,75,,,,,,,,,,,,,,,,2026-05-07,\n", "", "nobody is named"),
        (",6/4,brand,B,place,75,,,,,,,,,,,,,,,Otter,soon,\n", "soon", "not a date"),
        (",6/4,brand,B,place,75,,,,,,,,,,,,,,,Otter,,\n", "", "the day is missing"),
    ],
)
def test_a_row_that_cannot_be_read_refuses_the_list(table: Table, row: str, value: str, words: str) -> None:
    good = f",6/5,brand,B,place,75,,,,,,,,,,,,,,,{SEEN}"
    with pytest.raises(InputRefused) as refused:
        read(table(HEADS + good + row))
    (problem,) = refused.value.problems
    assert (problem.row, problem.value) == (3, value)
    assert words in problem.reason


def test_what_a_fact_does_not_need_is_noted_and_not_read(table: Table) -> None:
    loaded = read(table(HEADS + f",6/4,arm face,,,75,,back,,,,,,,,,,,,,{SEEN}"))
    assert loaded.value[0].length_ft is None
    (noted,) = [problem for problem in loaded.problems if problem.severity is Severity.NOTED]
    assert (noted.row, noted.value) == (2, "75")
    assert "not read" in noted.reason


def test_a_pole_schedule_stays_a_pole_schedule(table: Table) -> None:
    assert table("Structure,Pole,Length (ft),Class,Ground EL\n6/4,A,75,2,3100\n").kinds == ("poles",)
