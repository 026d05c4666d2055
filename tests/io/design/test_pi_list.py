"""PI lists: vertices, equations in rows of their own, and what disagrees with the coordinates."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.domain.design.line import StationEquation
from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.pi_list import PiList, equation_in_text, read_pi_list
from linemap.units import LengthUnit

Table = Callable[..., RawTable]
FACTOR = 0.999217
HEAD = "PI,Sta Bk,Sta Ah,N,E,Delta,Brg Ah,Dist Ah,Remarks\n"
# the invented line's first vertices; distances are ground, coordinates grid
POB = "POB,,0+00.00,900000.00,2250000.00,,N 62-14-20 E,11840.00,\n"
PI_1 = "1,118+40.00,118+40.00,905510.59,2260468.98,3°12'40\" RT,N65°27'00\"E,14210.00,\n"
PI_2 = "2,260+50.00,,911410.04,2273384.26,18-45-10 LT,N46-41-50E,9655.50,\n"
PI_3 = "3,357+05.50,357+05.50,918027.11,2280405.45,,,,\n"


def read(table: Table, rows: str, projection: Projection, factor: float | None = FACTOR) -> Loaded[PiList]:
    raw = table(HEAD + rows, kind="centreline")
    return read_pi_list(raw, projection=projection, line_default="N", combined_factor=factor)


def notes(loaded: Loaded[PiList]) -> list[tuple[int | None, str, str]]:
    return [(p.row, p.column, p.reason) for p in loaded.problems if p.severity is Severity.NOTED]


def test_a_list_that_agrees_says_only_that_its_distances_are_ground(
    table: Table, montana: Projection
) -> None:
    loaded = read(table, POB + PI_1 + PI_2 + PI_3, montana)
    assert loaded.value.centrelines["N"].names == ("POB", "1", "2", "3")
    assert loaded.value.equations == ()
    assert (loaded.rows_in, loaded.rows_used) == (4, 4)
    ((row, column, words),) = notes(loaded)
    assert (row, column) == (2, "Dist Ah")
    assert words == (
        "distances are ground: grid / distance = 0.999217 on 3 legs; the declared factor is 0.999217"
    )


@pytest.mark.parametrize(
    "row",
    [
        "EQ,470+00.00 BK,473+84.50 AH,,,,,,\n",
        "EQ-1,470+00,473+84.50,,,,,,\n",
        "EQ,473+84.50 AH,470+00.00 BK,,,,,,\n",
        "EQ,470+00.00 BK = 473+84.50 AH,,,,,,,\n",
        "STA EQ,,,,,,,,EQ 470+00.00 BK = 473+84.50 AH\n",
        ",,,,,,,,470+00 BK = 473+84.50 AH\n",
        "EQ,,,,,,,,Sta 473+84.50 Ah = Sta 470+00 Bk\n",
    ],
)
def test_equation_rows_are_equations(table: Table, montana: Projection, row: str) -> None:
    loaded = read(table, POB + PI_1 + row + PI_2, montana)
    assert loaded.value.equations == (StationEquation(line="N", back=47000.0, ahead=47384.5),)
    assert len(loaded.value.centrelines["N"].easting) == 3
    assert (loaded.rows_in, loaded.rows_used) == (4, 4)


def test_a_vertex_with_two_stations_is_an_equation_too(table: Table, montana: Projection) -> None:
    loaded = read(table, POB + PI_1.replace("118+40.00,118+40.00", "118+40.00,120+00.00") + PI_2, montana)
    assert loaded.value.equations == (StationEquation(line="N", back=11840.0, ahead=12000.0),)
    assert (3, "Sta Bk", "the two stations differ: a station equation at the vertex") in notes(loaded)


def test_an_equation_that_cannot_be_read_refuses_the_list(table: Table, montana: Projection) -> None:
    with pytest.raises(InputRefused, match=r"row 3, PI \"EQ\": a station equation whose two stations"):
        read(table, POB + "EQ,470+00,,,,,,,\n" + PI_1, montana)


def test_a_vertex_by_bearing_and_distance_alone_is_refused_with_words(
    table: Table, montana: Projection
) -> None:
    rows = POB + "1,118+40.00,118+40.00,,,,N65°27'00\"E,14210.00,\n" + PI_2
    words = "vertex 1 has no coordinates, only a bearing and distance; a position is not made up"
    with pytest.raises(InputRefused, match=words):
        read(table, rows, montana)


def test_what_disagrees_is_noted_with_both_values(table: Table, montana: Projection) -> None:
    rows = (
        POB
        + PI_1.replace("65°27'00", "65°27'09").replace("RT", "LT")
        + PI_2.replace("9655.50", "9665.50")
        + PI_3
    )
    found = {column: words for _, column, words in notes(read(table, rows, montana)) if "ground" not in words}
    assert '65°27\'09" E, the coordinates say N 65°27\'00" E: 9" apart' in found["Brg Ah"]
    assert "says 3°12'40\" L, the coordinates say 3°12'40\" R" in found["Delta"]
    assert found["Dist Ah"].startswith("says 9,665.50, the coordinates say 9,655.5")
    assert found["Dist Ah"].endswith("+10.00")


def test_packed_deflections_are_settled_by_the_coordinates_and_said(
    table: Table, montana: Projection
) -> None:
    rows = POB + PI_1 + PI_2.replace("18-45-10 LT", "18.4510 L") + PI_3
    ((_, _, words),) = [note for note in notes(read(table, rows, montana)) if note[1] == "Delta"]
    assert words == ("may be 18°45'10\" L (packed) or 18°27'04\" L (decimal); the coordinates say the first")


def test_grid_distances_are_no_finding(table: Table, montana: Projection) -> None:
    head = "PI,N,E,Dist\n"
    raw = table(head + "A,900000,2250000,1000.00\nB,901000,2250000,\n", kind="centreline")
    assert read_pi_list(raw, projection=montana).problems == ()


def test_back_bearings_have_their_own_column(table: Table, montana: Projection) -> None:
    text = (
        "PI,N,E,Back Bearing,Ahead Bearing\nA,900000,2250000,,N\nB,901000,2250000,N,E\nC,901000,2251000,N,\n"
    )
    ((row, column, words),) = notes(read_pi_list(table(text, kind="centreline"), projection=montana))
    assert (row, column) == (4, "Back Bearing")
    assert "the coordinates say N 90°00'00\" E" in words


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        ("470+00.00 BK = 473+84.50 AH", (47000.0, 47384.5)),
        ("at 473+84.50 AH=470+00.00 BK see dwg", (47000.0, 47384.5)),
        ("470+00 = 473+84.50", (47000.0, 47384.5)),
        ("470+00 BK", None),
        ("470+000 = 473+84.50", None),
    ],
)
def test_equations_in_texts(text: str, pair: tuple[float, float] | None) -> None:
    assert equation_in_text(text, unit=LengthUnit.FOOT) == pair
