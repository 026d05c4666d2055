"""Progress on paper: the strip for the wall, and the report of a day or period."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from linemap.answers.progress import Blocker, Period, Place, Progress, StepCount
from linemap.domain.schedule.progress import MileRow
from linemap.report import Paper
from linemap.report.along import SIGNS, Cell
from linemap.report.flow import Block, Column, Grid, Words, flow_pdf
from linemap.report.paper import LANDSCAPE, PORTRAIT, Surface, TitleBlock, draw_pages, page_room

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


_COUNTS = (
    Column(name="step", of="words", share=1.6),
    Column(name="done", of="done", right=True),
    Column(name="open", of=lambda count: str(count.of - count.done), right=True),
    Column(name="of", of="of", right=True),
    Column(name="by count", of="percent_text", share=1.4, right=True),
    Column(name="by weight", of="weighted_text", share=1.4, right=True),
)
_SECTIONS = (
    Column(name="section", of="words", share=1.7),
    Column(name="set", of=lambda section: f"{section.done} of {section.of}", share=0.8, right=True),
    Column(name="not ready: lacks", of=lambda section: _lacks(section.blockers), share=3.6),
    Column(name="wire held", of=lambda section: ", ".join(section.wire_holds), share=0.8),
    Column(name="last structure set, 80 % range", of="forecast_text", share=2.2),
)
_MILES = (
    Column(name="set", of=lambda row: f"{row.done} of {row.of}", right=True),
    Column(name="passed by", of=lambda row: ", ".join(row.holes), share=2.4),
    Column(name="not set", of=lambda row: _numbers(row.open_list), share=3.2),
    Column(name="spans with both structures set", of="spans_text", share=2.0, right=True),
)
_CREWS = (
    Column(name="crew", of="crew"),
    Column(
        name="units, each counted once",
        of=lambda one: ", ".join(f"{step.count} {step.words}" for step in one.steps),
        share=6.0,
    ),
)
_PRECISION = (
    Column(name="crew", of=lambda one: f"{one.crew} {one.person}, by {one.method}", share=1.2),
    Column(name="checks", of="few_text", share=1.6),
    Column(name="turned", of="rotation_text", share=1.3),
    Column(name="along", of="along_text", share=1.4),
    Column(name="across", of="across_text", share=1.4),
    Column(name="spacing", of="spacing_text", share=1.4),
)
_DAY = (
    Column(name="crew", of="crew"),
    Column(name="done", of=lambda one: f"{one.count} {one.words}", share=1.3),
    Column(name="structures", of=lambda one: _numbers(one.list), share=4.0),
    Column(name="to date", of="to_date", share=0.7, right=True),
)
#: Structures named as lacking something, in a row of a section.
_NAMED = 6


def report_pdf(title_block: TitleBlock, standing: Progress, day: Period, *, paper: Paper = "letter") -> bytes:
    """Return where the job stands and the report of its last day, no table on two pages that fits one."""
    blocks = [_head(standing), *_cases(standing), _counts(standing), _sections(standing), _miles(standing)]
    blocks += [*_crews(standing), *_crew_checks(standing), _day(day)]
    return flow_pdf(title_block, blocks, size=PORTRAIT[paper])


def _numbers(places: Iterable[Place]) -> str:
    return ", ".join(place.number for place in places)


def _title(text: str) -> Words:
    return Words(text=text, size=10.0, bold=True)


def _head(standing: Progress) -> Block:
    known = f", as known by {standing.known_by}" if standing.known_by else ""
    line = f"{standing.line}: " if standing.line else ""
    headline, *rest = standing.forecast
    sentences = [*rest, *standing.windows, *standing.taken]
    return Block(
        parts=(
            Words(text=f"{line}as of {standing.as_of_text}{known}", size=12.0, bold=True),
            Words(text=standing.plan_text, size=9.0),
            Words(text=f"{standing.physical_text} of the work, by weight of types and steps", size=9.0),
            Words(text=f"weights of steps: {standing.weights_text}", size=7.5),
            Words(text=headline, size=9.0, bold=True),
            *(Words(text=f"- {words}", size=8.0) for words in sentences),
        )
    )


def _cases(standing: Progress) -> Iterable[Block]:
    """Give the open cases, each with who answers it; nothing where there is none."""
    if not standing.cases:
        return
    several = len(standing.lines) > 1
    yield Block(
        parts=(
            _title(f"Open cases: {len(standing.cases)}"),
            *(
                Words(
                    text=f"{each.line} {each.number}: {each.words}; to be answered by {each.asked}"
                    if several
                    else f"{each.number}: {each.words}; to be answered by {each.asked}",
                    size=8.0,
                )
                for each in standing.cases
            ),
        )
    )


def _counts(standing: Progress) -> Block:
    again = "; ".join(f"{one.number} {one.words}" for one in standing.rework)
    words = [Words(text=text) for text in _claimed(standing.counts)]
    words += [Words(text=f"work made again, no second unit: {again}")] if again else []
    return Block(
        parts=(_title("Counts by step, each unit once"), Grid.listing(_COUNTS, standing.counts), *words)
    )


def _claimed(counts: Iterable[StepCount]) -> Iterable[str]:
    """Say of each step how many are recorded without the evidence asked for; few are named."""
    for count in counts:
        names = [place.number for place in count.claimed_list]
        if names:
            named = f": {', '.join(names)}" if len(names) <= _NAMED else ""
            yield (
                f"claimed, not verified: {len(names)} of {count.done} {count.words}{named}; "
                f"asked for: {count.evidence_text}"
                + (f"; {len(count.noted_list)} have it in a note alone" if count.noted_list else "")
            )


def _sections(standing: Progress) -> Block:
    note = "Recorded steps only: nothing here permits pulling."
    return Block(
        parts=(_title("Wire sections"), Grid.listing(_SECTIONS, standing.sections), Words(text=note))
    )


def _lacks(blockers: Iterable[Blocker]) -> str:
    named = [f"{each.number} {', '.join(each.lacks)}" for each in blockers]
    more = f"; and {len(named) - _NAMED} more" if len(named) > _NAMED else ""
    return "; ".join(named[:_NAMED]) + more if named else "every step recorded"


def _miles(standing: Progress) -> Block:
    line = Column(name="line", of=lambda row: f"{standing.mile_word} {row.mile}")
    grid = Grid.listing((line, *_MILES), standing.miles)
    return Block(parts=(_title(f"By line {standing.mile_word}"), grid))


def _crews(standing: Progress) -> list[Block]:
    grid = Grid.listing(_CREWS, standing.crews)
    return [Block(parts=(_title("By crew"), grid))] if grid.rows else []


def _crew_checks(standing: Progress) -> list[Block]:
    """Tell what crews found at frames themselves, and how their checks compared with the survey."""
    newest = [f"{count.words}: {_numbers(count.list)}" for count in standing.crew_checks.newest]
    if not newest:
        return []
    grid = Grid.listing(_PRECISION, standing.crew_checks.precision)
    compared = [Words(text="By the survey that came after:"), grid] if grid.rows else []
    return [
        Block(parts=(_title("Crew checks, no survey"), *(Words(text=words) for words in newest), *compared))
    ]


def _day(day: Period) -> Block:
    grid = Grid.listing(_DAY, day.quantities)
    done = grid if grid.rows else Words(text="nothing is recorded as done")
    sentences = [*day.rework, *day.repeats, *(f"{note.number} {note.words}" for note in day.notes)]
    return Block(
        parts=(
            _title(f"Recorded on {day.first}"),
            done,
            *(Words(text=words) for words in sentences),
            Words(text=day.not_recorded),
        )
    )
