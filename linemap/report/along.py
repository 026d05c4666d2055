"""Progress along the line as SVG text: the strip of miles, and work over time and distance.

The strip has a row a mile, a sign a structure, holes and holds by name. Over time and distance each
structure stands where and when it was dug, framed and set. Signs and marks differ by shape and fill as well
as by class, so a photocopy is still readable.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from typing import NamedTuple

from linemap.domain.crew.hold import Hold
from linemap.domain.schedule.progress import MileRow, Site, Unit
from linemap.report.charts import Drawing, Frame, month_starts, round_marks, short_day

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
    """Draw one row for each mile of `rows`, which are in line order, or "" for none.

    `cells` are by (line, structure), `words` are the title. Of several columns side by side the first fill up
    first.
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
        _mile(drawing, row, cells, x=column * column_width, y=10.0 + line * _ROW, widest=widest)
    _strip_legend(drawing, y=each * _ROW + 30.0, across=4 if columns > 1 else 2)
    return drawing.svg()


def _mile(
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


def _strip_legend(drawing: Drawing, *, y: float, across: int) -> None:
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


#: How far past the day of the report the chart of time and distance looks.
_AHEAD = timedelta(weeks=5)
#: Pixels the name of a hold takes, and how many lines up it may stand.
_NAME = 38.0
_TRIES = 8
#: Where the legend stands, and the width above which it is one row: else holds go under the steps.
_LEGEND_TOP = 16.0
_BESIDE = 500.0
#: Marks of the steps in the chart of time and distance: path data around a point, by step.
_MARKS = {
    "dug": "m-3.5 0h7",
    "framed": "m-3 3l3 -6l3 6Z",
    "set": "m-3 -3h6v6h-6Z",
}


class _Block(NamedTuple):
    """A hold as drawn: its name and its edges, pixels."""

    name: str
    left: float
    right: float
    top: float
    bottom: float


def time_distance_svg(
    sites: Sequence[Site],
    done: Iterable[Unit],
    holds: Iterable[tuple[Hold, Sequence[Site]]],
    *,
    as_of: date,
    per_mile: float,
    mile_word: str,
    width: float = 860.0,
) -> str:
    """Draw where on the line each structure was dug, framed and set, and when; holds as blocks.

    A crew that leaps ahead shows as a stroke of its own, a structure passed by as a gap.

    The sites are of one line; "" comes back when nothing is done on it. Units of steps without a mark of
    their own are left out. Each hold comes with the structures it is on. `per_mile` is ground units in one
    mile or kilometre, as `mile_word` says; `width` is in pixels.
    """
    at = {site.key: site.distance / per_mile for site in sites}
    drawn = [unit for unit in done if unit.step in _MARKS and (unit.line, unit.structure) in at]
    if not drawn:
        return ""
    blocks = [(hold, [at[site.key] for site in on if site.key in at]) for hold, on in holds]
    first = min(unit.day for unit in drawn)
    # holds that run on for months are cut at the edge, or the work would be a thin band
    ends = [hold.to_date or as_of + _AHEAD for hold, on in blocks if on]
    last = max([as_of, *(min(end, as_of + _AHEAD) for end in ends)])
    height = 420.0
    drawing = Drawing(width, height, f"where and when structures were dug, framed and set, by {mile_word}")
    frame = Frame(
        left=56.0,
        right=width - 14.0,
        top=_LEGEND_TOP + 22.0 * (1 if width > _BESIDE else 2),
        bottom=height - 34.0,
        x_ends=(0.0, max(*at.values(), 0.1)),
        # time runs down the paper: the first day is at the top
        y_ends=(float(last.toordinal()), float(first.toordinal())),
    )
    _distance_axis(drawing, frame, mile_word)
    _time_axis(drawing, frame, first, last, as_of)
    names = _hold_blocks(drawing, frame, blocks, first=first, last=last)
    for unit in drawn:
        x, y = frame.x(at[unit.line, unit.structure]), frame.y(unit.day.toordinal())
        drawing.shape(f"M{x:.1f} {y:.1f}{_MARKS[unit.step]}", f"mark step-{unit.step}")
    _hold_names(drawing, frame, names)
    _legend(drawing, frame)
    return drawing.svg()


def _distance_axis(drawing: Drawing, frame: Frame, mile_word: str) -> None:
    for value in round_marks(frame.x_ends[1], most=max(int((frame.right - frame.left) / 42), 2)):
        x = frame.x(value)
        drawing.line(x, frame.top, x, frame.bottom, "grid")
        drawing.text(x, frame.bottom + 15, f"{value:g}", "tick", anchor="middle")
    middle = (frame.left + frame.right) / 2
    drawing.text(middle, frame.bottom + 30, f"{mile_word} from the back end", "tick", anchor="middle")


def _time_axis(drawing: Drawing, frame: Frame, first: date, last: date, as_of: date) -> None:
    drawing.line(frame.left, frame.top, frame.left, frame.bottom, "axis")
    today = frame.y(as_of.toordinal())
    for day in month_starts(first, last, most=8):
        y = frame.y(day.toordinal())
        drawing.line(frame.left - 5, y, frame.left, y, "axis")
        if abs(y - today) > 12:
            drawing.text(frame.left - 8, y + 4, short_day(day), "tick", anchor="end")
    drawing.line(frame.left, today, frame.right, today, "today")
    drawing.text(frame.left - 8, today + 4, short_day(as_of), "tick strong", anchor="end")


def _hold_blocks(
    drawing: Drawing,
    frame: Frame,
    blocks: Sequence[tuple[Hold, Sequence[float]]],
    *,
    first: date,
    last: date,
) -> list[_Block]:
    """Draw the holds in line order; return them for their names, which come over all boxes."""
    drawn: list[_Block] = []
    for hold, on in sorted((block for block in blocks if block[1]), key=lambda block: min(block[1])):
        begins, ends = max(hold.from_date or first, first), min(hold.to_date or last, last)
        if ends < begins:
            continue
        left, right = frame.x(min(on)) - 4, frame.x(max(on)) + 4
        top, bottom = frame.y(begins.toordinal()), frame.y(ends.toordinal())
        kind = "hold conditional" if hold.conditional else "hold"
        drawing.box(left, top, right - left, max(bottom - top, 3.0), kind)
        drawn.append(_Block(hold.id, left, right, top, bottom))
    return drawn


def _hold_names(drawing: Drawing, frame: Frame, blocks: Sequence[_Block]) -> None:
    """Write each name beside its box: where no other box or name is, else where no other name is."""
    taken: list[tuple[float, float]] = []
    for block in blocks:
        places = [
            (x, block.bottom - 3.0 - 13.0 * up)
            for up in range(_TRIES)
            for x in (block.right + 3.0, block.left - 3.0 - _NAME)
            if frame.left <= x <= frame.right - _NAME
        ]
        apart = [place for place in places if not any(_meet(place, other) for other in taken)]
        free = [place for place in apart if not any(_over(place, other) for other in blocks)]
        x, y = (free or apart or [(block.right + 3.0, block.bottom - 3.0)])[0]
        taken.append((x, y))
        left = x < block.left
        drawing.text(
            x + _NAME if left else x, y, block.name, "tick hold-name", anchor="end" if left else "start"
        )


def _meet(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return abs(one[0] - other[0]) < _NAME and abs(one[1] - other[1]) < 12.0


def _over(place: tuple[float, float], block: _Block) -> bool:
    across = place[0] < block.right and place[0] + _NAME > block.left
    return across and block.top - 2.0 < place[1] < block.bottom + 10.0


def _legend(drawing: Drawing, frame: Frame) -> None:
    x, y = frame.left, _LEGEND_TOP
    for step, mark in _MARKS.items():
        drawing.shape(f"M{x + 4:.1f} {y:.1f}{mark}", f"mark step-{step}")
        drawing.text(x + 13, y + 4, step)
        x += 66
    if drawing.width <= _BESIDE:
        x, y = frame.left, y + 22.0
    for kind, words in (("hold", "hold"), ("hold conditional", "hold under a condition")):
        drawing.box(x, y - 6, 14, 12, kind)
        drawing.text(x + 19, y + 4, words)
        x += 66
