from __future__ import annotations

from collections.abc import Callable
from datetime import date, time

import pytest

from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import HOLDS

Table = Callable[..., RawTable]
HEADS = (
    "Hold,Activities,Structures,From date,To date,Condition,Reason,Restricted,Set by,Release by,Released on\n"
)


def test_a_list_becomes_holds(table: Table) -> None:
    text = (
        "HOLDS AS OF 2026-05-15\n"
        + HEADS
        + 'HE-1,"framing, setting & anchors",9/2,2026-03-01,,,drawing revision,no,'
        "engineer,engineer,\nHL-1,all,11/4-11/6,2026-03-01,2026-05-31,,lambing,,,owner,\n"
        'HN-2,all,"14/1, 14/3",,15 Aug 2026,monitor named,nest,yes,,biologist,2026-08-16\n'
    )
    loaded = read_rows(table(text), HOLDS, line_default="N")
    first, second, third = loaded.value
    assert (first.id, first.line, first.structures) == ("HE-1", "N", ("9/2",))
    assert first.activities == ("framing", "setting", "anchors")
    assert (first.from_date, first.to_date, first.restricted) == (date(2026, 3, 1), None, False)
    assert (second.from_structure, second.to_structure, second.activities) == ("11/4", "11/6", ("all",))
    assert second.reach.covers("N", "11/5")
    assert (third.structures, third.restricted, third.condition) == (("14/1", "14/3"), True, "monitor named")
    assert (third.released_on, third.to_date) == (date(2026, 8, 16), date(2026, 8, 15))
    assert loaded.rows_left_out == (1,)


def test_ranges_may_stand_in_two_columns_and_ends_may_be_open(table: Table) -> None:
    text = "activity,from structure,to structure,from date,to date\nall,17/2,17/3,2026-05-01,until released\n"
    hold = read_rows(table(text), HOLDS).value[0]
    assert (hold.id, hold.from_structure, hold.to_structure, hold.to_date) == ("row 2", "17/2", "17/3", None)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("HX,all,2-Jan,2026-05-01,,,,,,,", "turned into a date"),
        ("HX,all,the river,2026-05-01,,,,,,,", "no structure number"),
        ("HX,all,,2026-05-01,,,,,,,", "names no structure"),
        ("HX,all,9/2,5/6/2026,,,,,,,", "both ways"),
        ("HX,all,9/2,2026-05-10,2026-05-01,,,,,,", "before it begins"),
    ],
)
def test_a_hold_that_cannot_be_read_refuses_the_list(table: Table, row: str, words: str) -> None:
    good = "HE-1,all,9/3,2026-03-01,,,,,,,\n"
    with pytest.raises(InputRefused, match=words):
        read_rows(table(HEADS + good + row + "\n"), HOLDS)


def test_a_doubtful_restriction_is_kept_from_sight(table: Table) -> None:
    loaded = read_rows(table(HEADS + "HX,all,9/2,2026-05-01,,,nest,ask first,,,\n"), HOLDS)
    assert loaded.value[0].restricted
    assert loaded.problems[0].severity is Severity.NOTED


def test_times_of_day_are_kept_where_the_list_gives_them(table: Table) -> None:
    text = (
        "Hold,Activities,Structures,From date,To date,Reason\n"
        "HX-1,wire,17/2,2026-09-14 07:00,9/14/2026 3:00 pm,outage\n"
        "HL-1,all,11/4,2026-05-01,2026-05-31,lambing\n"
        "HL-2,all,11/5,2026-05-01 00:00:00,2026-05-31 00:00:00,lambing\n"
    )
    outage, days, sheet = read_rows(table(text), HOLDS).value
    assert (outage.from_date, outage.from_time) == (date(2026, 9, 14), time(7))
    assert (outage.to_date, outage.to_time) == (date(2026, 9, 14), time(15))
    assert outage.sentence() == (
        "no wire at 17/2 from 14 September 2026 07:00 until 14 September 2026 15:00 (outage)"
    )
    for whole in (days, sheet):  # a spreadsheet writes midnight behind every day
        assert (whole.from_time, whole.to_date, whole.to_time) == (None, date(2026, 5, 31), None)


def test_times_of_day_may_stand_in_columns_of_their_own(table: Table) -> None:
    text = (
        "Hold,Activities,Structures,From date,Start time,To date,End time\n"
        "HX-1,wire,17/2,2026-09-14,07:00,2026-09-17,15:00\n"
    )
    loaded = read_rows(table(text), HOLDS)
    (hold,) = loaded.value
    assert (hold.from_time, hold.to_time, loaded.unread) == (time(7), time(15), ())


@pytest.mark.parametrize(
    ("dates", "words"),
    [
        ("2026-09-14 07:00,2026-09-14 06:00", "not after 07:00"),
        ("2026-09-14T07:00-06:00,", "by the clock of the job"),
    ],
)
def test_times_that_cannot_be_refuse_the_list(table: Table, dates: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_rows(table(f"Hold,Activities,Structures,From date,To date\nHX-1,wire,17/2,{dates}\n"), HOLDS)


def test_a_radius_comes_with_coordinates_or_a_structure_in_its_own_unit(table: Table) -> None:
    rows = "HN-1,all,,-108.0731,46.8035,200,nest\nHN-2,all,14/2,,,400,lek\nHL-1,dig,15/1,,,,lambing\n"
    heads = "id,activities,structure,longitude,latitude,radius (m),reason\n"
    found = read_rows(table(heads + rows), HOLDS, projection=Projection.from_text("EPSG:6515")).value
    assert [each.radius and round(each.radius, 2) for each in found] == [656.17, 1312.34, None]
    assert found[0].easting == pytest.approx(1984000, abs=400000)
    assert (found[0].structures, found[1].easting, found[2].easting) == ((), None, None)


def test_a_radius_without_a_place_refuses_its_row(table: Table) -> None:
    heads = "id,activities,structure,longitude,latitude,radius,reason\n"
    grid = Projection.from_text("EPSG:6515")
    for structure, why in (("", "names no structure"), ("14/1-14/3", "a radius around nothing")):
        with pytest.raises(InputRefused, match=why):
            read_rows(table(heads + f"HN-1,all,{structure},,,200,nest\n"), HOLDS, projection=grid)
