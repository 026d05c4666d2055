from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.source.read import read_source
from linemap.io.survey.shots import date_in_name, read_shot_order, read_shots

Table = Callable[..., RawTable]

HEADLESS = """5001,911423.70,2273378.01,3952.66,STR 5/5 A
5003,911396.41,2273390.50,3953.95,5-5 C GL
5004,911410.0,2273384.3,,CL HUB 5/5
CHK1,899998.12,2249997.45,4021.33,CP-3 CHECK
5022,914200,2276300,0,?
"""


def test_files_without_headings_are_read_in_the_usual_order(table: Table, montana: Projection) -> None:
    loaded = read_shots(table(HEADLESS, name="2026-04-29.txt"), projection=montana, line_default="N")
    first, third, last = loaded.value[0], loaded.value[2], loaded.value[4]
    assert (first.point, first.structure, first.pole, first.item) == ("5001", "5/5", "A", "pole")
    assert (first.easting, first.northing, first.elevation) == (2273378.01, 911423.7, 3952.66)
    assert (first.file, first.row, first.line, first.observed_on) == ("2026-04-29.txt", 1, "N", "2026-04-29")
    assert (third.item, third.elevation, third.sigma) == ("hub", None, None)
    assert (last.structure, last.item, last.elevation) == ("", "other", None)
    assert "0 among real elevations" in loaded.problems[2].reason
    assert {p.row for p in loaded.problems if p.column == "column 5"} == {3, 4, 5}
    assert loaded.rows_in == loaded.rows_used == 5


def test_the_other_order_exchanges_the_coordinates(table: Table, montana: Projection) -> None:
    order = read_shot_order("penzd")
    shot = read_shots(table(HEADLESS), projection=montana, order=order).value[0]
    assert (shot.easting, shot.northing) == (911423.7, 2273378.01)


def test_an_order_may_name_a_precision(table: Table, montana: Projection) -> None:
    raw = table("1,911423.70,2273378.01,3952.66,5/5 A,0.05\n")
    shot = read_shots(raw, projection=montana, order=read_shot_order("pnezdh")).value[0]
    assert shot.sigma == pytest.approx(0.05 / math.sqrt(2))
    noted = read_shots(raw, projection=montana)
    assert noted.value[0].note == "0.05"
    assert noted.problems[0].severity is Severity.NOTED


@pytest.mark.parametrize("text", ["pnez", "pnnzd", "pnezq", "", "nonsense"])
def test_orders_that_say_nothing_are_refused(text: str) -> None:
    with pytest.raises(InputRefused, match="order"):
        read_shot_order(text)


def test_headings_are_matched_by_meaning(table: Table, montana: Projection) -> None:
    text = (
        "Pt,Desc,X (m),Y (m),Z (m),HRMS (m),Date\n"
        "7,12/3 B,685800,274320,1219.2,0.02,2026-05-13\n8,ANC 12/3 AH L,685801,274321,,,\n"
    )
    loaded = read_shots(table(text, name="2026-04-01.csv"), projection=montana)
    shot = loaded.value[0]
    assert (shot.easting, shot.northing, shot.elevation) == pytest.approx((2250000, 900000, 4000), abs=1e-6)
    assert shot.sigma == pytest.approx(0.02 / 0.3048 / math.sqrt(2))
    assert (shot.observed_on, loaded.value[1].observed_on) == ("2026-05-13", "2026-04-01")
    assert (loaded.value[1].item, loaded.value[1].sigma) == ("anchor", None)


def test_columns_for_structure_and_pole_go_before_the_description(table: Table, montana: Projection) -> None:
    text = (
        "structure,pole,easting,northing,description\n02-4,b,2250000,900000,9/9 A\n,,2250001,900000,9/9 A\n"
    )
    first, second = read_shots(table(text, kind="shots"), projection=montana).value
    assert (first.structure, first.pole, first.item) == ("2/4", "B", "pole")
    assert (second.structure, second.pole) == ("9/9", "A")


def test_a_bad_row_is_left_out_by_its_number(table: Table, montana: Projection) -> None:
    text = HEADLESS + "5030,nan,2276300,0,7/1 A\n5031,914200,,3979,7/1 B\nend of file,,,,\n"
    loaded = read_shots(table(text), projection=montana)
    assert loaded.rows_left_out == (6, 7, 8)
    assert loaded.rows_in == loaded.rows_used + 3
    reasons = {problem.row: problem.reason for problem in loaded.problems}
    assert reasons[6] == "not a finite number"
    assert "one of the two coordinates" in reasons[7]


def test_a_file_without_a_usable_row_is_refused(table: Table, montana: Projection) -> None:
    with pytest.raises(InputRefused, match="no row of the file"):
        read_shots(table("point,n,e,z,desc\n1,nan,nan,,5/5 A\n"), projection=montana)


def test_headings_without_a_description_never_fall_back_to_a_fixed_order(table: Table) -> None:
    with pytest.raises(InputRefused, match="no row of headings"):
        table("point,easting,northing\n1,2273378.01,911423.70\n", kind="shots")


def test_precisions_no_survey_has_are_not_used(table: Table, montana: Projection) -> None:
    rows = "".join(f"{n},911423,2273378,,5/5 A,{sigma}\n" for n, sigma in enumerate(("0.03", "900", "-1")))
    text = "point,n,e,z,desc,sigma\n" + rows
    loaded = read_shots(table(text), projection=montana)
    assert [shot.sigma for shot in loaded.value] == [0.03, None, None]
    assert [problem.row for problem in loaded.problems] == [3, 4]


@pytest.mark.parametrize(
    ("name", "date"),
    [
        ("shots_2026-04-29.csv", "2026-04-29"), ("20260513.txt", "2026-05-13"),
        ("2026_05_13_b.txt", "2026-05-13"),
        ("2026-13-40.csv", ""), ("run5001.csv", ""), ("120260513.csv", ""),
    ],
)  # fmt: skip
def test_dates_in_file_names(name: str, date: str) -> None:
    assert date_in_name(name) == date


def test_a_long_file_loses_no_shot(save: Callable[..., Path], montana: Projection) -> None:
    rows = "".join(
        f"{i},{900000 + i},{2250000 + i * 3.1:.3f},4000.12,S {i // 5 + 1}/{i % 5 + 1} {'AB'[i % 2]}\n"
        for i in range(20_000)
    )
    path = save("big.txt", rows)
    loaded = read_shots(read_source(path).tables[0], projection=montana)
    assert len(loaded.value) == 20_000
    assert loaded.value[-1].structure == "4000/5"


def test_a_shot_without_coordinates_is_left_out_as_one_and_a_remark_is_none(
    table: Table, montana: Projection
) -> None:
    loaded = read_shots(table(f"{HEADLESS}5023,,,,STR 5/5 B\n,,,,end of day\n"), projection=montana)
    shot, remark = (each for each in loaded.problems if each.severity is Severity.LEFT_OUT)
    assert (shot.row, shot.reason) == (6, "a shot without coordinates")
    assert shot.column
    assert (remark.row, remark.column) == (7, "")
    assert loaded.rows_used == 5
