import datetime as dt
import math
from typing import Any

import pytest
from sqlalchemy import insert, select

from linemap.store import schema
from linemap.store.columns import insert_columns
from linemap.store.database import Database

SHOT: dict[str, Any] = {
    "point": "7",
    "easting": 0.1 + 0.2,
    "northing": 0.0,
    "elevation": math.nan,
    "description": "é 12/3 'A' %s :x",
    "structure": "12/3",
    "pole": "A",
    "item": "pole",
    "line": "N",
    "sigma": None,
    "observed_on": "",
    "file": "day.csv",
    "row": 7,
    "note": "",
}


def stored(database: Database, table: Any) -> list[tuple[Any, ...]]:
    """Return the rows of a table without their own number."""
    with database.reading() as connection:
        return [tuple(row)[1:] for row in connection.execute(select(table).order_by(table.c[0]))]


def test_rows_are_those_of_execute(database: Database) -> None:
    zone = dt.timezone(dt.timedelta(hours=-6))
    event: dict[str, Any] = {column.name: "x" for column in schema.event.c} | {
        "seq": 1,
        "happened_at": dt.datetime(2026, 5, 1, 8, 0, 0, 1, tzinfo=zone),
        "happened_offset_s": -21600,
        "received_at": dt.datetime(2026, 5, 1, 14, tzinfo=dt.UTC),
        "file_id": None,
        "row": 3,
        "longitude": -108.5,
        "latitude": None,
        "accuracy_m": None,
        "wind_speed_mph": 0.0,
        "wind_gust_mph": None,
        "skew_s": None,
        "photos": ["a", "b"],
    }
    with database.writing() as connection:
        connection.execute(insert(schema.event), event)
        again = {name: [value] for name, value in event.items()} | {"id": ["y"], "seq": [2]}
        assert insert_columns(connection, schema.event, again) == 1
    first, second = stored(database, schema.event)
    assert ("y", *first[1:]) == second


def test_a_number_that_is_none_is_null_and_texts_are_kept(database: Database) -> None:
    columns = {name: [value] for name, value in SHOT.items()}
    with database.writing() as connection:
        insert_columns(connection, schema.shot, columns, same={"file_id": None})
    (row,) = stored(database, schema.shot)
    assert row == (None, *(None if name == "elevation" else value for name, value in SHOT.items()))


@pytest.mark.parametrize("count", [0, 1, 10_000, 10_001])
def test_any_number_of_rows_is_stored_in_order(database: Database, count: int) -> None:
    columns: dict[str, Any] = {name: [value] * count for name, value in SHOT.items()}
    columns["row"] = list(range(count))
    with database.writing() as connection:
        assert insert_columns(connection, schema.shot, columns, same={"file_id": None}) == count
    with database.reading() as connection:
        rows = connection.scalars(select(schema.shot.c["row"]).order_by(schema.shot.c.id))
        assert list(rows) == list(range(count))


def test_columns_of_several_lengths_are_refused(database: Database) -> None:
    with (
        database.writing() as connection,
        pytest.raises(ValueError, match=r"vertex differ in length: \[1, 2\]"),
    ):
        insert_columns(connection, schema.metadata.tables["vertex"], {"seq": [1, 2], "easting": [1.0]})


def test_nothing_stays_of_a_transaction_that_fails(database: Database) -> None:
    columns = {name: [value] * 3 for name, value in SHOT.items()}

    def fail() -> None:
        with database.writing() as connection:
            insert_columns(connection, schema.shot, columns, same={"file_id": None})
            raise RuntimeError("stop")

    with pytest.raises(RuntimeError, match="stop"):
        fail()
    assert stored(database, schema.shot) == []
