"""What every printed sheet has: page sizes, title block with revisions, cautions, page number.

The same content gives the same bytes. Points are 1/72 in, y runs up.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Literal

from reportlab.lib.colors import Color
from reportlab.lib.pagesizes import A4, A5, landscape, letter
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Spacer

from linemap.report.lettering import BOLD, PLAIN, SIZE, paragraph, printable

#: Page sizes by paper, points (width, height); half is half letter or A5.
PORTRAIT = {"letter": letter, "a4": A4}
LANDSCAPE = {"letter": landscape(letter), "a4": landscape(A4)}
HALF = {"letter": (letter[1] / 2.0, letter[0]), "a4": A5}

_MARGIN = 30.0
_SMALL, _TINY = 6.4, 5.2
_GREY = 0.25
#: Between title block, room and cautions; a rule runs amid it.
_GAP = 8.0


Size = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TitleBlock:
    """What stands on every page of a set of sheets."""

    #: What the sheet is: "Staking table".
    title: str
    #: Name of the job.
    job: str
    #: Each line with the revisions of its lists.
    lines: tuple[str, ...]
    #: Data version, data date and the day the holds are of.
    version: str
    #: Printed at the foot, in full.
    cautions: tuple[str, ...]
    #: Which job it is of, in which life, and by which linemap: under everything else, small.
    source: str = ""


class Surface:
    """One page to draw on, between title block and cautions. Colours are greys: 0 black, 1 white."""

    def __init__(self, canvas: Canvas, size: Size) -> None:
        self._canvas = canvas
        self.left, self.bottom = 0.0, 0.0
        self.right, self.top = size

    @property
    def width(self) -> float:
        """Points between the margins."""
        return self.right - self.left

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = SIZE,
        bold: bool = False,
        grey: float = 0.0,
        anchor: Anchor = "start",
    ) -> None:
        """Write one line of words on the baseline y."""
        canvas = self._canvas
        canvas.setFillGray(grey)
        canvas.setFont(BOLD if bold else PLAIN, size)
        ways = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
        ways[anchor](round(x, 2), round(y, 2), printable(words))

    def upright(self, x: float, y: float, words: str, *, size: float = _SMALL, grey: float = 0.0) -> None:
        """Write words that run up the page from (x, y)."""
        self._canvas.saveState()
        self._canvas.translate(round(x, 2), round(y, 2))
        self._canvas.rotate(90)
        self.text(0.0, 0.0, words, size=size, grey=grey)
        self._canvas.restoreState()

    def paragraph(
        self, x: float, y: float, words: str, width: float, *, size: float = SIZE, bold: bool = False
    ) -> float:
        """Write words under y within a width; return the y under them."""
        block = paragraph(words, size=size, bold=bold)
        _, high = block.wrapOn(self._canvas, width, y)
        # lines hang from their letters' tops: lowered, they stand amid their height
        block.drawOn(self._canvas, round(x, 2), round(y - high - 0.3 * size, 2))
        return y - float(high)

    def line(
        self,
        start: Size,
        end: Size,
        *,
        width: float = 0.6,
        grey: float = 0.0,
        dash: Sequence[float] = (),
    ) -> None:
        """Draw a straight line."""
        self._stroke(width, grey, dash)
        self._canvas.line(*(round(part, 2) for part in (*start, *end)))

    def path(
        self,
        points: Sequence[Size],
        *,
        width: float = 0.6,
        grey: float = 0.0,
        dash: Sequence[float] = (),
        closed: bool = False,
        fill: float | None = None,
    ) -> None:
        """Draw through points; `fill` is the grey inside, None = open."""
        self._stroke(width, grey, dash)
        path = self._canvas.beginPath()
        for place, (x, y) in enumerate(points):
            (path.lineTo if place else path.moveTo)(round(x, 2), round(y, 2))
        if closed:
            path.close()
        if fill is not None:
            self._canvas.setFillGray(fill)
        self._canvas.drawPath(path, stroke=1, fill=int(fill is not None))

    def circle(
        self, x: float, y: float, radius: float, *, width: float = 0.8, fill: float | None = None
    ) -> None:
        """Draw a circle; `fill` is the grey inside, None = open."""
        self._stroke(width, 0.0, ())
        if fill is not None:
            self._canvas.setFillGray(fill)
        self._canvas.circle(round(x, 2), round(y, 2), radius, stroke=1, fill=int(fill is not None))

    def cells(self, x: float, y: float, rows: Sequence[Sequence[bool]], side: float) -> None:
        """Fill the true cells of a square pattern whose top left corner is (x, y)."""
        self._canvas.setFillGray(0.0)
        path = self._canvas.beginPath()
        for down, row in enumerate(rows, start=1):
            for place, filled in enumerate(row):
                if filled:
                    path.rect(round(x + place * side, 2), round(y - down * side, 2), side, side)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def _stroke(self, width: float, grey: float, dash: Sequence[float]) -> None:
        self._canvas.setLineWidth(width)
        self._canvas.setStrokeGray(grey)
        self._canvas.setDash(list(dash))


def write_pdf(
    title_block: TitleBlock, story: Iterable[Flowable], *, size: Size, headings: Flowable | None = None
) -> bytes:
    """Return a PDF of what flows over as many pages as it needs, each with the title block and its number.

    `size` is a page's, in points; `headings` stand at the top of every page, under the title block. A story
    of nothing makes one empty page.
    """
    layout = _Layout.of(title_block, size, headings)
    into = io.BytesIO()
    document = BaseDocTemplate(
        into,
        pagesize=size,
        pageTemplates=[
            PageTemplate(frames=[Frame(_MARGIN, layout.bottom, layout.width, layout.height, 0, 0, 0, 0)])
        ],
        invariant=1,
        pageCompression=1,
        initialFontName=PLAIN,
        title=printable(f"{title_block.job}: {title_block.title}"),
        author="linemap",
        subject=printable(title_block.version),
    )
    document.build([*story] or [Spacer(0.0, 1.0)], canvasmaker=partial(_Numbered, finish=layout.draw))
    return into.getvalue()


def draw_pages(title_block: TitleBlock, pages: Iterable[Callable[[Surface], None]], *, size: Size) -> bytes:
    """Return a PDF with a page for each function, which draws between `Surface.top` and `Surface.bottom`."""
    room = page_room(title_block, size)
    return write_pdf(title_block, [_Drawn(draw, room) for draw in pages], size=size)


def page_room(title_block: TitleBlock, size: Size, headings: Flowable | None = None) -> Size:
    """Return width and height between the margins, the title block with its headings, and the cautions."""
    layout = _Layout.of(title_block, size, headings)
    return layout.width, layout.height


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """What is the same on every page, and the room it leaves."""

    head: tuple[Flowable, ...]
    foot: tuple[Flowable, ...]
    source: str
    #: Height of the page's upper edge.
    top: float
    #: Where the room begins above the cautions, and how wide and high it is.
    bottom: float
    width: float
    height: float

    @classmethod
    def of(cls, title_block: TitleBlock, size: Size, headings: Flowable | None = None) -> _Layout:
        width, top = size[0] - 2 * _MARGIN, size[1] - _MARGIN
        grey = Color(_GREY, _GREY, _GREY)
        head = (
            paragraph(title_block.title, size=11.0, bold=True),
            paragraph(title_block.job, bold=True),
            *(
                paragraph(words, size=_SMALL, colour=grey)
                for words in (*title_block.lines, title_block.version)
            ),
            *(() if headings is None else (Spacer(0.0, 6.0), headings)),
        )
        foot = tuple(paragraph(words, size=_SMALL) for words in title_block.cautions)
        above, below = (sum(each.wrap(width, top)[1] for each in part) for part in (head, foot))
        bottom = _MARGIN + below + _GAP
        height = top - above - _GAP - bottom
        return cls(
            head=head,
            foot=foot,
            source=title_block.source,
            top=top,
            bottom=bottom,
            width=width,
            height=height,
        )

    def draw(self, canvas: Canvas, place: str) -> None:
        """Draw title block and cautions of a page, and its place among the pages."""
        canvas.saveState()
        canvas.translate(_MARGIN, 0.0)
        page = Surface(canvas, (self.width, self.top))
        page.text(page.right, self.top - 11.0, place, anchor="end")
        page.text(page.left, _MARGIN - 9.0, self.source, size=_TINY, grey=_GREY)
        for part, upper in ((self.head, self.top), (self.foot, self.bottom - _GAP)):
            y = upper
            for each in part:
                y -= each.wrap(self.width, self.top)[1]
                each.drawOn(canvas, 0.0, y)
        for y in (self.bottom + self.height + _GAP / 2, self.bottom - _GAP / 2):
            page.line((page.left, y), (page.right, y), width=0.9)
        canvas.restoreState()


class _Drawn(Flowable):  # type: ignore[misc]
    """A page that is drawn by a function."""

    def __init__(self, draw: Callable[[Surface], None], room: Size) -> None:
        super().__init__()
        self._draw_on = draw
        self.width, self.height = room

    def draw(self) -> None:
        """Draw it."""
        self._draw_on(Surface(self.canv, (self.width, self.height)))


class _Numbered(Canvas):  # type: ignore[misc]
    """Pages that wait until all are there, since each says how many there are."""

    def __init__(self, *given: Any, finish: Callable[[Canvas, str], None], **named: Any) -> None:
        super().__init__(*given, **named)
        self._finish = finish
        self._waiting: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 - reportlab's name
        """Keep the page."""
        self._waiting.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Finish all pages."""
        for number, page in enumerate(self._waiting, start=1):
            self.__dict__.update(page)
            self._finish(self, f"page {number} of {len(self._waiting)}")
            super().showPage()
        super().save()
