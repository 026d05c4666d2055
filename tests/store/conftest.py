"""Jobs with a line in them, and everything a job holds, for comparing before and after."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from sqlalchemy import select

from linemap.domain.design.line import Centreline
from linemap.domain.design.structure import Structures
from linemap.store import lines, schema
from linemap.store.database import Database

NOW = dt.datetime(2026, 5, 15, 20, 30, 1, 250_003, tzinfo=dt.UTC)


@pytest.fixture
def now() -> dt.datetime:
    """The moment at which everything in these tests is loaded."""
    return NOW


@pytest.fixture
def line_id(database: Database) -> int:
    """A line of three vertices in a foot projection."""
    with database.writing() as connection:
        made = lines.add_line(connection, name="North", crs="EPSG:6515")
        points = np.array([[1000.0, 2000.0], [4000.0, 2000.0], [4000.0, 5000.0]])
        lines.save_centreline(connection, made, Centreline.from_points(points), now=NOW)
    return made


@pytest.fixture
def content(database: Database) -> Callable[[], dict[str, list[Any]]]:
    """Read everything in the job, table by table."""

    def read() -> dict[str, list[Any]]:
        with database.reading() as connection:
            return {
                table.name: [
                    tuple(row) for row in connection.execute(select(table).order_by(*table.primary_key))
                ]
                for table in schema.metadata.sorted_tables
            }

    return read


@pytest.fixture
def same_structures() -> Callable[[Structures, Structures], None]:
    """Check two lists value by value, nan equal to nan, types included."""

    def check(left: Structures, right: Structures) -> None:
        for name in Structures.__dataclass_fields__:
            one, other = getattr(left, name), getattr(right, name)
            if name == "source_file":
                assert one == other
                continue
            assert one.dtype == other.dtype, name
            np.testing.assert_array_equal(one, other, err_msg=name)

    return check
