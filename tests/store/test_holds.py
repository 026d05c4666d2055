"""Holds: the list as a whole."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from linemap.domain.crew.hold import Hold
from linemap.kinds.registry import HOLDS
from linemap.store import versions
from linemap.store.database import Database
from linemap.store.lists import keep_list, load_list, not_named
from linemap.store.states import list_states


def test_taking_all_holds_away_is_a_change(database: Database, now: dt.datetime) -> None:
    with database.writing() as connection:
        keep_list(connection, HOLDS, [Hold(id="HE-1", structures=("9/2",))], now=now)
    with database.writing() as connection:
        (change,) = keep_list(connection, HOLDS, [], ends=True, now=now)
        assert change.words == "hold HE-1 removed"
    with database.reading() as connection:
        assert load_list(connection, HOLDS) == ()
        assert versions.load_data_version(connection) == 2


FIRST = [Hold(id=f"H-{number}", structures=(f"9/{number}",)) for number in range(1, 11)]
SECOND = [replace(FIRST[2], reason="nest"), Hold(id="H-11", structures=("9/1",))]


def test_holds_that_a_file_does_not_name_stay(database: Database, now: dt.datetime) -> None:
    with database.writing() as connection:
        assert keep_list(connection, HOLDS, FIRST, source_file="holds.csv", now=now) == ()
        names = not_named(connection, HOLDS, SECOND)
        changes = keep_list(connection, HOLDS, SECOND, source_file="holds_2.csv", now=now)
    assert names == tuple(f"hold H-{number}" for number in range(1, 11) if number != 3)
    assert [change.words for change in changes] == ["hold H-3 reason not given -> nest", "hold H-11 added"]
    with database.reading() as connection:
        older, newer = list_states(connection, "holds")
        assert (older.source_file, older.is_current, newer.is_current) == ("holds.csv", False, True)
        assert load_list(connection, HOLDS, state=older.id) == tuple(FIRST)
        assert load_list(connection, HOLDS) == (*FIRST[:2], SECOND[0], *FIRST[3:], SECOND[1])


def test_what_is_told_to_end_is_named_and_stays_readable(database: Database, now: dt.datetime) -> None:
    with database.writing() as connection:
        keep_list(connection, HOLDS, FIRST, now=now)
        changes = keep_list(connection, HOLDS, SECOND, ends=True, now=now)
    assert sorted(change.words for change in changes if change.change == "removed") == sorted(
        f"hold H-{number} removed" for number in range(1, 11) if number != 3
    )
    with database.reading() as connection:
        older, _ = list_states(connection, "holds")
        assert load_list(connection, HOLDS, state=older.id) == tuple(FIRST)
        assert load_list(connection, HOLDS) == tuple(SECOND)


def test_holds_of_two_lines_are_never_one_anothers(database: Database, now: dt.datetime) -> None:
    north, south = (Hold(id="H-1", line=line, structures=("9/1",)) for line in ("North", "South"))
    with database.writing() as connection:
        keep_list(connection, HOLDS, [north], now=now)
        keep_list(connection, HOLDS, [south], now=now)
        assert load_list(connection, HOLDS) == (north, south)
        keep_list(connection, HOLDS, [replace(south, line="", reason="nest")], now=now)
        assert load_list(connection, HOLDS) == (replace(south, line="", reason="nest"),)


def test_a_file_that_names_all_there_is_gives_their_order(database: Database, now: dt.datetime) -> None:
    turned = [*reversed(FIRST), SECOND[1]]
    with database.writing() as connection:
        keep_list(connection, HOLDS, FIRST, now=now)
        keep_list(connection, HOLDS, turned, now=now)
        assert load_list(connection, HOLDS) == tuple(turned)


def test_times_of_day_come_back_and_a_change_of_one_is_named(database: Database, now: dt.datetime) -> None:
    day = dt.date(2026, 9, 14)
    outage = Hold(id="HX-1", structures=("17/2",), from_date=day, from_time=dt.time(7), to_date=day)
    with database.writing() as connection:
        keep_list(connection, HOLDS, [replace(outage, to_time=dt.time(15))], now=now)
    with database.reading() as connection:
        assert load_list(connection, HOLDS) == (replace(outage, to_time=dt.time(15)),)
    with database.writing() as connection:
        (change,) = keep_list(connection, HOLDS, [replace(outage, to_time=dt.time(16, 30))], now=now)
    assert change.words == "hold HX-1 until (time) 15:00 -> 16:30"
