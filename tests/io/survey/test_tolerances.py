from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.domain.design.tolerance import Tolerances
from linemap.errors import InputRefused, Severity
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.kinds.registry import TOLERANCES
from linemap.units import LengthUnit

Table = Callable[..., RawTable]


def test_a_table_of_tolerances(table: Table) -> None:
    text = (
        "Name,Value,Unit,Source\nrotation,0.3,deg,job specification 4.2\nPole spacing,±0.1,ft,4.3\n"
        "shot sigma,0.01,m,\nconfidence,90%,,\nplumb,0.75,in per 10 ft,4.4\narm_level,1.5,in,4.5\n"
    )
    loaded = read_rows(table(text), TOLERANCES, unit=LengthUnit.FOOT)
    tolerances = Tolerances.from_entries(loaded.value, LengthUnit.FOOT)
    assert (tolerances.rotation_deg.value, tolerances.rotation_deg.source) == (0.3, "job specification 4.2")
    assert tolerances.spacing.value == 0.1
    assert tolerances.shot_sigma == pytest.approx(0.01 / 0.3048)
    assert tolerances.confidence == 0.9
    assert (tolerances.plumb.value, tolerances.arm_level.value) == (0.75, 1.5)


def test_json_values_without_a_unit_are_in_the_ground_unit_and_noted(table: Table) -> None:
    raw = table('{"rotation_deg": 0.3, "across": 0.2, "shot_sigma": 0.02}', name="t.json")
    loaded = read_rows(raw, TOLERANCES, unit=LengthUnit.METRE)
    tolerances = Tolerances.from_entries(loaded.value, LengthUnit.METRE)
    assert (tolerances.across.value, tolerances.across.unit, tolerances.shot_sigma) == (0.2, "m", 0.02)
    assert {problem.severity for problem in loaded.problems} == {Severity.NOTED}
    assert len(loaded.problems) == 2


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("across,0.25,", "no unit of tolerance across"),
        ("across,0.25,parsec", "'parsec' is no unit"),
        ("across,wide,ft", "not a number"),
        ("across,nan,ft", "not a finite number"),
        ("across,1,ft\nAcross,2,ft", "stands twice"),
    ],
)
def test_tolerances_that_could_mean_something_else_are_refused(table: Table, row: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_rows(table(f"name,value,unit\n{row}\n"), TOLERANCES, unit=LengthUnit.FOOT)
