"""What every printed sheet has: fonts, page sizes, head with revision and dates, cautions, page number.

The same content gives the same bytes. Fonts are the Bitstream Vera that reportlab carries (Latin, Greek mu,
common signs); a sign they lack is printed as a question mark. Points are 1/72 in, y runs up from the foot.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Literal

from reportlab.lib.pagesizes import A4, A5, landscape, letter
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from linemap.report.forms import Paper

__all__ = [
    "BOLD",
    "HALF",
    "LANDSCAPE",
    "PLAIN",
    "PORTRAIT",
    "Furniture",
    "Paper",
    "Surface",
    "draw_pages",
    "page_room",
    "printable",
    "text_width",
    "use_fonts",
    "wrapped",
]

#: Names of the two fonts.
PLAIN, BOLD = "Vera", "VeraBd"
#: Page sizes by paper, points (width, height); half is half letter or A5.
PORTRAIT = {"letter": letter, "a4": A4}
LANDSCAPE = {"letter": landscape(letter), "a4": landscape(A4)}
HALF = {"letter": (letter[1] / 2.0, letter[0]), "a4": A5}

_SPELLED = str.maketrans({"→": ">", "Δ": "d", "≤": "<=", "≥": ">=", "’": "'", "−": "-", "\n": " ", "\t": " "})
_MARGIN = 30.0
_SIZE, _SMALL = 7.6, 6.4
#: Longer words are broken, so that none runs off the paper.
_LONGEST_WORD = 60

#: The blank between inches and a fraction of one, and the sign that stands for it while lines are made.
_FRACTION = re.compile(r"(?<=\d) (?=\d+/\d+\")")
_TOGETHER = "\ue000"

Size = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Furniture:
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


def use_fonts() -> None:
    """Make the fonts known to reportlab; knowing them already is no harm."""
    folder = files("reportlab").joinpath("fonts")
    known = pdfmetrics.getRegisteredFontNames()
    for name in (PLAIN, BOLD):
        if name not in known:
            pdfmetrics.registerFont(TTFont(name, str(folder.joinpath(f"{name}.ttf"))))


def printable(text: str) -> str:
    """Return the text with the signs that the fonts have; the fonts must be known."""
    glyphs = pdfmetrics.getFont(PLAIN).face.charToGlyph
    return "".join(sign if ord(sign) in glyphs else "?" for sign in text.translate(_SPELLED))


def wrapped(text: str, width: float, *, size: float = _SIZE, bold: bool = False) -> list[str]:
    """Return the text as lines no wider than `width` points; [] for none. Very long words are broken.

    Inches and their fraction stay on one line: half a length reads as another one.
    """
    words = " ".join(
        word[i : i + _LONGEST_WORD]
        for word in _FRACTION.sub(_TOGETHER, printable(text)).split()
        for i in range(0, len(word), _LONGEST_WORD)
    )
    lines: list[str] = simpleSplit(words, BOLD if bold else PLAIN, size, width)
    return [line.replace(_TOGETHER, " ") for line in lines]


def text_width(text: str, *, size: float = _SIZE, bold: bool = False) -> float:
    """Return how wide one line of words is, points; the fonts must be known."""
    return float(pdfmetrics.stringWidth(printable(text), BOLD if bold else PLAIN, size))


class Surface:
    """One page to draw on, between the head and the cautions. Colours are greys: 0 black, 1 white."""

    def __init__(self, canvas: Canvas, size: Size, *, top: float, bottom: float) -> None:
        self._canvas = canvas
        self.left, self.right = _MARGIN, size[0] - _MARGIN
        self.top, self.bottom = top, bottom

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
        size: float = _SIZE,
        bold: bool = False,
        grey: float = 0.0,
        anchor: Anchor = "start",
    ) -> None:
        """Write one line of words on the baseline y."""
        font, told = BOLD if bold else PLAIN, printable(words)
        shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
        if shift:
            x -= shift * pdfmetrics.stringWidth(told, font, size)
        self._canvas.setFillGray(grey)
        self._canvas.setFont(font, size)
        self._canvas.drawString(round(x, 2), round(y, 2), told)

    def upright(self, x: float, y: float, words: str, *, size: float = _SMALL, grey: float = 0.0) -> None:
        """Write words that run up the page from (x, y)."""
        self._canvas.saveState()
        self._canvas.translate(round(x, 2), round(y, 2))
        self._canvas.rotate(90)
        self.text(0.0, 0.0, words, size=size, grey=grey)
        self._canvas.restoreState()

    def paragraph(
        self, x: float, y: float, words: str, width: float, *, size: float = _SIZE, bold: bool = False
    ) -> float:
        """Write words under y within a width; return the y under them."""
        for piece in wrapped(words, width, size=size, bold=bold):
            y -= size * 1.3
            self.text(x, y, piece, size=size, bold=bold)
        return y

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


def draw_pages(furniture: Furniture, pages: Sequence[Callable[[Surface], None]], *, size: Size) -> bytes:
    """Return a PDF with the furniture on every page, each drawn on by its function.

    Parameters
    ----------
    furniture : Furniture
    pages : sequence of callable
        Each draws between `Surface.top` and `Surface.bottom`.
    size : (float, float)
        Width and height, points.
    """
    use_fonts()
    into = io.BytesIO()
    canvas = Canvas(into, pagesize=size, invariant=1, pageCompression=1, initialFontName=PLAIN)
    canvas.setTitle(printable(f"{furniture.job}: {furniture.title}"))
    canvas.setAuthor("linemap")
    canvas.setSubject(furniture.version)
    for number, draw in enumerate(pages, start=1):
        draw(_furnished(canvas, furniture, size, f"page {number} of {len(pages)}"))
        canvas.showPage()
    canvas.save()
    return into.getvalue()


def page_room(furniture: Furniture, size: Size) -> tuple[float, float]:
    """Return width and height between head and cautions, points; what a page can hold."""
    use_fonts()
    width = size[0] - 2 * _MARGIN
    return width, size[1] - 2 * _MARGIN - _head_height(furniture, width) - _foot_height(furniture, width)


def _head_lines(furniture: Furniture, width: float) -> list[str]:
    told = (*furniture.lines, furniture.version)
    return [piece for words in told for piece in wrapped(words, width, size=_SMALL)]


def _foot_lines(furniture: Furniture, width: float) -> list[str]:
    return [piece for words in furniture.cautions for piece in wrapped(words, width, size=_SMALL)]


def _head_height(furniture: Furniture, width: float) -> float:
    return 30.0 + len(_head_lines(furniture, width)) * _SMALL * 1.3


def _foot_height(furniture: Furniture, width: float) -> float:
    return 20.0 + len(_foot_lines(furniture, width)) * _SMALL * 1.3


def _furnished(canvas: Canvas, furniture: Furniture, size: Size, place: str) -> Surface:
    """Draw head and foot; return the page to draw on between them."""
    top, width = size[1] - _MARGIN, size[0] - 2 * _MARGIN
    head, foot = _head_height(furniture, width), _foot_height(furniture, width)
    page = Surface(canvas, size, top=top - head, bottom=_MARGIN + foot)
    page.text(page.left, top - 9.0, furniture.title, size=11.0, bold=True)
    page.text(page.right, top - 9.0, place, anchor="end")
    page.text(page.left, top - 20.0, furniture.job, size=_SIZE, bold=True)
    for row, words in enumerate(_head_lines(furniture, width)):
        page.text(page.left, top - 29.0 - row * _SMALL * 1.3, words, size=_SMALL, grey=0.25)
    page.line((page.left, page.top + 4.0), (page.right, page.top + 4.0), width=0.9)
    page.line((page.left, page.bottom - 6.0), (page.right, page.bottom - 6.0), width=0.9)
    for row, words in enumerate(_foot_lines(furniture, width)):
        page.text(page.left, page.bottom - 15.0 - row * _SMALL * 1.3, words, size=_SMALL)
    return page
