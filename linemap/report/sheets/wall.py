"""The progress strip on paper: a row a mile, a sign a structure; signs differ by shape, not by colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from linemap.domain.schedule.progress import MileRow
from linemap.report.paper import LANDSCAPE, Paper, Surface, TitleBlock, draw_pages, page_room
from linemap.report.strip import SIGNS, Cell

__all__ = ["Wall", "wall_pdf"]

_LEGEND = 34.0
_TALLEST, _LOWEST = 22.0, 16.0
_LABEL, _NOTE = 46.0, 190.0
#: Corners of the box of the legend.
_BOX = ((0, 0), (12, 0), (12, 10), (0, 10))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """What the strip says."""

    #: "mile" or "kilometre".
    mile_word: str
    rows: tuple[MileRow, ...]
    cells: Mapping[tuple[str, str], Cell]
    #: Counts by step in words.
    counts: str


def wall_pdf(title_block: TitleBlock, wall: Wall, *, paper: Paper = "letter") -> bytes:
    """Return the strip, on as few pages as its rows allow; a page of words when there is no row."""
    size = LANDSCAPE[paper]
    room = page_room(title_block, size)[1] - _LEGEND
    most = int(room // _LOWEST)
    pages = [wall.rows[first : first + most] for first in range(0, len(wall.rows), most)] or [()]
    return draw_pages(title_block, [partial(_draw, wall, rows) for rows in pages], size=size)


def _draw(wall: Wall, rows: Sequence[MileRow], page: Surface) -> None:
    page.text(page.left, page.top - 8.0, wall.counts, size=7.2)
    _legend(page, page.top - 22.0)
    top = page.top - _LEGEND
    high = min(_TALLEST, (top - page.bottom) / max(len(rows), 1))
    widest = max((len(row.structures) for row in rows), default=1)
    step = min(72.0, (page.width - _LABEL - _NOTE) / widest)
    for place, row in enumerate(rows):
        _row(wall, row, page, y=top - (place + 1) * high, high=high, step=step)
    if not rows:
        page.text(page.left, top - 20.0, "not available: the job has no structure here", size=9.0)


def _row(wall: Wall, row: MileRow, page: Surface, *, y: float, high: float, step: float) -> None:
    middle = y + high / 2
    page.text(page.left, middle - 2.6, f"{wall.mile_word} {row.mile}", bold=True, size=7.0)
    for place, number in enumerate(row.structures):
        cell = wall.cells.get((row.line, number), Cell(number=number, stage="none"))
        x = page.left + _LABEL + (place + 0.5) * step
        _sign(page, x, middle + 3.4, cell.stage)
        page.text(x, y + 0.9, number, size=5.2, anchor="middle", grey=0.2)
        if number in row.holes:
            corners = ((-9, -2.2), (9, -2.2), (9, 9.4), (-9, 9.4))
            page.path([(x + right, middle + up) for right, up in corners], closed=True, width=0.9)
        if cell.held:
            page.text(x + 11.5, middle, "H", size=6.5, bold=True)
    holes = f"; passed by: {', '.join(row.holes[:4])}" if row.holes else ""
    more = f" and {len(row.holes) - 4} more" if len(row.holes) > 4 else ""
    words = f"{len(row.done)} of {len(row.structures)} set{holes}{more}"
    page.text(page.right - _NOTE + 8.0, middle - 2.6, words, size=7.0)
    page.line((page.left, y), (page.right, y), width=0.25, grey=0.7)


def _legend(page: Surface, y: float) -> None:
    x = page.left + 6.0
    for stage, sign in SIGNS.items():
        _sign(page, x, y, stage)
        page.text(x + 11.0, y - 2.5, sign.words, size=7.0)
        x += 86.0
    page.path([(x - 6 + right, y - 5 + up) for right, up in _BOX], closed=True, width=0.9)
    page.text(x + 11.0, y - 2.5, "passed by", size=7.0)
    page.text(x + 62.0, y - 2.5, "H", size=6.5, bold=True)
    page.text(x + 71.0, y - 2.5, "held", size=7.0)


def _sign(page: Surface, x: float, y: float, stage: str) -> None:
    sign = SIGNS[stage]
    fill = 0.0 if sign.filled else None
    for points in sign.strokes:
        path = [(x + 0.8 * right, y - 0.8 * down) for right, down in points]
        page.path(path, width=0.9, closed=sign.closed, fill=fill)
    if sign.radius:
        page.circle(x, y, 0.8 * sign.radius, fill=fill)
