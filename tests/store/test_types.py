"""The type table."""

from __future__ import annotations

import datetime as dt

from linemap.domain.design.structure import StructureType
from linemap.geometry.frame import ArmRule
from linemap.kinds.registry import TYPES
from linemap.store.database import Database
from linemap.store.lists import keep_list, load_list

NOW = dt.datetime(2026, 5, 15, tzinfo=dt.UTC)

DEAD_END = StructureType(
    code="P3-DE",
    words="three-pole dead-end, größer",
    pole_count=3,
    spacing=15.5,
    rule=ArmRule.SQUARE_TO_AHEAD,
    section_break=True,
    blocks=0,
    weight=3.25,
)
TANGENT = StructureType(code="H-TAN")


def test_types_come_back_as_they_were_in_their_order(database: Database) -> None:
    with database.writing() as connection:
        keep_list(connection, TYPES, [DEAD_END, TANGENT], now=NOW)
    with database.reading() as connection:
        back = load_list(connection, TYPES)
    assert back == (DEAD_END, TANGENT)
    assert back[0].rule is ArmRule.SQUARE_TO_AHEAD


def test_a_new_table_takes_the_place_of_the_old_one(database: Database) -> None:
    with database.writing() as connection:
        keep_list(connection, TYPES, [DEAD_END, TANGENT], now=NOW)
        keep_list(connection, TYPES, [TANGENT], now=NOW)
        assert load_list(connection, TYPES) == (TANGENT,)
        keep_list(connection, TYPES, [], now=NOW)
        assert load_list(connection, TYPES) == ()
