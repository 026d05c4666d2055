"""What crews saw and measured at structures, as second evidence and as plumb readings.

The brands of 6/4 show that its frame stands turned; nothing is recorded at 2/3, which stays open.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from route import LINE
from tables import Cell, write_csv

__all__ = ["write_facts"]

_HEADER = (
    "line",
    "structure",
    "what",
    "pole",
    "pointed by",
    "length (ft)",
    "class",
    "face",
    "looking",
    "side",
    "lower height",
    "lower along",
    "lower across",
    "upper height",
    "upper along",
    "upper across",
    "pole height",
    "left",
    "right",
    "arm length",
    "seen by",
    "date",
    "note",
)
#: Heading -> cell, of each fact; pole A belongs left, looking ahead.
_FACTS: tuple[dict[str, Cell], ...] = (
    {
        "structure": "6/4",
        "what": "brand",
        "pole": "B",
        "pointed by": "place",
        "length (ft)": 75,
        "note": "right-hand pole looking ahead",
    },
    {
        "structure": "6/4",
        "what": "brand",
        "pole": "A",
        "pointed by": "place",
        "length (ft)": 70,
        "note": "left-hand pole looking ahead",
    },
)
_SEEN: dict[str, Cell] = {"line": LINE, "seen by": "Four Tines", "date": "2026-05-07"}


def _rows() -> Iterator[tuple[Cell, ...]]:
    yield _HEADER
    for fact in _FACTS:
        cells = {**_SEEN, **fact}
        yield tuple(cells.get(name, "") for name in _HEADER)


def write_facts(folder: Path) -> None:
    """Write facts.csv."""
    write_csv(folder / "facts.csv", _rows())
