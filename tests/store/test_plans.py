"""Plans in the job: frozen under their revision, on both databases."""

from __future__ import annotations

import datetime as dt

import pytest

from linemap.domain.schedule.plan import Baseline
from linemap.errors import Conflict
from linemap.kinds.registry import PLANS
from linemap.store.database import Database
from linemap.store.lists import add_records, load_list

FIRST = Baseline(
    line="North",
    frozen_on=dt.date(2026, 3, 2),
    weeks=(dt.date(2026, 3, 23), dt.date(2026, 3, 30)),
    planned=(4, 11),
)
SECOND = Baseline(line="North", revision="1", planned=(5,))


def test_plans_come_back_as_they_were(database: Database) -> None:
    with database.writing() as connection:
        add_records(connection, PLANS, [FIRST, SECOND])
    with database.reading() as connection:
        assert load_list(connection, PLANS) == (FIRST, SECOND)


def test_the_same_plan_again_changes_nothing(database: Database) -> None:
    for _ in range(2):
        with database.writing() as connection:
            add_records(connection, PLANS, [FIRST])
    with database.reading() as connection:
        assert load_list(connection, PLANS) == (FIRST,)


def test_a_baseline_is_frozen(database: Database) -> None:
    moved = Baseline(line="North", frozen_on=dt.date(2026, 3, 2), weeks=FIRST.weeks, planned=(4, 12))
    with database.writing() as connection:
        add_records(connection, PLANS, [FIRST])
    with (
        pytest.raises(
            Conflict,
            match=r"^baseline plan North set 0 is there already; .* give a new plan a revision of its own",
        ),
        database.writing() as connection,
    ):
        add_records(connection, PLANS, [SECOND, moved])
    with database.reading() as connection:
        assert load_list(connection, PLANS) == (FIRST,), "nothing of the file is kept"
