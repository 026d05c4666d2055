"""The type table."""

from __future__ import annotations

from linemap.domain.design.structure_type import StructureType
from linemap.geometry.frame import ArmRule
from linemap.store import types
from linemap.store.database import Database

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
        types.replace_types(connection, [DEAD_END, TANGENT])
    with database.reading() as connection:
        back = types.load_types(connection)
    assert back == (DEAD_END, TANGENT)
    assert back[0].rule is ArmRule.SQUARE_TO_AHEAD


def test_a_new_table_takes_the_place_of_the_old_one(database: Database) -> None:
    with database.writing() as connection:
        types.replace_types(connection, [DEAD_END, TANGENT])
        types.replace_types(connection, [TANGENT])
        assert types.load_types(connection) == (TANGENT,)
        types.replace_types(connection, [])
        assert types.load_types(connection) == ()
