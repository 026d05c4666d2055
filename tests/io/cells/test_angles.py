import math
from collections.abc import Callable

import pytest

from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.angles import ARC_SECOND, compare_bearing, compare_deflection
from linemap.io.cells.table import RawTable
from linemap.io.design.structures import read_structures

LEFT = -(18 + 45 / 60 + 10 / 3600)


@pytest.mark.parametrize(
    "text",
    ["18-45-10 L", "18°45'10\"LT", "LT 18 45 10", "-18.752778", "L18-45-10", "18°45′10″ LEFT"],
)
def test_ways_of_writing_that_agree_say_nothing(text: str) -> None:
    assert compare_deflection(text, LEFT, within_deg=ARC_SECOND) == ""


@pytest.mark.parametrize("text", ["", "TANGENT", "0"])
def test_tangents_agree_with_no_turn(text: str) -> None:
    assert compare_deflection(text, 0.0, within_deg=ARC_SECOND) == ""


def test_what_disagrees_is_told_with_both_values() -> None:
    words = compare_deflection("18-45-10 R", LEFT, within_deg=0.01)
    assert words == "says 18°45'10\" R, the coordinates say 18°45'10\" L: 37.51° apart"


@pytest.mark.parametrize(
    ("geometry", "end"),
    [
        (-62.175, "the coordinates say the first"),
        (-62.103, "the coordinates say the second"),
        (-61.0, "which is neither; which is meant?"),
        (math.nan, "(decimal); which is meant?"),
    ],
)
def test_a_packed_number_is_a_question_the_coordinates_may_settle(geometry: float, end: str) -> None:
    words = compare_deflection("62.1030 L", geometry, within_deg=0.005)
    assert words.startswith("may be 62°10'30\" L (packed) or 62°06'11\" L (decimal)")
    assert words.endswith(end)


def test_both_readings_within_reach_stay_a_question() -> None:
    assert compare_deflection("62.1030 L", -62.15, within_deg=0.1).endswith("which is meant?")


def test_what_is_no_angle_is_said() -> None:
    assert compare_deflection("see dwg", 0.0, within_deg=0.1).endswith("not compared")


def test_bearings_across_north_are_near() -> None:
    assert compare_bearing("N 0-00-01 W", 1.0 * ARC_SECOND, within_deg=3 * ARC_SECOND) == ""


def test_packed_bearings_are_settled_too() -> None:
    # 24°56'00" packed or 24.56° = 24°33'36" decimal
    assert compare_bearing("N24.5600E", 24.56, within_deg=0.001).endswith("the coordinates say the second")


Table = Callable[..., RawTable]
GRID = "Str,Northing,Easting\n1/1,900000,2250000\n1/3,900998.8,2251897.4\n"


def test_degrees_on_the_line_are_read_and_noted(table: Table, montana: Projection) -> None:
    lon, lat = (float(each) for each in montana.to_lonlat(2_250_948.75, 900_499.4))
    text = GRID + f"1/2,{lat:.9f},{lon:.9f}\n"
    loaded = read_structures(table(text), projection=montana)
    assert loaded.value.easting[2] == pytest.approx(2_250_948.75, abs=0.001)
    assert loaded.value.northing[2] == pytest.approx(900_499.4, abs=0.001)
    (note,) = loaded.problems
    assert (note.row, note.severity) == (4, Severity.NOTED)
    assert "read as WGS 84, good to 0.000182 ft as written; is that meant?" in note.reason


def test_few_decimals_are_said_to_be_coarse(table: Table, montana: Projection) -> None:
    loaded = read_structures(table(GRID + "1/2,46.7145,-108.3733\n"), projection=montana)
    assert "good to 18.2 ft as written" in loaded.problems[0].reason


@pytest.mark.parametrize(
    "row",
    [
        "1/2,-108.37338,46.71449",  # exchanged
        "1/2,12.71312,-108.37717",  # outside the area of use
        "1/2,47.9,-110.0",  # within it, and a hundred miles from the line
        "1/2,0,0",
    ],
)
def test_other_degrees_refuse_the_list(table: Table, montana: Projection, row: str) -> None:
    with pytest.raises(InputRefused, match="looks like longitude and latitude among grid coordinates"):
        read_structures(table(GRID + row + "\n"), projection=montana)
