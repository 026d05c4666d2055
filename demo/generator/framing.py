"""The owner's framing table: dimensions of every structure type with invented drawing numbers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from structures import TYPES, TypeRow
from tables import Cell, write_csv

__all__ = ["write_framing"]

_HEADER = ("Type", "Dimension", "Value", "Unit", "Drawing")
#: Type -> number of its framing drawing.
_DRAWINGS = {
    "H-TAN": "FT-1110",
    "H-LONG": "FT-1120",
    "H-ANG": "FT-1130",
    "P3-SUS": "FT-1310",
    "P3-DE": "FT-1320",
    "H-DDE": "FT-1140",
    "H-TRN": "FT-1150",
    "TERM": "FT-1160",
}
#: Pole spacing -> length of the brace that makes about 45 degrees, bolt to bolt.
_BRACES = {12.5: "17'-6\"", 14.0: "19'-9\""}
#: Types whose brace bolts stand on the inside faces, with the pole diameter there.
_ON_FACES = {"H-LONG": ("18'-3\"", 1.25)}


def _dimensions(row: TypeRow) -> Iterator[tuple[str, Cell, str, str]]:
    """Give dimension, value, unit and sheet of the drawing."""
    yield "Shield wire drop", "0'-6\"", "", "1"
    yield "Arm drop", 9.0 if row.spacing < 14.0 else 10.0, "ft", "1"
    yield "Minimum drop", 12, "in", "1"
    yield from _braces(row)
    yield "Embedment percent", 10, "%", "3"
    yield "Embedment add", 2.0, "ft", "3"
    yield "Rake", 0, "deg", "3"
    yield "Conductor blocks", 3, "", "4"
    yield "Shield-wire blocks", 2, "", "4"
    yield "Count of crossarm", 2, "", "1"


def _braces(row: TypeRow) -> Iterator[tuple[str, Cell, str, str]]:
    if len(row.poles) == 3:
        yield "Brace bolting", "none", "", "2"
        return
    length, diameter = _ON_FACES.get(row.code, (_BRACES[row.spacing], None))
    yield "Upper brace drop", "12'-0\"", "", "2"
    yield "Brace length", length, "", "2"
    yield "Brace spacing", row.spacing, "ft", "2"
    yield "Brace bolting", "through centre" if diameter is None else "inside faces", "", "2"
    if diameter is not None:
        yield "Pole diameter", diameter, "ft", "2"


def _rows() -> Iterator[tuple[Cell, ...]]:
    yield _HEADER
    for row in TYPES.values():
        for dimension, value, unit, sheet in _dimensions(row):
            yield row.code, dimension, value, unit, f"{_DRAWINGS[row.code]} sh {sheet}"


def write_framing(folder: Path) -> None:
    """Write framing_types.csv."""
    write_csv(folder / "framing_types.csv", _rows())
