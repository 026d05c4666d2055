from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.errors import InputRefused, Severity
from linemap.io.cells.table import RawTable
from linemap.io.design.crossings import read_crossings
from linemap.units import LengthUnit

Table = Callable[..., RawTable]
HEADS = "What,Owner,Station,True (ft),Span,Voltage (kV),Rule,Energized\n"


def test_a_list_becomes_crossings(table: Table) -> None:
    text = (
        HEADS + 'State Route 918,State,204+40.00,"20,440",4/5-4/6,,guard structures,no\n'
        "Hobnail-Crane 230 kV,,871+84.50 (R2),,17/2-17/3,,outage,\n"
        "12.47 kV along the road,,,20510,,12.47,,yes\n"
        "old tap,,1+00,,,69,,no\n"
    )
    loaded = read_crossings(table(text), unit=LengthUnit.FOOT, line_default="N")
    road, wire, road_wire, tap = loaded.value
    assert (road.true_distance, road.back_structure, road.ahead_structure) == (20440.0, "4/5", "4/6")
    assert (road.energized, road.rule, road.row, road.line) == (False, "guard structures", 2, "N")
    assert (wire.voltage_kv, wire.energized, wire.place) == (230.0, True, "span 17/2-17/3")
    assert (road_wire.voltage_kv, road_wire.energized) == (12.47, True)
    assert (tap.energized, tap.place) == (False, "station 1+00")


def test_doubtful_words_are_taken_as_energized(table: Table) -> None:
    loaded = read_crossings(table(HEADS + "tap,,1+00,,,,,ask\ntap 2,,2+00,,,,,live\n"), unit=LengthUnit.FOOT)
    assert [crossing.energized for crossing in loaded.value] == [True, True]
    assert [(p.row, p.severity) for p in loaded.problems] == [(2, Severity.NOTED)]


def test_true_distances_are_converted(table: Table) -> None:
    raw = table("what,true (m)\ngas,304.8\n")
    assert read_crossings(raw, unit=LengthUnit.FOOT).value[0].true_distance == pytest.approx(1000.0)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("gas,,,,,,,", "has no place"),
        ("gas,,,far,,,,", "not a number"),
        ("gas,,,,9/2,,,", "a span lies between two structures"),
        ("wire,,1+00,,,high,,", "not a number"),
        ("wire,,1+00,,,-5,,", "no voltage"),
    ],
)
def test_a_crossing_that_cannot_be_placed_refuses_the_list(table: Table, row: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_crossings(table(HEADS + row + "\n"), unit=LengthUnit.FOOT)
