"""The as-set table with red marks on paper: every structure with its numbers, cause, decision and source."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable, Table

from linemap.report import Paper
from linemap.report.flow import Block, Words, flow_pdf
from linemap.report.lettering import BOLD, PLAIN, paragraph, printable
from linemap.report.palette import OFFICE
from linemap.report.paper import LANDSCAPE, TitleBlock
from linemap.report.red_marks import POLE_COLUMNS, MarkedStructure, MarkSheet, texts_of

_SIZE, _SMALL, _LINE = 7.6, 6.6, 10.5
_INK, _GREY, _RED = (HexColor(OFFICE[name].day) for name in ("ink", "muted", "verdict-fail"))
#: Column -> where it ends from the left margin, points; numbers end at the right of theirs.
_ENDS = {
    "structure": 112.0,
    "pole": 126.0,
    "design N": 176.0,
    "design E": 237.0,
    "set N": 300.0,
    "set E": 361.0,
    "ahead": 396.0,
    "right": 429.0,
    "sigma": 459.0,
    "measured": 566.0,
    "residuals": 732.0,
}
_NAMES = tuple(_ENDS)
_WIDTHS = [end - start for start, end in zip((0.0, *_ENDS.values()), _ENDS.values(), strict=False)]
_NUMBERS = slice(_NAMES.index("design N"), _NAMES.index("measured"))
#: What a person must see is printed in red in these columns, first and last; so is the structure.
_MARKED = ((_NAMES.index("set N"), _NAMES.index("right")), (_NAMES.index("residuals"),) * 2)
_STYLE = (
    ("FONT", (0, 0), (-1, -1), PLAIN, _SIZE, _LINE),
    ("TEXTCOLOR", (0, 0), (-1, -1), _INK),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("ALIGN", (_NUMBERS.start, 0), (_NUMBERS.stop - 1, -1), "RIGHT"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
    ("LEFTPADDING", (_NUMBERS.stop, 0), (_NUMBERS.stop, -1), 11.0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 2.0),
    ("TOPPADDING", (0, 0), (-1, -1), 0.0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.0),
)


def red_marks_pdf(sheet: MarkSheet, *, paper: Paper = "letter") -> bytes:
    """Return the sheets: every structure with design, as set, difference, cause, decision and source.

    Structures that need a person are printed in red and say so in words too. Pages are landscape.
    """
    title_block = TitleBlock(
        title="As-set table and red marks",
        job=sheet.job,
        lines=sheet.lines,
        version=f"data version {sheet.data_version}, as of {sheet.data_date}",
        cautions=(sheet.caution,),
        source=sheet.source,
    )
    return flow_pdf(title_block, _blocks(sheet), size=LANDSCAPE[paper], headings=_headings())


def _blocks(sheet: MarkSheet) -> Iterator[Block]:
    yield _words_block(_front(sheet))
    for each in sheet.structures:
        yield Block(parts=(_numbers(each), *_notes(each)))
    if sheet.decisions:
        yield _words_block(
            ["Decisions, oldest first; a later one on the same cause takes the place of an earlier one"]
        )
    for one in sheet.decisions:
        yield _words_block([one.words])


def _front(sheet: MarkSheet) -> list[str]:
    return [
        f"Declared: {sheet.declared}",
        f"Structures: {sheet.counts}",
        "Differences: as set minus design in the structure's frame, ahead + and right +, rotation clockwise "
        f"+; lengths in {sheet.unit} on the ground; ± is one standard deviation. "
        "A set position of several shots is their mean and says so; the workbook lists every shot.",
        *(f"Correction in force: {words}" for words in sheet.corrections),
        *(f"Check-in: {words}" for words in sheet.check_ins),
    ]


def _words_block(texts: list[str]) -> Block:
    return Block(parts=tuple(Words(text=text, colour=_INK) for text in texts))


def _headings() -> Flowable:
    return Table(
        [list(_NAMES)],
        colWidths=_WIDTHS,
        hAlign="LEFT",
        style=[*_STYLE, ("FONT", (0, 0), (-1, -1), BOLD, _SMALL, _SMALL)],
    )


def _numbers(each: MarkedStructure) -> Table:
    """Return one row whose cells have a line for each pole, and for each residual."""
    colour = _RED if each.marked else _INK
    name = [
        paragraph(each.number, size=10.0, bold=True, colour=colour, lead=1.1),
        paragraph(each.station, size=_SMALL, colour=_GREY),
        paragraph(each.verdict, bold=True, colour=colour, lead=1.3),
    ]
    poles = zip(*(texts_of(pole)[: len(POLE_COLUMNS)] for pole in each.poles), strict=True)
    residuals = [f"{what} {value}" for what, value in each.residuals]
    return Table(
        [[name, *("\n".join(map(printable, column)) for column in (*poles, residuals))]],
        colWidths=_WIDTHS,
        hAlign="LEFT",
        style=[
            *_STYLE,
            ("FONT", (1, 0), (1, 0), BOLD, _SIZE, _LINE),
            ("TEXTCOLOR", (_NUMBERS.stop, 0), (_NUMBERS.stop, 0), _GREY),
            *(("TEXTCOLOR", (first, 0), (last, 0), colour) for first, last in _MARKED),
        ],
    )


def _notes(each: MarkedStructure) -> Iterator[Words]:
    """Say what was found, decided and read from."""
    sources = [
        each.source,
        each.surveyed_on and f"surveyed {each.surveyed_on}",
        each.method and f"by {each.method}",
        "instrument and method not recorded" if each.source and not each.method else "",
    ]
    corrected = (
        f"{pole.letter} {pole.observed_north} N {pole.observed_east} E, corrected {pole.correction_north} N "
        f"{pole.correction_east} E"
        for pole in each.poles
        if pole.correction_north
    )
    statements = {
        "held": each.held,
        "observed": "; ".join(corrected),
        "found": "; ".join(each.findings),
        "likely cause": each.cause,
        "decision": each.decision,
        "decided by": each.decided_by,
        "from": "; ".join(part for part in sources if part),
    }
    for name, text in statements.items():
        if text:
            yield Words(text=f"{name}: {text}", size=_SMALL, colour=_GREY, indent=_ENDS["structure"])
