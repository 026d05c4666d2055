"""The progress strip as SVG text: a row a mile, a sign a structure, holes and holds by name.

Signs differ by shape and fill, so a photocopy is still readable.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from linemap.domain.schedule.progress import MileRow
from linemap.report.charts import Drawing

_ROW, _CELL, _LABEL = 26.0, 20.0, 44.0
_NOTE = 190.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Sign:
    """The sign of a stage about (0, 0), x right and y down: strokes through points, or a circle."""

    words: str
    strokes: tuple[tuple[Point, ...], ...] = ()
    #: Of the circle; 0 = none.
    radius: float = 0.0
    #: True when the strokes return to where they begin.
    closed: bool = False
    filled: bool = False

    def path(self, x: float, y: float) -> str:
        """Return the sign as SVG path data about a point."""
        if self.radius:
            r = self.radius
            arcs = f"a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0Z"
            return f"M{x - r:.1f} {y:.1f}{arcs}"
        lines = ("L".join(f"{x + right:.1f} {y + down:.1f}" for right, down in each) for each in self.strokes)
        return "".join(f"M{line}{'Z' * self.closed}" for line in lines)


#: Sign of each stage.
SIGNS: Mapping[str, Sign] = {
    "none": Sign("nothing recorded", radius=1.5),
    "staked": Sign("staked", (((-4, 0), (4, 0)), ((0, -4), (0, 4)))),
    "spotted": Sign("poles spotted", (((-5, 3), (5, 3)), ((-5, -2), (5, -2)))),
    "dug": Sign("dug", radius=5.0),
    "framed": Sign("framed", (((-6, 5), (0, -6), (6, 5)),), closed=True),
    "set": Sign("set", (((-6, -6), (6, -6), (6, 6), (-6, 6)),), closed=True, filled=True),
    "inspected": Sign("inspected", (((-7, 0), (0, -7), (7, 0), (0, 7)),), closed=True, filled=True),
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
    sign = SIGNS[cell.stage]
    drawing.shape(sign.path(x, y), f"sign {'filled' if sign.filled else 'open'} stage-{cell.stage}")
    if hole:
        drawing.box(x - 9, y - 10, 18, 20, "hole")
    if cell.held:
        drawing.shape(f"M{x - 9:.1f} {y + 11:.1f}h18", "held")


def _legend(drawing: Drawing, *, y: float, across: int) -> None:
    for place, (stage, sign) in enumerate(SIGNS.items()):
        x, below = _legend_place(place, y, across)
        _sign(drawing, x, below, Cell(number="", stage=stage), hole=False)
        drawing.text(x + 14, below + 4, sign.words)
    x, below = _legend_place(len(SIGNS), y, across)
    drawing.box(x - 9, below - 10, 18, 20, "hole")
    drawing.text(x + 14, below + 4, "passed by, named")
    x, below = _legend_place(len(SIGNS) + 1, y, across)
    drawing.shape(f"M{x - 9:.1f} {below + 7:.1f}h18", "held")
    drawing.text(x + 14, below + 4, "held")


def _legend_place(place: int, y: float, across: int) -> tuple[float, float]:
    down, right = divmod(place, across)
    return 16.0 + right * 150.0, y + down * 22
