"""Guy schedules: kept by line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.design.guy import Guy
from linemap.kinds.registry import GUYS
from linemap.store import versions
from linemap.store.database import Database
from linemap.store.lists import keep_list, load_list

NOW = dt.datetime(2026, 5, 15, tzinfo=dt.UTC)

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
lengths = st.none() | st.floats(0.1, 200.0)


@st.composite
def some_guys(draw: st.DrawFn) -> Guy:
    kind = draw(st.sampled_from(["bisector", "back", "ahead", "azimuth"]))
    return Guy(
        line=draw(st.sampled_from(["North", "South"])),
        structure=draw(texts),
        id=draw(texts),
        kind=kind,
        side=draw(st.sampled_from(["", "left", "right"])),
        pole=draw(st.sampled_from(["", "A", "C"])),
        lead=draw(lengths),
        height=draw(lengths),
        ratio=draw(lengths),
        azimuth_deg=draw(st.floats(0.0, 359.0)) if kind == "azimuth" else None,
        remarks=draw(texts),
        source_row=draw(st.integers(0, 9)),
    )


def by_line(guys: Iterable[Guy]) -> dict[str, list[Guy]]:
    found: dict[str, list[Guy]] = {}
    for guy in guys:
        found.setdefault(guy.line, []).append(guy)
    return found


@settings(max_examples=examples(20), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(first=st.lists(some_guys(), max_size=4), second=st.lists(some_guys(), max_size=4))
def test_a_new_schedule_takes_the_place_of_its_own_lines_only(
    database: Database, first: list[Guy], second: list[Guy]
) -> None:
    with database.writing() as connection:
        before = load_list(connection, GUYS)
        keep_list(connection, GUYS, first, now=NOW)
        keep_list(connection, GUYS, second, now=NOW)
    kept = [guy for guy in before if guy.line not in {one.line for one in first}] + first
    expected = [guy for guy in kept if guy.line not in {one.line for one in second}] + second
    with database.reading() as connection:
        found = load_list(connection, GUYS)
    assert by_line(found) == by_line(expected)


def test_a_schedule_is_a_change_and_an_empty_one_is_none(database: Database) -> None:
    one = Guy(line="North", structure="5/5", id="G1", kind="bisector", lead=45.0)
    with database.reading() as connection:
        version = versions.load_data_version(connection)
    for schedule, grown in (([one], 1), ([], 1)):
        with database.writing() as connection:
            keep_list(connection, GUYS, schedule, now=NOW)
        with database.reading() as connection:
            assert versions.load_data_version(connection) == version + grown
            assert load_list(connection, GUYS) == (one,)
