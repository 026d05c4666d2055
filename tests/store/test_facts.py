"""Facts are added, each once, and the database itself refuses to change them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from linemap.domain.survey.fact import RecordedFact
from linemap.kinds.registry import FACTS as KIND
from linemap.store import versions
from linemap.store.database import Database
from linemap.store.lists import add_records, load_list

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
lengths = st.floats(-1e6, 1e6)

FACTS = st.builds(
    RecordedFact,
    line=texts,
    structure=st.sampled_from(["6/4", "12/3A"]),
    what=st.sampled_from(["brand", "ground wire", "arm face", "tag", "plumb", "arm level"]),
    pole=st.sampled_from(["A", "B", "C"]),
    pointed_by=st.sampled_from(["place", "label"]),
    length_ft=lengths,
    pole_class=texts,
    face=st.sampled_from(["ahead", "back"]),
    looking=st.sampled_from(["ahead", "back"]),
    side=st.sampled_from(["left", "right"]),
    lower_height=lengths,
    lower_along=lengths,
    lower_across=lengths,
    upper_height=lengths,
    upper_along=lengths,
    upper_across=lengths,
    pole_height=lengths,
    left_height=lengths,
    right_height=lengths,
    arm_length=lengths,
    who=texts,
    on=st.dates(dt.date(2026, 1, 1), dt.date(2026, 12, 31)),
    note=texts,
    source_row=st.integers(0, 9),
)
FACT = RecordedFact(
    structure="6/4",
    what="brand",
    pole="A",
    pointed_by="place",
    length_ft=70,
    who="Otter",
    on=dt.date(2026, 5, 7),
)
QUICK = settings(max_examples=examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])


@QUICK
@given(first=st.lists(FACTS, max_size=3), second=st.lists(FACTS, max_size=3))
def test_a_later_list_adds_and_takes_nothing_out(
    database: Database, first: list[RecordedFact], second: list[RecordedFact]
) -> None:
    with database.writing() as connection:
        before = load_list(connection, KIND)
        add_records(connection, KIND, first)
        add_records(connection, KIND, second)
        assert add_records(connection, KIND, [*first, *second]) == 0
    with database.reading() as connection:
        after = load_list(connection, KIND)
    assert after == tuple(dict.fromkeys([*before, *first, *second]))


def test_what_is_not_filled_comes_back_not_filled(database: Database) -> None:
    with database.writing() as connection:
        add_records(connection, KIND, [replace(FACT, source_row=7)])
        (again,) = load_list(connection, KIND)
    assert again == FACT
    assert (again.source_row, again.left_height, again.face) == (7, None, "")


def test_only_new_facts_are_a_change(database: Database) -> None:
    told = []
    for row in (2, 3):
        with database.writing() as connection:
            add_records(connection, KIND, [replace(FACT, source_row=row)])
        with database.reading() as connection:
            told.append(versions.load_data_version(connection))
    assert told[0] == told[1] == 1


@pytest.mark.parametrize("statement", ["DELETE FROM fact", "UPDATE fact SET length_ft = 75"])
def test_the_database_itself_keeps_what_was_seen(database: Database, statement: str) -> None:
    with database.writing() as connection:
        add_records(connection, KIND, [FACT])
    with pytest.raises(DBAPIError, match="only ever added"), database.writing() as connection:
        connection.execute(text(statement))


def test_a_row_cannot_be_put_in_the_place_of_another(database: Database) -> None:
    with database.writing() as connection:
        add_records(connection, KIND, [FACT])
        postgresql = connection.dialect.name == "postgresql"
    replacing = "TRUNCATE fact" if postgresql else "INSERT OR REPLACE INTO fact SELECT * FROM fact"
    with pytest.raises(DBAPIError, match="only ever added"), database.writing() as connection:
        connection.execute(text(replacing))
