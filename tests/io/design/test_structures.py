from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from linemap.domain.design.structure import Structures
from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.structures import read_structures
from linemap.io.source.read import read_source

Table = Callable[..., RawTable]

MESSY = """KETTLE & SPAR LIST,,,,,,,,REV B
,,,,,,,
Str,Station,Northing,Easting,Type,Angle,Poles,Pole Spacing (ft),Remarks
1/1,0+00,"900,000.00","2,250,000.00",TERM,,2,14,
01-2,10+73,"900499.4","2250948.7",H-TAN,,2,12.5,
,,,,,,,
Str,Station,Northing,Easting,Type,Angle,Poles,Pole Spacing (ft),Remarks
5/5,260+50 ,911410.04,2273384.26,P3-SUS,18-45-10 LT,3,15,"guys on bisector, see G-3"
5/6,,911410.04,2273384.26,DELETED,,2,12.5,
,,,,,MILE 5 SUBTOTAL,,4773,
TOTAL 4,,,,,,,,
Approved: ______,,,,,,,,
"""


def load(table: Table, text: str, projection: Projection, **names: str) -> Loaded[Structures]:
    return read_structures(table(text, kind="structures"), projection=projection, **names)  # type: ignore[arg-type]


def test_a_messy_list_loads_and_every_dropped_row_is_listed(table: Table, montana: Projection) -> None:
    loaded = load(table, MESSY, montana, line_default="North")
    found = loaded.value
    assert found.number.tolist() == ["1/1", "01-2", "5/5"]
    assert found.line.tolist() == ["North"] * 3
    assert found.easting.tolist() == [2250000.0, 2250948.7, 2273384.26]
    assert found.spacing.tolist() == [14.0, 12.5, 15.0]
    assert found.pole_count.tolist() == [2, 2, 3]
    assert found.section_break.tolist() == [True, False, False]
    assert found.source_row.tolist() == [4, 5, 8]
    assert found.remarks[2] == "guys on bisector, see G-3"
    assert loaded.rows_left_out == (1, 7, 9, 10, 11, 12)
    assert loaded.rows_in == loaded.rows_used + len(loaded.rows_left_out) == 9
    reasons = {problem.row: problem.reason for problem in loaded.problems}
    assert "total" in reasons[10]
    assert "deleted" in reasons[9]
    assert "headings again" in reasons[7]
    assert str(loaded.mapping["spacing"]) == "Pole Spacing (ft) (international foot)"
    assert str(loaded.mapping["number"]) == "Str"
    assert str(loaded.mapping["deflection"]) == "Angle"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("1/2,,2250948.7", "row 3, Northing: one of the two coordinates is missing"),
        ("1/2,,", "row 3, Easting: structure 1/2 has no coordinates"),
        ("1/2,nan,2250948.7", 'row 3, Northing "nan": not a finite number'),
        ("1/2,inf,2250948.7", "not a finite number"),
        ("1/2,1e400,2250948.7", "not a finite number"),
        ("1/2,#REF!,2250948.7", 'row 3, Northing "#REF!": a spreadsheet error'),
        ("1/2,9004x9,2250948.7", "not a number|no length unit"),
        (",900499.4,2250948.7", "row 3, Str: the structure number is missing"),
        ("1/1,900499.4,2250948.7", "structure 1/1 stands twice, in rows 2 and 3"),
        ("01-1,900000,2250000", "structure 01-1 stands twice, in rows 2 and 3"),
        (
            "4-Mar,900499.4,2250948.7",
            "4-Mar looks like .* turned into a date; it may be 3/4 or 4/3, and nothing",
        ),
        ("45355,900499.4,2250948.7", "day count; it may be 3/4 or 4/3"),
        ("1/2,12.71312,-108.37717", "looks like longitude and latitude among grid coordinates"),
        ("1/2,0,0", "looks like longitude and latitude among grid coordinates"),
    ],
)
def test_one_bad_row_refuses_the_list(table: Table, montana: Projection, row: str, words: str) -> None:
    text = f"Str,Northing,Easting\n1/1,900000,2250000\n{row}\n2/1,900500,2251000\n"
    with pytest.raises(InputRefused, match=words) as caught:
        load(table, text, montana)
    assert len(caught.value.problems) == 1


