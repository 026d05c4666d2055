"""The progress strip as SVG text: a row a mile, a sign a structure, holes and holds by name.

Signs differ by shape and fill, so a photocopy is still readable.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from linemap.domain.schedule.progress import MileRow
from linemap.report.axis import Drawing

__all__ = ["SIGNS", "Cell", "strip_svg"]

_ROW, _CELL, _LABEL = 26.0, 20.0, 44.0
_NOTE = 190.0

#: Sign of each stage: words, shape around a point, filled or not.
SIGNS: Mapping[str, tuple[str, str, bool]] = {
    "none": ("nothing recorded", "m-1.5 0a1.5 1.5 0 1 0 3 0a1.5 1.5 0 1 0 -3 0Z", False),
    "staked": ("staked", "m-4 0h8m-4 -4v8", False),
    "spotted": ("poles spotted", "m-5 3h10m-10 -5h10", False),
    "dug": ("dug", "m-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0Z", False),
    "framed": ("framed", "m-6 5l6 -11l6 11Z", False),
    "set": ("set", "m-6 -6h12v12h-12Z", True),
    "inspected": ("inspected", "m-7 0l7 -7l7 7l-7 7Z", True),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One structure in the strip."""

    number: str
    #: Key of `SIGNS`.
    stage: str
    #: True when a hold stops it now.
    held: bool = False


def strip_svg(
    rows: Sequence[MileRow], cells: Mapping[tuple[str, str], Cell], *, words: str, columns: int = 1
) -> str:
    """Draw one row for each mile, in one or more columns from top to bottom.

    Parameters
    ----------
    rows : sequence of MileRow
        In line order; "" comes back for none.
    cells : mapping of (line, structure) to Cell
    words : str
        Title of the strip.
    columns : int
        Columns side by side; the first fill up first.
    """
    if not rows:
        return ""
    each = ceil(len(rows) / columns)
    widest = max(len(row.structures) for row in rows) * _CELL
    column_width = _LABEL + widest + _NOTE
    legend = 22.0 * ceil((len(SIGNS) + 2) / (4 if columns > 1 else 2)) + 30.0
    drawing = Drawing(column_width * columns, each * _ROW + legend + 12.0, words)
    for place, row in enumerate(rows):
        column, line = divmod(place, each)
        _row(drawing, row, cells, x=column * column_width, y=10.0 + line * _ROW, widest=widest)
    _legend(drawing, y=each * _ROW + 30.0, across=4 if columns > 1 else 2)
    return drawing.svg()


def _row(
    drawing: Drawing,
    row: MileRow,
    cells: Mapping[tuple[str, str], Cell],
    *,
    x: float,
    y: float,
    widest: float,
) -> None:
    middle = y + _ROW / 2
    drawing.text(x + _LABEL - 12, middle + 4, str(row.mile), "name", anchor="end")
    for place, number in enumerate(row.structures):
        cell = cells.get((row.line, number), Cell(number=number, stage="none"))
        _sign(drawing, x + _LABEL + place * _CELL + _CELL / 2, middle, cell, hole=number in row.holes)
    holes = f": {', '.join(row.holes[:3])}" if row.holes else ""
    more = f" +{len(row.holes) - 3}" if len(row.holes) > 3 else ""
    words = f"{len(row.done)} of {len(row.structures)} set{holes}{more}"
    drawing.text(x + _LABEL + widest + 8, middle + 4, words, "label")
    drawing.line(x + 8, y + _ROW, x + _LABEL + widest + _NOTE - 18, y + _ROW, "grid")


def _sign(drawing: Drawing, x: float, y: float, cell: Cell, *, hole: bool) -> None:
    _, shape, filled = SIGNS[cell.stage]
    drawing.shape(f"M{x:.1f} {y:.1f}{shape}", f"sign {'filled' if filled else 'open'} stage-{cell.stage}")
    if hole:
        drawing.box(x - 9, y - 10, 18, 20, "hole")
    if cell.held:
        drawing.shape(f"M{x - 9:.1f} {y + 11:.1f}h18", "held")


def _legend(drawing: Drawing, *, y: float, across: int) -> None:
    entries = list(SIGNS.items())
    for place, (_, (words, shape, filled)) in enumerate(entries):
        x, below = _legend_place(place, y, across)
        kind = f"sign {'filled' if filled else 'open'} stage-{entries[place][0]}"
        drawing.shape(f"M{x:.1f} {below:.1f}{shape}", kind)
        drawing.text(x + 14, below + 4, words)
    x, below = _legend_place(len(entries), y, across)
    drawing.box(x - 9, below - 10, 18, 20, "hole")
    drawing.text(x + 14, below + 4, "passed by, named")
    x, below = _legend_place(len(entries) + 1, y, across)
    drawing.shape(f"M{x - 9:.1f} {below + 7:.1f}h18", "held")
    drawing.text(x + 14, below + 4, "held")


def _legend_place(place: int, y: float, across: int) -> tuple[float, float]:
    down, right = divmod(place, across)
    return 16.0 + right * 150.0, y + down * 22
