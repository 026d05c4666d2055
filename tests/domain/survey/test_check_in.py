"""Check-ins: found by what they name and where they lie, asked about where that is not one thing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from linemap.domain.design.naming import ListedNumbers, Naming
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.check_in import FoundCheckIns, Marks, check_ins
from linemap.domain.survey.control import ControlPoint
from linemap.domain.survey.control_check import control_findings, listed_check_ins
from linemap.domain.survey.description import parse_description
from linemap.domain.survey.shot import Shot
from linemap.units import LengthUnit

EAST, NORTH = 2_250_000.0, 900_000.0
MARKS = Marks(
    factor=0.9992,
    unit=LengthUnit.FOOT,
    shot_sigma=0.03,
    mark_sigma=0.02,
    common_sigma=0.02,
    poles=np.array([[EAST + 500.0, NORTH], [np.nan, np.nan]]),
)
NAMING = Naming(listed=ListedNumbers({"North": {"12/3": 2, "45": 2}}))


def point(name: str, east: float = 0.0, north: float = 0.0, **more: float) -> ControlPoint:
    return ControlPoint(name=name, easting=EAST + east, northing=NORTH + north, **more)


def shot(text: str, east: float = 0.0, north: float = 0.0, *, name: str = "5001", **more: object) -> Shot:
    """A shot as its file gives it: the description is read as any other."""
    said = parse_description(text, NAMING)
    made = Shot(
        point=name,
        easting=EAST + east,
        northing=NORTH + north,
        description=text,
        structure=said.structure,
        pole=said.pole,
        item=said.item,
        file="may.csv",
        observed_on="2026-05-04",
        row=7,
    )
    return replace(made, **more)


def found(shots: list[Shot], *control: ControlPoint) -> tuple[FoundCheckIns, list[Finding]]:
    return check_ins(shots, control, MARKS)


#: Three monuments 1,000 ft apart, one that shares its number with another's sort.
POINTS = (point("CP-3"), point("BM-12", 1000.0), point("CP-31", 0.0, 1000.0), point("GPS 7 RESET", 2000.0))


@pytest.mark.parametrize(
    ("text", "name", "expected"),
    [
        ("CHK CP 3", "5001", "CP-3"),
        ("CP3", "5001", "CP-3"),
        ("CP-03 CHECK", "5001", "CP-3"),
        ("check into cp#3", "5001", "CP-3"),
        ("CHKCP3", "5001", "CP-3"),
        ("BM 12 CHECK", "5001", "BM-12"),
        ("CP-31 CHK", "5001", "CP-31"),
        ("GPS 7 RESET CHK", "5001", "GPS 7 RESET"),
        ("CHECK", "CP-3", "CP-3"),
        ("CHECK", "CP3-CHK", "CP-3"),
        ("", "CP-3", "CP-3"),
        ("CONTROL CP 3 ; am", "5001", "CP-3"),
    ],
)
def test_a_check_in_is_of_the_point_it_names(text: str, name: str, expected: str) -> None:
    at = next(each for each in POINTS if each.name == expected)
    near = shot(text, at.easting - EAST + 5.0, at.northing - NORTH, name=name)
    columns, asked = found([near], *POINTS)
    assert ([each.name for each in columns.points], columns.how, asked) == ([expected], ("number",), [])
    assert columns.residual.tolist() == [[pytest.approx(5.0 / 0.9992), pytest.approx(0.0)]]


@pytest.mark.parametrize("text", ["CP3A", "CHK CP 310", "STR 12/3 A FROM CP-3", "BACKSIGHT"])
def test_what_names_no_point_of_the_list_is_no_check_in_by_number(text: str) -> None:
    columns, _ = found([shot(text, 700.0)], *POINTS)
    assert len(columns) == 0


def test_a_number_alone_is_asked_about_unless_one_point_alone_is_called_so() -> None:
    for text in ("CHECK 3", "CHK 3"):
        columns, asked = found([shot(text, 700.0)], *POINTS)
        assert (len(columns), [each.code for each in asked]) == (0, ["check-in unnamed"])
    # where it lies answers it
    columns, asked = found([shot("CHECK 3", 0.02)], *POINTS)
    assert (columns.how, [each.name for each in columns.points], asked) == (("place",), ["CP-3"], [])
    # a list that gives bare numbers is named by them, with or without a word for the point
    for text in ("CHK 101", "CHK CP 101", "CP101"):
        columns, _ = found([shot(text, 20.0)], point("101"), point("102", 50.0))
        assert (columns.how, [each.name for each in columns.points]) == (("number",), ["101"]), text
    # a point name only counts the checks
    assert len(found([shot("CHECK", 700.0, name="CHK1")], point("1"))[0]) == 0
    # two monuments of one number
    assert len(found([shot("CHK 101", 20.0)], point("101"), point("BM 101", 50.0))[0]) == 0


def test_an_unread_shot_at_one_control_point_is_a_check_in_when_nothing_else_can_be_meant() -> None:
    columns, _ = found([shot("?", 0.04, -0.02)], *POINTS)
    assert columns.how == ("place",)
    # a pole of the design is as near
    beside = replace(MARKS, poles=np.array([[EAST + 4.0, NORTH]]))
    assert len(check_ins([shot("?", 0.04)], POINTS, beside)[0]) == 0
    assert len(check_ins([shot("CHECK", 0.04)], POINTS, beside)[0]) == 1
    # two monuments within reach: a check shot is asked about, any other left alone
    twins = (point("CP-3"), point("CP-4", 1.5))
    assert [each.code for each in found([shot("CHECK", 0.7)], *twins)[1]] == ["check-in unnamed"]
    assert found([shot("?", 0.7)], *twins)[1] == []
    # a named structure is what it says
    assert len(found([shot("STR 45", 0.04)], *POINTS)[0]) == 0


def test_a_shot_at_another_point_than_it_names_is_said_and_not_used() -> None:
    points = (point("CP-3"), point("CP-5", 40.0))
    columns, (asked,) = found([shot("CP-3 CHECK", 40.1)], *points)
    assert (len(columns), asked.code) == (0, "check-in elsewhere")
    assert asked.words == (
        'check shot "5001 CP-3 CHECK" (may.csv row 7) names CP-3, 40.13 ft away, and lies 0.10 ft from CP-5: '
        "not used"
    )
    # named and right there, with a neighbour as near: what it names counts
    assert len(found([shot("CP-3 CHECK", 0.1)], point("CP-3"), point("CP-4", 1.0))[0]) == 1
    # 2 ft off with nothing else about: a check-in, and a bad one
    assert len(found([shot("CP-3 CHECK", 2.0)], *points)[0]) == 1


def test_a_point_that_is_not_listed_is_named_with_what_lies_there() -> None:
    (asked,) = found([shot("CHK CP-9", 0.05)], *POINTS)[1]
    assert asked.words == (
        'check shot "5001 CHK CP-9" (may.csv row 7) names CP-9, which is not in the list of control points; '
        "it lies 0.05 ft from CP-3: not used"
    )


def test_a_person_may_say_which_point_was_shot() -> None:
    columns, asked = found([shot("CHECK 3", 8.0, 500.0, item="check", structure="cp 31")], *POINTS)
    assert ([each.name for each in columns.points], columns.how, asked) == (["CP-31"], ("assigned",), [])


def test_columns_exchanged_are_no_measurement_and_no_question() -> None:
    exchanged = replace(shot("CP-3 CHECK"), easting=NORTH, northing=EAST)
    columns, asked = found([exchanged], *POINTS)
    assert (len(columns), asked) == (0, [])
    far = replace(shot("CP-3 CHECK"), easting=EAST + 5280.0)
    assert [each.code for each in found([far], *POINTS)[1]] == ["check-in elsewhere"]


def test_a_shot_on_a_point_whose_own_columns_are_exchanged_is_asked_about() -> None:
    beside = replace(MARKS, poles=np.array([[EAST + 60.0, NORTH]]))
    exchanged = replace(point("CP-3"), easting=NORTH, northing=EAST)
    columns, asked = check_ins([shot("CP-3 CHECK")], (exchanged,), beside)
    assert (len(columns), [each.code for each in asked]) == (0, ["check-in elsewhere"])


def test_without_a_list_of_control_points_nothing_is_found_or_asked() -> None:
    assert found([shot("CP-3 CHECK"), shot("CHECK 3")])[1] == []


def test_sigma_is_of_shot_and_monument_and_heights_are_compared_where_both_are_given() -> None:
    points = (point("CP-3", elevation=3900.0, sigma=0.04), point("CP-4", 100.0))
    shots = [
        shot("CP-3", sigma=0.03, elevation=3900.11),
        shot("CP-4", 100.0, elevation=3900.0),
    ]
    columns, _ = found(shots, *points)
    assert columns.sigma.tolist() == [pytest.approx(0.05), pytest.approx(np.hypot(0.03, 0.02))]
    assert columns.up.tolist() == [pytest.approx(0.11), pytest.approx(np.nan, nan_ok=True)]


def said(shots: list[Shot], *control: ControlPoint) -> list[str]:
    columns, _ = found(shots, *control)
    return [each.code for each in control_findings(shots, columns, MARKS)]


POLE = shot("12/3 A", 300.0)


def test_a_session_is_a_file_and_of_several_days_each_day() -> None:
    second = {"observed_on": "2026-05-05"}
    shots = [POLE, shot("CP-3"), replace(POLE, **second)]
    columns, _ = found(shots, *POINTS)
    assert columns.by_session == {("may.csv", "2026-05-04"): [0]}
    (note,) = control_findings(shots, columns, MARKS)
    assert note.words == (
        "file may.csv, 2026-05-05: no check-in on a control point, 1 pole shot held against their own base"
    )


def test_check_ins_in_a_file_of_their_own_hold_the_one_other_session_of_their_day() -> None:
    own = shot("CP-3", file="checks.csv")
    other = replace(POLE, file="more.csv")
    assert found([POLE, own], *POINTS)[0].session == (("may.csv", "2026-05-04"),)
    assert found([POLE, other, own], *POINTS)[0].session == (("checks.csv", "2026-05-04"),)
    assert found([replace(POLE, observed_on=""), replace(own, observed_on="")], *POINTS)[0].session == (
        ("checks.csv", ""),
    )


def test_sessions_take_check_ins_on_the_grid() -> None:
    columns = found([shot("CP-3", 0.5, -0.3)], *POINTS)[0].columns
    assert columns.off.tolist() == [[pytest.approx(0.5), pytest.approx(-0.3)]]
    assert columns.at.tolist() == [[EAST, NORTH]]


def test_good_check_ins_say_nothing() -> None:
    assert said([POLE, shot("CP-3", 0.05, -0.05), shot("BM 12", 1000.02)], *POINTS) == []


def test_check_ins_off_alike_are_one_thing_and_an_odd_one_asks_for_another() -> None:
    alike = [POLE, shot("CP-3", 0.5, -0.3), shot("BM 12", 1000.52, -0.31)]
    assert said(alike, *POINTS) == ["check-ins off"]
    odd = [POLE, shot("CP-3", 0.9), shot("BM 12", 1000.02), shot("CP-31", 0.0, 1000.03)]
    assert said(odd, *POINTS) == ["check-in odd"]
    columns, _ = found(odd, *POINTS)
    (asked,) = control_findings(odd, columns, MARKS)
    assert asked.words == (
        'check shot "5001 CP-3" (may.csv row 7) on CP-3 lies 0.90 ft east, 0.00 ft north of it '
        "(sigma 0.04 ft); 2 others of its file and day fit: shoot another"
    )
    assert said([POLE, shot("CP-3", 0.9)], *POINTS) == ["check-in off"]
    apart = [POLE, shot("CP-3", 0.9), shot("BM 12", 999.0)]
    assert said(apart, *POINTS) == ["check-in off", "check-in off"]


def test_a_height_alone_is_off_too() -> None:
    high = point("CP-3", elevation=3900.0)
    assert said([POLE, shot("CP-3", elevation=3900.1)], high) == []
    assert said([POLE, shot("CP-3", elevation=3901.0)], high) == ["check-in off"]


def test_people_see_a_check_in_as_observed_and_as_corrected() -> None:
    observed = [shot("CP-3", 0.5, -0.3)]
    corrected = [replace(observed[0], easting=EAST + 0.01, northing=NORTH)]
    columns, _ = found(corrected, *POINTS)
    (told,) = listed_check_ins(columns, observed, MARKS)
    assert (told.control, told.how, told.off) == ("CP-3", "number", False)
    assert (told.east, told.observed_east) == (pytest.approx(0.010008), pytest.approx(0.5004))