def test_all_bad_rows_are_named_at_once_but_not_endlessly(table: Table, montana: Projection) -> None:
    rows = "".join(f"1/{number},nan,2250000\n" for number in range(1, 101))
    with pytest.raises(InputRefused, match="and 60 more rows") as caught:
        load(table, "Str,Northing,Easting\n" + rows, montana)
    assert len(caught.value.problems) == 41


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("structure,easting,northing\n1/1,-108.37,46.71\n1/2,-108.36,46.72\n", "name the columns longitude"),
        ("structure,easting (m),northing (ft)\n1/1,685800,900000\n", "in the metre and northings"),
        ("structure,longitude,latitude\n1/1,46.71,-108.37\n", "beyond 90 degrees"),
        ("structure,longitude,latitude\n1/1,-108.37,\n", "one of the two coordinates"),
        ("structure,easting (deg),northing (deg)\n1/1,685800,900000\n", "in deg, not a length"),
        ("structure,easting,northing\n", "no row of the file can be used"),
        ("structure,easting,northing\nTOTAL,,\n", "no row of the file can be used"),
        ("structure,easting\n1/1,5\n", "easting, northing or longitude"),
    ],
)
def test_lists_in_the_wrong_shape_are_refused(
    table: Table, montana: Projection, text: str, words: str
) -> None:
    with pytest.raises(InputRefused, match=words):
        load(table, text, montana)


def test_metres_in_a_foot_job_are_converted_exactly_and_noted(table: Table, montana: Projection) -> None:
    text = "structure,easting (m),northing (m),pole spacing (ft)\n1/1,685800,274320,12.5\n"
    loaded = load(table, text, montana)
    assert loaded.value.easting[0] == pytest.approx(2_250_000.0, abs=1e-6)
    assert loaded.value.northing[0] == pytest.approx(900_000.0, abs=1e-6)
    assert loaded.value.spacing[0] == 12.5
    assert [p.severity for p in loaded.problems] == [Severity.NOTED] * 2
    assert "converted from the metre to the international foot" in str(loaded.problems[0])


def test_the_two_feet_are_never_mixed(table: Table, montana: Projection) -> None:
    text = "structure,X (US ft),Y (US ft)\n1/1,2345678.12,900000\n"
    # 2,345,678.12 US survey feet are 2,345,682.81 international feet (1200/3937 against 0.3048).
    assert load(table, text, montana).value.easting[0] == pytest.approx(2_345_682.811, abs=1e-3)
    plain = load(table, "structure,X (ft),Y (ft)\n1/1,2345678.12,900000\n", montana)
    assert plain.value.easting[0] == 2345678.12
    assert plain.problems == ()


def test_a_foot_in_a_metre_job_says_which_foot_was_taken(table: Table, utm: Projection) -> None:
    loaded = load(table, "structure,X (ft),Y (ft)\n1/1,2000000,17000000\n", utm)
    assert loaded.value.easting[0] == pytest.approx(609_600.0, abs=1e-6)
    assert "write ftUS if it is meant" in str(loaded.problems[0])


def test_units_written_in_cells_are_heeded(table: Table, montana: Projection) -> None:
    text = "structure,easting,northing,spacing\n1/1,2250000,900000,3.81m\n1/2,2250900,900000,12.5'\n"
    assert load(table, text, montana).value.spacing == pytest.approx([12.5, 12.5])


def test_longitude_and_latitude_are_projected(table: Table, montana: Projection) -> None:
    # The point of beginning of the invented line, published to 5 decimals (about 1 ft).
    found = load(table, "Structure,Lon,Lat\n1/1,-108.37717,46.71312\n", montana).value
    assert (found.easting[0], found.northing[0]) == (
        pytest.approx(2_250_000, abs=3),
        pytest.approx(900_000, abs=3),
    )


def test_rows_added_in_longitude_and_latitude_fill_blank_grid_cells(
    table: Table, montana: Projection
) -> None:
    text = "Str,E,N,Lon,Lat\n1/1,2250000,900000,,\n1/2,,,-108.37717,46.71312\n"
    assert load(table, text, montana).value.easting[1] == pytest.approx(2_250_000, abs=3)


def test_several_lines_may_use_the_same_numbers_and_mix_their_rows(table: Table, montana: Projection) -> None:
    text = "line,str,e,n\nN,1/1,2250000,900000\nS,1/1,2260000,900000\nN,1/2,2251000,900000\n"
    assert load(table, text, montana).value.line.tolist() == ["N", "S", "N"]


def test_rules_azimuths_breaks_and_elevations(table: Table, montana: Projection) -> None:
    text = (
        "str,e,n,arm rule,azimuth,section break,elev,station,type\n"
        "1/1,2250000,900000,square to back,,yes,4000,0+00,H-TAN\n"
        "1/2,2250900,900000,azimuth,N 62-14-20 E,no,,10+73,P3-DE\n"
        "1/3,2251900,900000,,45.5,,#N/A,,\n"
    )
    loaded = load(table, text, montana)
    found = loaded.value
    assert found.rule.tolist() == [1, 3, 3]
    assert found.explicit_azimuth == pytest.approx([np.nan, 62.238889, 45.5], abs=1e-6, nan_ok=True)
    assert found.section_break.tolist() == [True, False, False]
    assert found.elevation == pytest.approx([4000, np.nan, np.nan], nan_ok=True)
    assert found.given_station.tolist() == ["0+00", "10+73", ""]
    assert "taken as not given" in str(loaded.problems[0])


