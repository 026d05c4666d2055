"""Words and tables that flow over pages: what belongs together stays together where it fits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from linemap.report.paper import Furniture, Surface, draw_pages, page_room, use_fonts, wrapped

__all__ = ["Block", "Column", "Grid", "Part", "Rules", "Words", "flow_pdf"]

_LEAD = 1.32
_GAP = 4.0
#: Height of a line to write on.
_WRITE = 17.0
#: Size of the words under such a line.
_LABEL = 6.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One paragraph."""

    text: str
    size: float = 7.6
    bold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table."""

    name: str
    #: Share of the width; the shares of a table are divided by their sum.
    share: float = 1.0
    #: True for numbers, which end at the right.
    right: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table; each row has a text for each column, wrapped in its cell."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Lines to write on, in one or more columns."""

    count: int
    columns: int = 1
    #: What is written on each column, under its lines; () = nothing.
    labels: tuple[str, ...] = ()


Part = Words | Grid | Rules


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """What stays together on one page when a page can hold it."""

    parts: tuple[Part, ...]
    #: True when it begins a page.
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class _Strip:
    """One piece that is never broken."""

    height: float
    draw: Callable[[Surface, float], None]
    #: Drawn before it again where it begins a page: the head of its table.
    head: _Strip | None = None


def flow_pdf(furniture: Furniture, blocks: Iterable[Block], *, size: tuple[float, float]) -> bytes:
    """Return the blocks as a PDF, in order, on as many pages as they need.

    Parameters
    ----------
    furniture : Furniture
    blocks : iterable of Block
    size : (float, float)
        Width and height of a page, points.
    """
    use_fonts()
    width, height = page_room(furniture, size)
    pages = _paged([(block.new_page, list(_strips(block, width))) for block in blocks], height)
    return draw_pages(furniture, [partial(_draw, page) for page in pages], size=size)


def _draw(strips: Sequence[_Strip], page: Surface) -> None:
    y = page.top
    for strip in strips:
        strip.draw(page, y)
        y -= strip.height


def _paged(blocks: Iterable[tuple[bool, list[_Strip]]], room: float) -> list[list[_Strip]]:
    pages: list[list[_Strip]] = [[]]
    left = room
    for new_page, strips in blocks:
        together = sum(strip.height for strip in strips)
        if pages[-1] and (new_page or left < together <= room):
            pages.append([])
            left = room
        for strip in strips:
            if pages[-1] and strip.height > left:
                pages.append([strip.head] if strip.head else [])
                left = room - sum(each.height for each in pages[-1])
            pages[-1].append(strip)
            left -= strip.height
    return pages


def _strips(block: Block, width: float) -> Iterator[_Strip]:
    for part in block.parts:
        yield from _part_strips(part, width)
    # lines to write on close a block themselves: a rule under them would look like one more
    yield _Strip(2 * _GAP, _nothing if block.parts and isinstance(block.parts[-1], Rules) else _rule)


def _part_strips(part: Part, width: float) -> Iterator[_Strip]:
    if isinstance(part, Words):
        return _words_strips(part, width)
    if isinstance(part, Grid):
        return _grid_strips(part, width)
    return _rules_strips(part)


def _rules_strips(rules: Rules) -> Iterator[_Strip]:
    def draw(page: Surface, y: float) -> None:
        wide = (page.width + 12.0) / rules.columns
        for column in range(rules.columns):
            x = page.left + column * wide
            page.line((x, y - _WRITE + 2.0), (x + wide - 12.0, y - _WRITE + 2.0), width=0.4, grey=0.4)

    def label(page: Surface, y: float) -> None:
        wide = (page.width + 12.0) / rules.columns
        for column, words in enumerate(rules.labels):
            page.text(page.left + column * wide, y - 7.0, words, size=_LABEL, grey=0.25)

    for _ in range(rules.count):
        yield _Strip(_WRITE, draw)
    if rules.labels:
        yield _Strip(_LABEL * _LEAD + _GAP, label)


def _rule(page: Surface, y: float) -> None:
    page.line((page.left, y - _GAP), (page.right, y - _GAP), width=0.3, grey=0.6)


def _words_strips(words: Words, width: float) -> Iterator[_Strip]:
    for piece in wrapped(words.text, width, size=words.size, bold=words.bold):

        def draw(page: Surface, y: float, piece: str = piece) -> None:
            page.text(page.left, y - words.size * 1.05, piece, size=words.size, bold=words.bold)

        yield _Strip(words.size * _LEAD, draw)
    yield _Strip(_GAP / 2, _nothing)


def _nothing(_page: Surface, _y: float) -> None:
    """Leave a gap."""


def _grid_strips(grid: Grid, width: float) -> Iterator[_Strip]:
    whole = sum(column.share for column in grid.columns)
    widths = [width * column.share / whole for column in grid.columns]
    head = _row_strip(grid, [column.name for column in grid.columns], widths, bold=True)
    yield head
    for row in grid.rows:
        yield replace(_row_strip(grid, row, widths, bold=False), head=head)
    yield _Strip(_GAP, _nothing)


def _row_strip(grid: Grid, row: Sequence[str], widths: Sequence[float], *, bold: bool) -> _Strip:
    size = 6.4 if bold else 7.0
    cells = [wrapped(text, wide - 6.0, size=size, bold=bold) for text, wide in zip(row, widths, strict=True)]

    def draw(page: Surface, y: float) -> None:
        x = page.left
        for cell, wide, column in zip(cells, widths, grid.columns, strict=True):
            for line, piece in enumerate(cell):
                at = x + wide - 6.0 if column.right else x
                page.text(
                    at,
                    y - size * 1.05 - line * size * _LEAD,
                    piece,
                    size=size,
                    bold=bold,
                    anchor="end" if column.right else "start",
                )
            x += wide
        page.line((page.left, y - high + 1.0), (page.right, y - high + 1.0), width=0.25, grey=0.75)

    high = max((len(cell) for cell in cells), default=1) * size * _LEAD + 2.0
    return _Strip(high, draw)
