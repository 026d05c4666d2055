from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.domain.design.structure import StructureType
from linemap.errors import InputRefused
from linemap.geometry.frame import ArmRule
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import TYPES
from linemap.units import LengthUnit

Table = Callable[..., RawTable]
HEADS = "Type,Words,Poles,Spacing (ft),Arm rule,Blocks,Weight\n"


def test_a_type_table(table: Table) -> None:
    text = HEADS + (
        "H-TAN,tangent H,2,12.5,square to line,5,1.0\nP3-DE,three-pole dead-end,3,16,bisector,10,3.5\n"
        "H-X,,,,,,\nTotal,121,,,,,\n"
    )
    loaded = read_rows(table(text), TYPES, unit=LengthUnit.METRE)
    tangent, deadend, bare = loaded.value
    assert tangent == StructureType(
        code="H-TAN", words="tangent H", spacing=12.5 * 0.3048, rule=ArmRule.BISECTOR, blocks=5
    )
    assert (deadend.pole_count, deadend.section_break, deadend.weight) == (3, True, 3.5)
    assert bare == StructureType(code="H-X")
    assert loaded.rows_left_out == (5,)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("H,a,2,12.5,bisector,5,1\nH,b,2,12.5,bisector,5,1\n", "type H stands twice, in rows 2 and 3"),
        ("H,a,5,12.5,bisector,5,1\n", "2 or 3 poles"),
        ("H,a,2,12.5,sideways,5,1\n", "no arm rule"),
        ("H,a,2,12.5,bisector,some,1\n", "not a number"),
        ("H,a,2,12.5,bisector,5,0\n", "a weight is above 0"),
        ("H,a,2,12.5,bisector,-5,1\n", "no whole count"),
        (",,,,,,\n", "no row of the file"),
    ],
)
def test_tables_that_would_mislead_are_refused(table: Table, rows: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_rows(table(HEADS + rows), TYPES, unit=LengthUnit.FOOT)