def test_an_arm_azimuth_is_turned_to_the_side_of_pole_a(table: Table, montana: Projection) -> None:
    raw = table("str,e,n,arm azimuth\n1/1,2250000,900000,152.5\n")
    left = read_structures(raw, projection=montana, pole_a="left").value
    right = read_structures(raw, projection=montana, pole_a="right").value
    assert left.explicit_azimuth[0] == pytest.approx(62.5)
    assert right.explicit_azimuth[0] == pytest.approx(242.5)


def test_date_cells_of_a_workbook_that_fit_two_ways_are_asked_about(
    workbook: Callable[..., Path], montana: Projection
) -> None:
    rows = [
        ["Str", "N", "E"],
        [datetime(2026, 3, 4), 900000, 2250000],  # noqa: DTZ001
        ["10/1", 900500, 2251000],
    ]
    raw = read_source(workbook({"Sheet1": rows})).tables[0]
    words = r"row 2, Str .*4-Mar looks like .*3/4 or 4/3.*--date-order mdy \(3/4\) or dmy \(4/3\)"
    with pytest.raises(InputRefused, match=words):
        read_structures(raw, projection=montana)
    said = read_structures(raw, projection=montana, order="dmy")
    assert said.value.number.tolist() == ["4/3", "10/1"]
    assert "restored from date as 4/3" in said.problems[0].reason


def test_a_long_list_loses_no_row(save: Callable[..., Path], montana: Projection) -> None:
    rows = "".join(
        f"L{i // 1000},{i % 1000 // 5 + 1}/{i % 5 + 1},{2250000 + i * 3.1:.3f},{900000 + i * 1.7:.3f},H-TAN\n"
        for i in range(20_000)
    )
    path = save("big.csv", "Line,Str No,Easting (ft),Northing (ft),Type\n" + rows)
    loaded = read_structures(read_source(path).tables[0], projection=montana)
    assert len(loaded.value) == loaded.rows_in == 20_000


def test_spans_staggered_between_the_structures_are_listed(table: Table, montana: Projection) -> None:
    rows = "1/1,900000,2250000,\n,,,1073\n1/2,900499.4,2250948.7,\n,,,835\n1/3,901000,2251800,\n"
    text = "Str,N,E,Ahead Span\n" + rows
    loaded = load(table, text, montana)
    assert loaded.value.number.tolist() == ["1/1", "1/2", "1/3"]
    assert loaded.rows_left_out == (3, 5)
    assert {p.reason for p in loaded.problems} == {
        "a span between two structures; spans are computed, not read"
    }


def test_a_date_below_a_signature_is_no_structure(table: Table, montana: Projection) -> None:
    text = "Str,N,E\n1/1,900000,2250000\nApproved,,\n2026-02-09,,\n"
    loaded = load(table, text, montana)
    assert loaded.rows_left_out == (3, 4)


def test_a_remark_that_says_deleted_leaves_the_row_out_and_an_instruction_does_not(
    table: Table, montana: Projection
) -> None:
    text = (
        "Str,N,E,Remarks\n1/1,900000,2250000,DELETED\n1/2,900499.4,2250948.7,guy deleted\n"
        '1/3,901000,2251800,"see Dwg 14,  arms BK side"\n'
    )
    loaded = load(table, text, montana)
    assert loaded.value.number.tolist() == ["1/2", "1/3"]
    assert loaded.value.remarks.tolist() == ["guy deleted", "see Dwg 14, arms BK side"]


@pytest.mark.parametrize(
    ("text", "kept"), [("007", "007"), ("7.0", "7"), (" 7 ", "7"), ("STR 07", "07"), ("t-7a", "t-7a")]
)
def test_numbers_stay_as_the_owner_writes_them(
    table: Table, montana: Projection, text: str, kept: str
) -> None:
    assert load(table, f"Str,N,E\n{text},900000,2250000\n", montana).value.number.tolist() == [kept]


def test_numbers_that_differ_in_their_writing_alone_are_kept_and_named(
    table: Table, montana: Projection
) -> None:
    rows = "12/3,900000,2250000\n12-3,900500,2251000\n45,900700,2252000\n"
    loaded = load(table, f"Str,Northing,Easting\n{rows}", montana)
    assert loaded.value.number.tolist() == ["12/3", "12-3", "45"]
    (noted,) = loaded.problems
    assert noted.row == 3
    assert "12/3 and 12-3 differ in nothing but their writing" in noted.reason


def test_a_date_is_restored_by_the_distance_where_no_station_is_written(
    table: Table, montana: Projection
) -> None:
    # 1/1 is left alone and counts the miles: 11,000 ft on is the third mile, so 4-Mar is 3/4
    text = "Str,N,E\n1/1,900000,2250000\n4-Mar,900000,2262000\n5-Oct,900000,2299000\n"
    loaded = load(table, text, montana)
    assert loaded.value.number.tolist() == ["1/1", "3/4", "10/5"]
    assert [p.row for p in loaded.problems if "restored from date" in p.reason] == [3, 4]
