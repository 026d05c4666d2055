"""Holds: the list as a whole."""

from __future__ import annotations

import datetime as dt

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.crew.hold import Hold
from linemap.store import holds, versions
from linemap.store.database import Database

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
named = texts.filter(str.strip)
numbers = st.sampled_from(["", "9/2", "12/3A", "47"])
days = st.none() | st.dates()


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    listed=st.lists(
        st.builds(
            Hold,
            id=named,
            line=texts,
            structures=st.lists(texts, max_size=3).map(tuple),
            from_structure=numbers,
            to_structure=numbers,
            activities=st.lists(named, min_size=1, max_size=3).map(tuple),
            from_date=st.none() | st.dates(max_value=dt.date(2026, 1, 1)),
            to_date=st.none() | st.dates(min_value=dt.date(2026, 1, 1)),
            condition=texts,
            reason=texts,
            restricted=st.booleans(),
            set_by=texts,
            release_by=texts,
            released_on=days,
        ),
        max_size=4,
    )
)
def test_every_value_comes_back_and_takes_the_place_of_what_was(
    database: Database, listed: list[Hold]
) -> None:
    with database.writing() as connection:
        holds.replace_holds(connection, listed)
    with database.reading() as connection:
        assert holds.load_holds(connection) == tuple(listed)


def test_taking_all_holds_away_is_a_change(database: Database) -> None:
    with database.writing() as connection:
        holds.replace_holds(connection, [Hold(id="HE-1", structures=("9/2",))])
    with database.writing() as connection:
        holds.replace_holds(connection, [])
    with database.reading() as connection:
        assert holds.load_holds(connection) == ()
        assert versions.load_data_version(connection) == 2
