"""What of a point file is listed for a person."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.errors import Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.survey.shots import read_shots

Table = Callable[..., RawTable]

ROWS = """5001,911423.70,2273378.01,3952.66,STR 5/5 A
5002,911410.07,2273384.24,3953.30,str 5/5 b ; prism pole short,,
5004,911410.00,2273384.30,,CL HUB 5/5
5012,914050.99,2276177.43,3975.58,6-4 B (RE-SHOT)
CHK1,899998.12,2249997.45,4021.33,CP-3 CHECK
5020,914100.20,2276230.70,3979.10,ANC 6/4 AH L
5021,914120.80,2276260.40,3978.80,XING GAS MKR
5022,914200.00,2276300.00,3978.00,?
5023,914201.00,2276301.00,3978.00,6/4 POLE
5024,914202.00,2276302.00,3978.00,NG
5025,914203.00,2276303.00,3978.00,鉄塔 五
"""


def test_every_row_is_a_pole_or_listed(table: Table, montana: Projection) -> None:
    loaded = read_shots(table(ROWS), projection=montana)
    poles = [shot for shot in loaded.value if shot.item == "pole"]
    listed = {problem.row for problem in loaded.problems}
    assert [(shot.structure, shot.pole) for shot in poles] == [("5/5", "A"), ("5/5", "B"), ("6/4", "B")]
    assert listed == {3, 5, 6, 7, 8, 9, 10, 11}
    assert {shot.row for shot in poles} | listed == set(range(1, 12))
    assert loaded.rows_used == loaded.rows_in == 11
    assert {problem.severity for problem in loaded.problems} == {Severity.NOTED}


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (3, "a hub or an offset stake of 5/5, no pole"),
        (5, "a check shot, no pole"),
        (6, "an anchor or a guy of 6/4, no pole"),
        (7, "a crossing, no pole"),
        (8, "names no structure and pole that can be read"),
        (9, "names structure 6/4 but no pole"),
        (10, "a ground shot, no pole"),
        (11, "names no structure and pole that can be read"),
    ],
)
def test_each_is_listed_with_what_it_is(table: Table, montana: Projection, row: int, words: str) -> None:
    loaded = read_shots(table(ROWS), projection=montana)
    (problem,) = [problem for problem in loaded.problems if problem.row == row]
    assert problem.reason == f"{words}; kept, not compared with the poles"


def test_descriptions_in_another_script_are_kept_as_written(table: Table, montana: Projection) -> None:
    assert read_shots(table(ROWS), projection=montana).value[-1].description == "鉄塔 五"


def test_two_poles_cannot_stand_at_one_place(table: Table, montana: Projection) -> None:
    rows = "1,900000.0,2250000.0,,2/4 A\n2,900000.0,2250000.0,,2/5 A\n3,900000.0,2250000.0,,2/4 A\n"
    loaded = read_shots(table(rows), projection=montana)
    ((row, words),) = [(problem.row, problem.reason) for problem in loaded.problems]
    assert row == 2
    assert words == "2/5 A stands exactly where row 1 has 2/4 A; two poles cannot"


@pytest.mark.parametrize("delimiter", [",", ";", "\t", " "])
@pytest.mark.parametrize("mark", [".", ","])
def test_point_files_in_every_delimiter_and_decimal_mark(
    table: Table, montana: Projection, delimiter: str, mark: str
) -> None:
    if delimiter == mark:
        return
    rows = [
        ["5001", "911423.70", "2273378.01", "3952.66", "STR 5/5 A"],
        ["5001", "911410.07", "2273384.24", "0", "5-5 C GL"],
    ]
    text = "\n".join(
        delimiter.join([cell.replace(".", mark) if at else cell for at, cell in enumerate(row)])
        for row in rows
    )
    loaded = read_shots(table(text, name="day.txt"), projection=montana)
    assert [(shot.northing, shot.easting) for shot in loaded.value] == [
        (911423.70, 2273378.01),
        (911410.07, 2273384.24),
    ]
    assert [(shot.point, shot.structure, shot.pole) for shot in loaded.value] == [
        ("5001", "5/5", "A"),
        ("5001", "5/5", "C"),
    ]
    assert [shot.elevation for shot in loaded.value] == [3952.66, None]
