"""One structure on paper: its card, and the job-briefing sheet with lines to write on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import segno

from linemap.answers.structure import Frame
from linemap.domain.crew.briefing import CAUTIONS, Briefing, Subject
from linemap.report import Paper
from linemap.report.flow import Block, Part, Rules, Words, flow_pdf
from linemap.report.lettering import paragraph
from linemap.report.paper import HALF, PORTRAIT, Surface, TitleBlock, draw_pages

_SKETCH = 98.0
_NOTE = 6.5
_HEADING = 10.4
#: Points kept for words that say that more is on the page of the structure.
_LAST_LINE = 11.0
#: Length of the lines back and ahead in the sketch.
_WAY = 39.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What one card says."""

    number: str
    #: Plain code that names the structure when the paper is keyed back in; also in the square code.
    code: str
    #: Station with its region, type, turn, spans: one line each.
    facts: tuple[str, ...]
    #: Neighbours, or the end of the line.
    back: str
    ahead: str
    frame: Frame
    #: What is said beside a pole, by what it is called: "75 ft, class 2".
    poles: Mapping[str, str]
    #: Heading and its sentences, the most important first.
    notes: tuple[tuple[str, tuple[str, ...]], ...]


def card_pdf(title_block: TitleBlock, cards: Sequence[Card], *, paper: Paper = "letter") -> bytes:
    """Return one page for each card; "letter" gives half letter, "a4" gives A5.

    What does not fit on the side is left out from the end, and the card says how many sentences are.
    """
    return draw_pages(title_block, [partial(_draw, card) for card in cards], size=HALF[paper])


def _draw(card: Card, page: Surface) -> None:
    side = _square(card, page)
    page.text(page.left, page.top - 27.0, card.number, size=30.0, bold=True)
    page.text(page.left, page.top - 39.0, f"code {card.code}", size=8.0)
    y = page.top - 43.0
    for words in card.facts:
        y = page.paragraph(page.left, y, words, page.width - side - 10.0, size=8.0)
    middle = min(y, page.top - side - 12.0) - 8.0 - _SKETCH / 2
    _sketch(card, page, middle)
    _notes(card, page, middle - _SKETCH / 2 - 10.0)


def _square(card: Card, page: Surface) -> float:
    """Draw the square code in the top right corner; return its side."""
    rows = [[bool(cell) for cell in row] for row in segno.make_qr(card.code, error="m").matrix]
    cell = 2.6
    side = len(rows) * cell
    page.cells(page.right - side, page.top - 4.0, rows, cell)
    return side


def _sketch(card: Card, page: Surface, y: float) -> None:
    """Draw the plan, ahead up: line back and ahead, arm, poles."""
    x = (page.left + page.right) / 2
    frame = card.frame
    _way(page, (x, y), frame.back_deg, f"back {card.back}".strip())
    _way(page, (x, y), frame.ahead_deg, f"AHEAD {card.ahead}".strip(), arrow=True)
    reach = max((math.hypot(right, ahead) for _, right, ahead in frame.poles), default=1.0) or 1.0
    scale = 58.0 / reach
    places = [(x + right * scale, y + ahead * scale) for _, right, ahead in frame.poles]
    page.path(places, width=2.2)
    outer = [min(place[0] for place in places), max(place[0] for place in places)] if places else []
    for (name, _, _), (at, up) in zip(frame.poles, places, strict=True):
        words = card.poles.get(name, "")
        size = 12.0 if len(name) < 3 else 5.0
        page.circle(at, up, 10.0, width=1.4, fill=1.0)
        page.text(at, up - 0.35 * size, name, size=size, bold=True, anchor="middle")
        if at == outer[0]:
            page.text(at - 14.0, up - 2.6, words, size=6.8, anchor="end")
        elif at == outer[-1]:
            page.text(at + 14.0, up - 2.6, words, size=6.8)
        else:
            # on the side that the line back leaves free
            free = -1.0 if math.sin(math.radians(frame.back_deg)) > 0.05 else 1.0
            page.text(at + 8.0 * free, up - 20.0, words, size=6.8, anchor="start" if free > 0 else "end")
    if not frame.to_scale:
        page.text(x, y - _SKETCH / 2 - 8.0, "spacing not known, not to scale", size=6.4, anchor="middle")


def _way(page: Surface, at: tuple[float, float], degrees: float, words: str, *, arrow: bool = False) -> None:
    turn = math.radians(degrees)
    end = (at[0] + _WAY * math.sin(turn), at[1] + _WAY * math.cos(turn))
    page.line(at, end, width=1.0, dash=(4, 3))
    beyond = 10.0 if math.cos(turn) > 0 else -15.0
    page.text(end[0], end[1] + beyond - 3.0 * (beyond > 0), words, size=8.0, bold=True, anchor="middle")
    if arrow:
        sides = [(end[0] - 7.0 * math.sin(turn + s), end[1] - 7.0 * math.cos(turn + s)) for s in (-0.5, 0.5)]
        page.path([sides[0], end, sides[1]], width=1.0)


def _notes(card: Card, page: Surface, y: float) -> None:
    """Write the notes; from the first sentence that does not fit, with its heading, all are left out."""
    left_out = 0
    for heading, sentences in card.notes:
        for place, words in enumerate(sentences):
            high = paragraph(words, size=_NOTE).wrap(page.width - 8.0, page.top)[1]
            above = 0.0 if place else _HEADING
            if left_out or y - above - high < page.bottom + _LAST_LINE:
                left_out += 1
                continue
            if not place:
                page.text(page.left, y - 10.0, heading, size=7.6, bold=True)
            y = page.paragraph(page.left + 8.0, y - above, words, page.width - 8.0, size=_NOTE)
    if left_out:
        more = "1 more sentence is" if left_out == 1 else f"{left_out} more sentences are"
        words = f"{more} on the page of the structure: read there what is not here"
        page.text(page.left, page.bottom + 2.0, words, size=7.0, bold=True)


#: Lines to write on under each subject, and rows of two names.
_LINES = 2
_NAMES = 5


def briefing_pdf(
    title_block: TitleBlock,
    structures: Iterable[Briefing],
    *,
    paper: Paper = "letter",
) -> bytes:
    """Return the sheets, a page a structure."""
    return flow_pdf(title_block, map(_block, structures), size=PORTRAIT[paper])


def _block(entry: Briefing) -> Block:
    place = [f"{name}: {text}" for name, text in entry.coordinates]
    return Block(
        new_page=True,
        parts=(
            Words(text=entry.number, size=16.0, bold=True),
            Rules(count=1, columns=2, labels=("date and time", "person in charge")),
            *(Words(text=words, size=8.5) for words in CAUTIONS),
            *(part for subject in entry.subjects for part in _subject(subject)),
            Words(text="Where this is, for whoever must be told", size=9.5, bold=True),
            *(Words(text=words, size=8.5) for words in place),
            Words(text=f"road: {entry.road_point or 'not available'}", size=8.5),
            *(Words(text=words, size=8.5) for words in entry.help),
            Words(text="Names of those briefed", size=9.5, bold=True),
            Rules(count=_NAMES, columns=2),
        ),
    )


def _subject(subject: Subject) -> tuple[Part, ...]:
    return (
        Words(text=subject.heading, size=9.5, bold=True),
        *(Words(text=f"- {words}", size=8.5) for words in subject.reminders),
        Rules(count=_LINES),
    )
