"""Records as rows: lists that are replaced whole, and records that are added once."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from linemap.domain.design.crossing import Crossing
from linemap.store import schema
from linemap.store.database import Database
from linemap.store.rows import columns_of, replace_rows, row_of, rows_in_order

CROSSING = columns_of(Crossing)
QUICK = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@dataclass(frozen=True)
class Reading:
    name: str
    height: float


def test_what_is_not_given_is_null() -> None:
    columns = columns_of(Reading, named={"height": "height_ft"})
    assert row_of(Reading("a", float("nan")), columns) == {"name": "a", "height_ft": None}
    assert row_of(Reading("a", 0.0), columns) == {"name": "a", "height_ft": 0.0}


@QUICK
@given(first=st.lists(st.integers(0, 9), max_size=4), second=st.lists(st.integers(0, 9), max_size=4))
def test_the_last_list_stands_alone_and_in_its_order(
    database: Database, first: list[int], second: list[int]
) -> None:
    for counts in (first, second):
        with database.writing() as connection:
            rows = (row_of(Crossing(line="N", what="road", row=count), CROSSING) for count in counts)
            replace_rows(connection, schema.crossing, rows, file_id=None)
    with database.reading() as connection:
        found = list(rows_in_order(connection, schema.crossing, CROSSING))
        places = connection.scalars(select(schema.crossing.c.seq).order_by(schema.crossing.c.seq)).all()
    assert [row["row"] for row in found] == second
    assert list(places) == list(range(len(second)))
