"""Latitude and longitude pasted among grid coordinates."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from linemap.errors import InputRefused, Severity
from linemap.geometry.geodesy import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.structures import read_structures

Table = Callable[..., RawTable]
GRID = "Str,Northing,Easting\n1/1,900000,2250000\n1/3,900998.8,2251897.4\n"


def test_degrees_on_the_line_are_read_and_noted(table: Table, montana: Projection) -> None:
    lon, lat = (float(each) for each in montana.to_lonlat(2_250_948.75, 900_499.4))
    text = GRID + f"1/2,{lat:.9f},{lon:.9f}\n"
    loaded = read_structures(table(text), projection=montana)
    assert loaded.value.easting[2] == pytest.approx(2_250_948.75, abs=0.001)
    assert loaded.value.northing[2] == pytest.approx(900_499.4, abs=0.001)
    (note,) = loaded.problems
    assert (note.row, note.severity) == (4, Severity.NOTED)
    assert "read as WGS 84, good to 0.000182 ft as written; is that meant?" in note.reason


def test_few_decimals_are_said_to_be_coarse(table: Table, montana: Projection) -> None:
    loaded = read_structures(table(GRID + "1/2,46.7145,-108.3733\n"), projection=montana)
    assert "good to 18.2 ft as written" in loaded.problems[0].reason


@pytest.mark.parametrize(
    "row",
    [
        "1/2,-108.37338,46.71449",  # exchanged
        "1/2,12.71312,-108.37717",  # outside the area of use
        "1/2,47.9,-110.0",  # within it, and a hundred miles from the line
        "1/2,0,0",
    ],
)
def test_other_degrees_refuse_the_list(table: Table, montana: Projection, row: str) -> None:
    with pytest.raises(InputRefused, match="looks like longitude and latitude among grid coordinates"):
        read_structures(table(GRID + row + "\n"), projection=montana)
