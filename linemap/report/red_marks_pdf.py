"""The as-set table with red marks on paper: vector sheets with their fonts, the same bytes for the same data.

Fonts are the Bitstream Vera that reportlab carries (Latin, Greek mu, common signs). A sign they lack is
printed as a question mark; the workbook keeps every sign.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from linemap.report.mark_sheet import MarkedPole, MarkedStructure, MarkSheet
from linemap.report.paper import BOLD, LANDSCAPE, PLAIN, Paper, printable, use_fonts

__all__ = ["red_marks_pdf"]

_MARGIN = 34.0
_HEAD, _FOOT = 84.0, 42.0
_LINE = 10.5
_SIZE = 7.6
_SMALL = 6.6
_INK, _GREY, _RED = (0.08, 0.125, 0.17), (0.31, 0.36, 0.4), (0.72, 0.12, 0.08)
#: Where columns begin from the left margin, points; numbers end at theirs.
_LEFT = {"structure": 0.0, "pole": 112.0, "measured": 464.0, "residuals": 566.0}
_RIGHT = {
    "design N": 174.0,
    "design E": 235.0,
    "set N": 298.0,
    "set E": 359.0,
    "ahead": 394.0,
    "right": 427.0,
    "sigma": 457.0,
}
#: A text of more lines than this is cut: a block must fit on a page.
_MOST_LINES = 14


@dataclass(frozen=True, slots=True)
class _Text:
    """One piece of text of a block: from its left (or to its right) edge, `down` points under the top."""

    x: float
    down: float
    text: str
    font: str = PLAIN
    size: float = _SIZE
    colour: tuple[float, float, float] = _INK
    ends_at_x: bool = False


@dataclass(frozen=True, slots=True)
class _Block:
    """What stays together on one page."""

    height: float
    texts: tuple[_Text, ...]


def red_marks_pdf(sheet: MarkSheet, *, paper: Paper = "letter") -> bytes:
    """Return the sheets: every structure with design, as set, difference, cause, decision and source.

    Structures that need a person are printed in red and say so in words too. Each page names the job, its
    lines with their revisions, data version and date, the caution, and its place among the pages.

    Parameters
    ----------
    sheet : MarkSheet
    paper : {"letter", "a4"}
        Landscape.
    """
    use_fonts()
    width, height = LANDSCAPE[paper]
    room = height - 2 * _MARGIN - _HEAD - _FOOT
    pages = list(_paged(_blocks(sheet, width - 2 * _MARGIN), room))
    into = io.BytesIO()
    canvas = Canvas(into, pagesize=(width, height), invariant=1, pageCompression=1, initialFontName=PLAIN)
    canvas.setTitle(printable(f"{sheet.job}: as-set table and red marks"))
    canvas.setAuthor("linemap")
    canvas.setSubject(f"data version {sheet.data_version}, as of {sheet.data_date}")
    for number, blocks in enumerate(pages, start=1):
        _draw_frame(canvas, sheet, size=(width, height), page=(number, len(pages)))
        _draw_blocks(canvas, blocks, size=(width, height))
        canvas.showPage()
    canvas.save()
    return into.getvalue()


def _blocks(sheet: MarkSheet, width: float) -> Iterator[_Block]:
    yield _words_block(_front(sheet), width)
    for each in sheet.structures:
        yield _structure_block(each, width)
    if sheet.decisions:
        told = [
            f"{each.at}  {each.who}: {each.answer}: {each.cause}, {each.subject}"
            + (f" ({each.note})" * bool(each.note))
            for each in sheet.decisions
        ]
        yield _words_block(
            ["Decisions, oldest first; a later one on the same cause takes the place of an earlier one"],
            width,
        )
        for words in told:
            yield _words_block([words], width)


def _front(sheet: MarkSheet) -> list[str]:
    return [
        f"Declared: {sheet.declared}",
        f"Structures: {sheet.counts}",
        "Differences: as set minus design in the structure's frame, ahead + and right +, rotation clockwise "
        f"+; lengths in {sheet.unit} on the ground; ± is one standard deviation. "
        "A set position of several shots is their mean and says so; the workbook lists every shot.",
        *(f"Correction in force: {words}" for words in sheet.corrections),
    ]


def _words_block(paragraphs: Iterable[str], width: float) -> _Block:
    texts: list[_Text] = []
    down = 2.0
    for paragraph in paragraphs:
        for piece in _wrapped(paragraph, width):
            down += _LINE
            texts.append(_Text(0.0, down, piece))
        down += 2.0
    return _Block(down + 6.0, tuple(texts))


def _wrapped(text: str, width: float, *, size: float = _SIZE) -> list[str]:
    pieces: list[str] = simpleSplit(_broken(printable(text)), PLAIN, size, width)
    return (
        pieces
        if len(pieces) <= _MOST_LINES
        else [*pieces[: _MOST_LINES - 1], "… the workbook has it in full"]
    )


def _broken(text: str) -> str:
    """Break words too long for a line."""
    return " ".join(word[i : i + 90] for word in text.split() for i in range(0, len(word), 90))


def _structure_block(each: MarkedStructure, width: float) -> _Block:
    colour = _RED if each.marked else _INK
    texts = [
        _Text(0.0, _LINE, printable(each.number), BOLD, 10.0, colour),
        _Text(0.0, 2 * _LINE, printable(each.station), size=_SMALL, colour=_GREY),
    ]
    verdict = _wrapped(each.verdict, _LEFT["pole"] - 8.0)
    texts += [_Text(0.0, (3 + i) * _LINE, piece, BOLD, _SIZE, colour) for i, piece in enumerate(verdict)]
    for i, pole in enumerate(each.poles, start=1):
        texts += _pole_texts(pole, i * _LINE, colour)
    for i, (name, value) in enumerate(each.residuals, start=1):
        texts.append(_Text(_LEFT["residuals"], i * _LINE, f"{name} {value}", colour=colour))
    rows = max(len(each.poles), len(each.residuals), 2 + len(verdict))
    return _with_notes(texts, rows * _LINE, each, width)


def _pole_texts(pole: MarkedPole, down: float, colour: tuple[float, float, float]) -> list[_Text]:
    numbers = (
        (pole.design_north, _INK),
        (pole.design_east, _INK),
        (pole.set_north, colour),
        (pole.set_east, colour),
        (pole.ahead, colour),
        (pole.right, colour),
        (pole.sigma, _INK),
    )
    told = [
        _Text(x, down, text, PLAIN, _SIZE, ink, ends_at_x=True)
        for x, (text, ink) in zip(_RIGHT.values(), numbers, strict=True)
        if text
    ]
    return [
        _Text(_LEFT["pole"], down, pole.letter, BOLD),
        *told,
        _Text(_LEFT["measured"] + 6.0, down, pole.measured, colour=_GREY),
    ]


def _with_notes(texts: list[_Text], down: float, each: MarkedStructure, width: float) -> _Block:
    """Add what was found, decided and read from under the numbers."""
    found = (("likely cause", each.cause), ("decision", each.decision), ("decided by", each.decided_by))
    sources = [
        each.source,
        each.surveyed_on and f"surveyed {each.surveyed_on}",
        each.method and f"by {each.method}",
    ]
    known = "; ".join(part for part in sources if part)
    method = "" if each.method or not each.source else "; instrument and method not recorded"
    notes = [*found, ("from", f"{known}{method}" if known else "")]
    for name, text in notes:
        if text:
            for piece in _wrapped(f"{name}: {text}", width - _LEFT["pole"], size=_SMALL):
                down += _LINE - 1.0
                texts.append(_Text(_LEFT["pole"], down, piece, size=_SMALL, colour=_GREY))
    return _Block(down + 7.0, tuple(texts))


def _paged(blocks: Iterable[_Block], room: float) -> Iterator[list[_Block]]:
    page: list[_Block] = []
    used = 0.0
    for block in blocks:
        if page and used + block.height > room:
            yield page
            page, used = [], 0.0
        page.append(block)
        used += block.height
    yield page


def _draw_blocks(canvas: Canvas, blocks: Sequence[_Block], *, size: tuple[float, float]) -> None:
    width, height = size
    top = height - _MARGIN - _HEAD
    canvas.setLineWidth(0.4)
    canvas.setStrokeColorRGB(0.75, 0.75, 0.72)
    placed: list[tuple[_Text, float]] = []
    for block in blocks:
        placed += [(text, top) for text in block.texts]
        top -= block.height
        canvas.line(_MARGIN, top, width - _MARGIN, top)
    _write(canvas, placed)


def _write(canvas: Canvas, placed: Iterable[tuple[_Text, float]]) -> None:
    """Write texts, each under its top; a font or colour in force already is not set again."""
    told = canvas.beginText()
    font: tuple[str, float] | None = None
    colour: tuple[float, float, float] | None = None
    for text, top in placed:
        if font != (text.font, text.size):
            font = (text.font, text.size)
            told.setFont(*font)
        if colour != text.colour:
            colour = text.colour
            told.setFillColorRGB(*colour)
        shift = pdfmetrics.stringWidth(text.text, text.font, text.size) if text.ends_at_x else 0.0
        told.setTextOrigin(round(_MARGIN + text.x - shift, 2), round(top - text.down, 2))
        told.textOut(text.text)
    canvas.drawText(told)


def _draw_frame(
    canvas: Canvas, sheet: MarkSheet, *, size: tuple[float, float], page: tuple[int, int]
) -> None:
    """Draw what every page carries: head with the headings of the columns, caution, page number."""
    width, height = size
    top = height - _MARGIN
    version = f"data version {sheet.data_version}, as of {sheet.data_date}"
    placed = [(text, top) for text in _head_texts(sheet, width - 2 * _MARGIN, version)]
    canvas.setStrokeColorRGB(*_INK)
    canvas.setLineWidth(0.9)
    canvas.line(_MARGIN, top - _HEAD, width - _MARGIN, top - _HEAD)
    canvas.line(_MARGIN, _MARGIN + _FOOT - 8.0, width - _MARGIN, _MARGIN + _FOOT - 8.0)
    foot = _MARGIN + _FOOT - 20.0
    caution = _wrapped(sheet.caution, width - 2 * _MARGIN - 90.0)
    placed += [(_Text(0.0, i * _LINE, piece), foot) for i, piece in enumerate(caution)]
    words = f"page {page[0]} of {page[1]}"
    placed.append((_Text(width - 2 * _MARGIN, 0.0, words, ends_at_x=True), foot))
    _write(canvas, placed)


def _head_texts(sheet: MarkSheet, width: float, version: str) -> list[_Text]:
    lines = [piece for words in sheet.lines for piece in _wrapped(words, width)]
    more = [f"and {len(lines) - 3} more"] if len(lines) > 4 else []
    lines = lines[:3] + (more or lines[3:4])
    headings = [
        *(_Text(x, _HEAD - 5.0, name, BOLD, _SMALL) for name, x in _LEFT.items() if name != "measured"),
        _Text(_LEFT["measured"] + 6.0, _HEAD - 5.0, "measured", BOLD, _SMALL),
        *(_Text(x, _HEAD - 5.0, name, BOLD, _SMALL, ends_at_x=True) for name, x in _RIGHT.items()),
    ]
    return [
        _Text(0.0, 12.0, "As-set table and red marks", BOLD, 13.0),
        _Text(width, 12.0, version, BOLD, ends_at_x=True),
        _Text(0.0, 27.0, printable(sheet.job), BOLD, 9.0),
        *(_Text(0.0, 39.0 + i * _LINE, piece) for i, piece in enumerate(lines)),
        *headings,
    ]
