"""The guy schedule of the thirteen guyed structures: on the bisector at angles, in line at dead-ends.

Leads at 3/2 and 10/5 are those of the anchors surveyed there; the anchors ahead of 9/2 with their 45 ft lead
lie on the buried pipeline, which is why its drawing is being revised.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from route import LINE
from structures import Pole, Structure
from tables import Cell, write_csv

__all__ = ["write_guys"]

_HEADER = (
    "line",
    "structure",
    "guy",
    "direction",
    "side",
    "pole",
    "lead (ft)",
    "height (ft)",
    "lead to height",
    "remarks",
)
#: Bisector guys from the centre of the frame: structure -> lead, ground feet.
_SMALL_ANGLES = {"3/2": 52.0, "10/5": 54.0}
#: Lead of the guys of the transposition.
_TRANSPOSITION_LEAD = 45.0
#: Poles of three, looking ahead: the side each belongs to.
_SIDES = {"AB": {"A": "left", "B": "right"}, "ABC": {"A": "left", "B": "", "C": "right"}}


def _height(structure: Structure, pole: Pole) -> float:
    """Arm bolts above the ground at the pole set at its least depth, ground feet."""
    drop = 9.0 if structure.type_row.spacing < 14.0 else 10.0
    return round(pole.length - pole.minimum_depth - drop, 1)


def _row(structure: Structure, number: int, **given: Cell) -> tuple[Cell, ...]:
    cells: dict[str, Cell] = {"line": LINE, "structure": structure.number, "guy": f"G{number}", **given}
    return tuple(cells.get(name, "") for name in _HEADER)


def _small_angle(structure: Structure) -> Iterator[tuple[Cell, ...]]:
    height = _height(structure, structure.poles[0])
    lead = _SMALL_ANGLES[structure.number]
    given: dict[str, Cell] = {"direction": "bisector", "lead (ft)": lead, "height (ft)": height}
    yield _row(structure, 1, **given, remarks="lead from the centre hub")


def _suspension(structure: Structure) -> Iterator[tuple[Cell, ...]]:
    """Give a guy to the outer pole and one to the middle pole, both outside of the angle."""
    outer = structure.poles[-1 if structure.deflection < 0.0 else 0]
    for number, pole in enumerate((outer, structure.poles[1]), start=1):
        given: dict[str, Cell] = {"pole": pole.letter, "height (ft)": _height(structure, pole)}
        yield _row(structure, number, direction="bisector", **given, **{"lead to height": "1:1"})


def _in_line(structure: Structure, directions: tuple[str, ...]) -> Iterator[tuple[Cell, ...]]:
    """Give a guy to every pole for each direction its anchor lies in."""
    sides = _SIDES[structure.type_row.poles]
    number = 0
    for direction in directions:
        for pole in structure.poles:
            number += 1
            given: dict[str, Cell] = {"direction": direction, "side": sides[pole.letter], "pole": pole.letter}
            given["height (ft)"] = _height(structure, pole)
            if structure.type_code == "H-TRN":
                yield _row(structure, number, **given, **{"lead (ft)": _TRANSPOSITION_LEAD})
            else:
                yield _row(structure, number, **given, **{"lead to height": "1:1"})


def _of_structure(structure: Structure) -> Iterator[tuple[Cell, ...]]:
    if structure.type_code == "H-ANG":
        return _small_angle(structure)
    if structure.type_code == "P3-SUS":
        return _suspension(structure)
    if structure.type_code == "TERM":
        return _in_line(structure, ("back",) if structure.back_span is None else ("ahead",))
    return _in_line(structure, ("back", "ahead"))


def _rows(structures: list[Structure]) -> Iterator[tuple[Cell, ...]]:
    yield _HEADER
    for structure in structures:
        if structure.type_row.guyed:
            yield from _of_structure(structure)


def write_guys(folder: Path, structures: list[Structure]) -> None:
    """Write guys.csv."""
    write_csv(folder / "guys.csv", _rows(structures))
