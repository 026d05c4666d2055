"""Words as paper has them: the fonts, the signs they have, paragraphs and widths.

The font is DejaVu Sans, with the letters of Latin, Greek and Cyrillic scripts and common signs; a sign it
lacks is printed as a question mark. Lengths are points, 1/72 in.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from importlib.resources import as_file, files

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph
from reportlab.platypus.paraparser import ParaFrag

#: Names of the two fonts.
PLAIN, BOLD = "DejaVuSans", "DejaVuSans-Bold"
#: Size of words where none is given.
SIZE = 7.6

#: The blank between inches and a fraction of one: half a length, at the end of a line, reads as another one.
_FRACTION = re.compile(r"(?<=\d) (?=\d+/\d+\")")


@cache
def use_fonts() -> None:
    """Make the fonts known to reportlab."""
    for name in (PLAIN, BOLD):
        with as_file(files("linemap.report").joinpath("fonts", f"{name}.ttf")) as path:
            pdfmetrics.registerFont(TTFont(name, str(path)))


def printable(text: str) -> str:
    """Return the text as one line with the signs that the fonts have, letters composed."""
    use_fonts()
    if text.isascii() and text.isprintable():
        return text
    glyphs = pdfmetrics.getFont(PLAIN).face.charToGlyph
    composed = unicodedata.normalize("NFC", text.translate({9: " ", 10: " "}))
    return "".join(sign if ord(sign) in glyphs else "?" for sign in composed)


def paragraph(
    text: str,
    *,
    size: float = SIZE,
    bold: bool = False,
    colour: Color | None = None,
    indent: float = 0.0,
    lead: float = 1.3,
    right: bool = False,
    after: float = 0.0,
) -> Paragraph:
    """Return words that are wrapped where they stand; words longer than a line are broken.

    Inches and their fraction stay on one line. The text is as it is to be read, not markup. `lead` is the
    height of a line as so many sizes, `indent` is from the left, `right` true when lines end at the right,
    `after` is left free below. No colour is black.
    """
    style = _style(size, bold, colour, indent, lead, right, after)
    # what the text would be parsed to; it has no markup
    piece = ParaFrag(
        text=_FRACTION.sub("\u00a0", printable(text)).strip(),
        fontName=style.fontName, fontSize=size, textColor=style.textColor,
        rise=0, greek=0, bold=0, italic=0, link=[], us_lines=[],
    )  # fmt: skip
    return _Measured("", style, frags=[piece])


class _Measured(Paragraph):  # type: ignore[misc]
    """A paragraph whose lines are broken once for a width, however often its height is asked for."""

    _for_width: float | None = None
    _size: tuple[float, float]

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: N803 - reportlab's names
        """Return width and height."""
        if availWidth != self._for_width or not hasattr(self, "blPara"):  # which splitting may take away
            self._for_width, self._size = availWidth, super().wrap(availWidth, availHeight)
        return self._size


@cache
def _style(
    size: float, bold: bool, colour: Color | None, indent: float, lead: float, right: bool, after: float
) -> ParagraphStyle:
    return ParagraphStyle(
        name="words",
        fontName=BOLD if bold else PLAIN,
        fontSize=size,
        leading=size * lead,
        textColor=colour or Color(0, 0, 0),
        leftIndent=indent,
        alignment=TA_RIGHT if right else TA_LEFT,
        spaceAfter=after,
    )


def text_width(text: str, *, size: float = SIZE, bold: bool = False) -> float:
    """Return how wide one line of words is, points."""
    return float(pdfmetrics.stringWidth(printable(text), BOLD if bold else PLAIN, size))
