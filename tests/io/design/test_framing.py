from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.domain.framing.framing_type import FramingEntry, framing_types
from linemap.errors import InputRefused, Severity
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.io.source.read import recognise
from linemap.kinds.registry import FRAMING
from linemap.units import LengthUnit

Table = Callable[..., RawTable]
HEADS = "Type,Dimension,Value,Unit,Drawing\n"
FOOT = LengthUnit.FOOT


def lengths(table: RawTable, unit: LengthUnit = FOOT) -> dict[str, float | None]:
    return {entry.dimension: entry.value for entry in read_rows(table, FRAMING, unit=unit).value}


def test_a_framing_table(table: Table) -> None:
    text = HEADS + (
        "H-TAN,Arm drop,8.0,ft,FT-112 sh 1\nH-TAN,Brace bolting,through center,,FT-115\n"
        "H-TAN,Embedment percent,10,%,FT-101\nH-TAN,Conductor blocks,3,,FT-150\n"
        "H-TAN,Rake,3,deg,FT-101\nH-TAN,Count of arm 28 ft,2,,FT-112 sh 1\nH-TAN,Minimum drop,,ft,\n"
    )
    raw = table(text)
    assert recognise(raw) == "framing"
    loaded = read_rows(raw, FRAMING, unit=FOOT)
    assert loaded.value[0] == FramingEntry(
        code="H-TAN", dimension="arm drop", value=8.0, drawing="FT-112 sh 1", source_row=2
    )
    tangent = framing_types(loaded.value)["H-TAN"]
    assert (tangent.bolting, tangent.number("embedment percent"), tangent.blocks) == ("centre", 10.0, 3)
    assert (tangent.rake_deg("A"), dict(tangent.pieces)) == (3.0, {"arm 28 ft": 2})
    # a dimension without a value stays not given, and the row is listed
    assert tangent.missing("minimum drop") == ("minimum drop",)
    assert loaded.rows_left_out == (8,)


@pytest.mark.parametrize(
    ("value", "unit", "feet"),
    [
        ("8", "ft", 8.0),
        ("96", "in", 8.0),
        ("8.5 ft", "", 8.5),
        ('96"', "", 8.0),
        ("8'-6\"", "", 8.5),
        ("8'-6 1/2\"", "", 8.0 + 6.5 / 12.0),
        ("2.4384", "m", 8.0),
        ("2438.4", "mm", 8.0),
    ],
)
def test_lengths_as_drawings_write_them(table: Table, value: str, unit: str, feet: float) -> None:
    doubled = value.replace('"', '""')
    raw = table(HEADS + f'H,Arm drop,"{doubled}",{unit},D-1\n')
    assert lengths(raw)["arm drop"] == pytest.approx(feet, abs=1e-9)
    assert lengths(raw, LengthUnit.METRE)["arm drop"] == pytest.approx(feet * 0.3048, abs=1e-9)


def test_the_unit_of_the_heading_holds_for_the_column(table: Table) -> None:
    assert lengths(table("Type,Dimension,Value (m),Drawing\nH,Arm drop,2.4384,D\n"))["arm drop"] == (
        pytest.approx(8.0)
    )


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("H,Arm drop,8,,D\n", "a length without a unit"),
        ("H,Arm drop,8,kV,D\n", "no length unit"),
        (
            "H,Arm drop,8,ft,D\nH,Brace length,5.3,m,D\n",
            "H mixes units: feet or inches in row 2, metres here",
        ),
        ("H,Arm depth,8,ft,D\n", "no dimension linemap knows; use one of shield wire drop"),
        ("H,Arm drop,eight,ft,D\n", "not a number"),
        ("H,Arm drop,-8,ft,D\n", "is not between 0 and 250"),
        ("H,Brace bolting,sideways,,D\n", "no way braces are bolted"),
        ("H,Rake,30,deg,D\n", "is no rake"),
        ("H,Rake,3,ft,D\n", "which is no angle"),
        ("H,Conductor blocks,2.5,,D\n", "no whole number"),
        ("H,Arm drop,8,ft,D\nH,Top to arm,9,ft,D\n", "arm drop of H stands twice, in rows 2 and 3"),
        (",Arm drop,8,ft,D\n", "the type code is missing"),
        (",,,,\n", "no row of the file"),
        ("H,Arm drop,,ft,D\n", "no row of the file"),
    ],
)
def test_tables_that_would_be_drilled_wrong_are_refused(table: Table, rows: str, words: str) -> None:
    with pytest.raises(InputRefused) as refusal:
        read_rows(table(HEADS + rows, kind="framing"), FRAMING, unit=FOOT)
    assert words in str(refusal.value)
    refused = [problem for problem in refusal.value.problems if problem.severity is Severity.REFUSED]
    assert len(refused) == 1


def test_types_of_different_systems_stand_in_one_table(table: Table) -> None:
    loaded = read_rows(table(HEADS + "H,Arm drop,8,ft,D\nX,Arm drop,2.4384,m,D\n"), FRAMING, unit=FOOT)
    assert [entry.value for entry in loaded.value] == pytest.approx([8.0, 8.0])


def test_a_dimension_without_a_drawing_is_noted_and_used(table: Table) -> None:
    loaded = read_rows(table(HEADS + "H,Arm drop,8,ft,\n"), FRAMING, unit=FOOT)
    (note,) = loaded.problems
    assert note.severity is Severity.NOTED
    assert note.reason == "arm drop of H names no drawing"
    assert loaded.value[0].drawing == ""
