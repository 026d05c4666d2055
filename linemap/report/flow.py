"""Words and tables that flow over pages: what belongs together stays together where it fits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise
from typing import Any, TypeAlias

from reportlab.lib.colors import Color
from reportlab.platypus import CondPageBreak, Flowable, HRFlowable, PageBreak, Paragraph, Spacer, Table

from linemap.report.lettering import BOLD, PLAIN, paragraph, printable, text_width
from linemap.report.paper import TitleBlock, page_room, write_pdf

_LEAD = 1.32
_GAP = 4.0
#: Height of a line to write on, and what lies between two beside each other.
_WRITE, _BETWEEN = 17.0, 12.0
#: Sizes of the words under such a line, of the head of a table and of its cells.
_LABEL, _HEAD, _CELL = 6.2, 6.4, 7.0
#: Right of a cell.
_BESIDE = 6.0
#: A block that no page can hold begins where its heading and some rows fit.
_OPENING = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One paragraph."""

    text: str
    size: float = 7.6
    bold: bool = False
    #: None = black.
    colour: Color | None = None
    #: From the left, points.
    indent: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table."""

    name: str
    #: What its cells say of the item of their row: a field, or a function; "" = nothing, they are written in.
    of: str | Callable[[Any], str] = ""
    #: Share of the width; the shares of a table are divided by their sum.
    share: float = 1.0
    #: True for numbers, which end at the right.
    right: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table; each row has a text for each column, wrapped in its cell."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]

    @classmethod
    def listing(cls, columns: tuple[Column, ...], items: Iterable[object]) -> Grid:
        """Return a table with a row for each item, as its columns say."""
        return cls(
            columns=columns, rows=tuple(tuple(_said(each, one.of) for one in columns) for each in items)
        )


def _said(item: object, of: str | Callable[[Any], str]) -> str:
    if callable(of):
        return of(item)
    return str(getattr(item, of)) if of else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Lines to write on, in one or more columns."""

    count: int
    columns: int = 1
    #: What is written on each column, under its lines; () = nothing.
    labels: tuple[str, ...] = ()


Part: TypeAlias = Words | Grid | Rules | Flowable


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """What stays together on one page when a page can hold it."""

    parts: tuple[Part, ...]
    #: True when it begins a page.
    new_page: bool = False


def flow_pdf(
    title_block: TitleBlock,
    blocks: Iterable[Block],
    *,
    size: tuple[float, float],
    headings: Flowable | None = None,
) -> bytes:
    """Return the blocks as a PDF, in order, on as many pages as they need; `size` as in `write_pdf`."""
    room = page_room(title_block, size, headings)
    story = list(chain.from_iterable(_placed(each, *room) for each in blocks))
    first = next((place for place, each in enumerate(story) if not isinstance(each, PageBreak)), 0)
    return write_pdf(title_block, story[first:], size=size, headings=headings)


def _placed(block: Block, width: float, height: float) -> Iterator[Flowable]:
    if block.new_page:
        yield PageBreak()
    made = [each for part in block.parts for each in _made(part, width, height)]
    # lines to write on close a block themselves: a rule under them would look like one more
    closed = bool(block.parts) and isinstance(block.parts[-1], Rules)
    made.append(Spacer(0.0, _GAP) if closed else _rule())
    high = sum(each.wrap(width, height)[1] for each in made)
    high += sum(max(one.getSpaceAfter(), other.getSpaceBefore()) for one, other in pairwise(made))
    yield CondPageBreak(high if high < height else _OPENING)
    yield from made


def _rule() -> Flowable:
    return HRFlowable(
        width="100%", thickness=0.3, color=_grey(0.6), spaceBefore=_GAP, spaceAfter=_GAP, lineCap="butt"
    )


def _grey(share: float) -> Color:
    return Color(share, share, share)


def _made(part: Part, width: float, height: float) -> Iterator[Flowable]:
    if isinstance(part, Words):
        yield paragraph(
            part.text,
            size=part.size,
            bold=part.bold,
            colour=part.colour,
            indent=part.indent,
            lead=_LEAD,
            after=_GAP / 2,
        )
    elif isinstance(part, Grid):
        yield _table(part, width, height)
    elif isinstance(part, Rules):
        yield _lines(part, width)
    else:
        yield part


def _table(grid: Grid, width: float, height: float) -> Table:
    whole = sum(column.share for column in grid.columns)
    widths = [width * column.share / whole for column in grid.columns]
    rights = [column.right for column in grid.columns]
    rows = [
        [
            _cell(text, wide - _BESIDE, right=right, bold=not place)
            for text, wide, right in zip(row, widths, rights, strict=True)
        ]
        for place, row in enumerate([tuple(column.name for column in grid.columns), *grid.rows])
    ]
    highs = (
        cell.wrap(wide - _BESIDE, height)[1]
        for row in rows
        for cell, wide in zip(row, widths, strict=True)
        if isinstance(cell, Paragraph)
    )
    return Table(
        rows,
        colWidths=widths,
        repeatRows=1,
        splitInRow=int(max(highs, default=0.0) > height / 2.0),
        spaceAfter=_GAP,
        style=[
            ("FONT", (0, 0), (-1, -1), PLAIN, _CELL, _CELL * _LEAD),
            ("FONT", (0, 0), (-1, 0), BOLD, _HEAD, _HEAD * _LEAD),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
            ("RIGHTPADDING", (0, 0), (-1, -1), _BESIDE),
            ("TOPPADDING", (0, 0), (-1, -1), 1.0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.0),
            ("LINEBELOW", (0, 0), (-1, -1), 0.25, _grey(0.75)),
            *(("ALIGN", (at, 0), (at, -1), "RIGHT") for at, right in enumerate(rights) if right),
        ],
    )


def _cell(text: str, width: float, *, right: bool, bold: bool) -> str | Paragraph:
    """Return the text of a cell as it is where it fits on a line, which is drawn sooner."""
    size = _HEAD if bold else _CELL
    if text_width(text, size=size, bold=bold) <= width:
        return printable(text)
    return paragraph(text, size=size, bold=bold, lead=_LEAD, right=right)


def _lines(rules: Rules, width: float) -> Table:
    """Return the lines as a table whose every other column is the gap between two."""
    wide = (width + _BETWEEN) / rules.columns - _BETWEEN
    columns = range(0, 2 * rules.columns, 2)

    def row(words: Sequence[str]) -> list[str]:
        return [printable(word) for label in words for word in (label, "")][:-1]

    return Table(
        [row([""] * rules.columns) for _ in range(rules.count)]
        + ([row(rules.labels)] if rules.labels else []),
        colWidths=([wide, _BETWEEN] * rules.columns)[:-1],
        rowHeights=[_WRITE] * rules.count + ([_LABEL * _LEAD + _GAP] if rules.labels else []),
        style=[
            ("FONT", (0, 0), (-1, -1), PLAIN, _LABEL, _LABEL * _LEAD),
            ("TEXTCOLOR", (0, 0), (-1, -1), _grey(0.25)),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 0.0),
            ("TOPPADDING", (0, 0), (-1, -1), 1.0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 0.0),
            *(("LINEBELOW", (at, 0), (at, rules.count - 1), 0.4, _grey(0.4)) for at in columns),
        ],
    )
