from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.errors import InputRefused
from linemap.io.cells.table import RawTable
from linemap.io.design.equations import read_equations
from linemap.units import LengthUnit

Table = Callable[..., RawTable]


def test_a_list_of_equations(table: Table) -> None:
    text = "line,back,ahead\nN,470+00.00,473+84.50\nS,10+00,9+50\nN,953+84.50 BK,953+23.75 AH\n"
    found = read_equations(table(text), unit=LengthUnit.FOOT).value
    assert found == {"N": ((47000.0, 47384.5), (95384.5, 95323.75)), "S": ((1000.0, 950.0),)}


def test_equations_within_a_pi_list(table: Table) -> None:
    text = (
        "PI,Sta Bk,Sta Ah,N,E\nPOB,,0+00.00,900000,2250000\n1,118+40.00,118+40.00,905510.59,2260468.98\n"
        "EQ,470+00.00 BK,473+84.50 AH,,\n"
    )
    loaded = read_equations(table(text, kind="equations"), unit=LengthUnit.FOOT, line_default="N")
    assert loaded.value == {"N": ((47000.0, 47384.5),)}
    assert loaded.rows_left_out == (2, 3)


def test_a_file_without_an_equation_says_so(table: Table) -> None:
    loaded = read_equations(table("back,ahead\n1+00,1+00\n"), unit=LengthUnit.FOOT)
    assert loaded.value == {}
    assert "no station equation" in loaded.problems[0].reason


def test_both_stations_in_one_cell(table: Table) -> None:
    raw = table("station equation\n470+00.00 BK = 473+84.50 AH\n")
    assert read_equations(raw, unit=LengthUnit.FOOT).value == {"": ((47000.0, 47384.5),)}


def test_metric_stations_count_kilometres(table: Table) -> None:
    raw = table("back,ahead\n1+234.560,1+300\n")
    assert read_equations(raw, unit=LengthUnit.METRE).value == {"": ((1234.56, 1300.0),)}


@pytest.mark.parametrize(
    ("row", "words"),
    [("47O+00,473+84.50", "47O"), ("473+84.50 AH,470+00 BK", "says ahead in the back column")],
)
def test_unreadable_stations_refuse_the_list(table: Table, row: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_equations(table(f"back,ahead\n{row}\n"), unit=LengthUnit.FOOT)
