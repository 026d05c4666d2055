"""The framing table."""

from __future__ import annotations

import datetime as dt

from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.framing.framing_type import DIMENSIONS, FramingEntry
from linemap.kinds.registry import FRAMING
from linemap.store import versions
from linemap.store.database import Database
from linemap.store.lists import keep_list, load_list

NOW = dt.datetime(2026, 5, 15, tzinfo=dt.UTC)

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)


@st.composite
def entries(draw: st.DrawFn) -> FramingEntry:
    numbers = [name for name, (measure, _) in DIMENSIONS.items() if measure in {"length", "percent"}]
    chosen = draw(st.booleans())
    return FramingEntry(
        code=draw(texts),
        dimension="brace bolting" if chosen else draw(st.sampled_from(numbers)),
        value=None if chosen else draw(st.floats(0.0, 250.0)),
        choice=draw(st.sampled_from(["centre", "inside face", "none"])) if chosen else "",
        drawing=draw(texts),
        source_row=draw(st.integers(0, 99)),
    )


@settings(max_examples=examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(first=st.lists(entries(), max_size=4), second=st.lists(entries(), max_size=4))
def test_a_new_table_takes_the_place_of_the_old_one(
    database: Database, first: list[FramingEntry], second: list[FramingEntry]
) -> None:
    for rows in (first, second):
        with database.writing() as connection:
            keep_list(connection, FRAMING, rows, now=NOW)
        with database.reading() as connection:
            assert load_list(connection, FRAMING) == tuple(rows)


def test_loading_a_table_is_a_change(database: Database) -> None:
    one = FramingEntry(code="H", dimension="arm drop", value=8.0, drawing="größe 1/2")
    with database.reading() as connection:
        version = versions.load_data_version(connection)
    with database.writing() as connection:
        keep_list(connection, FRAMING, [one], now=NOW)
    with database.reading() as connection:
        assert versions.load_data_version(connection) == version + 1
        assert load_list(connection, FRAMING) == (one,)
