"""Every sheet a job prints: which structures, what is on them, and the PDF."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from linemap.answers.office import Selection
from linemap.domain.crew.hold import Hold
from linemap.errors import InputRefused, NotFound
from linemap.report import Paper, Sheet
from linemap.report.paper import TitleBlock
from linemap.report.sheets.card import briefing_pdf, card_pdf
from linemap.report.sheets.closeout import closeout_pdf
from linemap.report.sheets.progress import report_pdf, wall_pdf
from linemap.report.sheets.strip import strip_pdf
from linemap.report.sheets.tables import exceptions_pdf, marks_pdf, staking_pdf
from linemap.service.crew.field_card import mile_of
from linemap.service.progress.closeout import closeout_of
from linemap.service.progress.progress_page import period_answer, progress_answer
from linemap.service.record.claims import briefing_sheet
from linemap.service.sheets.sheet_content import card_of, exceptions_by_crew, wall_of
from linemap.service.sheets.sheet_strip import stretches_of
from linemap.service.survey.staking_table import staking_table
from linemap.service.view.lists import revisions_in_force
from linemap.service.view.marks import MARKS_CAUTION, marks_of
from linemap.service.view.punch import punch_by_structure
from linemap.service.view.structure import holds_to_come
from linemap.service.view.view import CAUTION, JobView
from linemap.store.database import Database

_TITLES: Mapping[Sheet, str] = MappingProxyType(
    {
        "briefing": "Job briefing",
        "card": "Structure card",
        "closeout": "Records by section",
        "exceptions": "Exceptions by crew",
        "marks": "Framing marks",
        "report": "Progress report",
        "staking": "Staking table",
        "strip": "Plan and profile",
        "wall": "Progress strip",
    }
)
_HOLDS_CAUTION = "A hold that nobody entered is not here. Read the holds again on the day."


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Which structures a sheet or file is of; nothing chosen = all. Several choices must all hold."""

    #: Structure numbers, in any order.
    structures: tuple[str, ...] = ()
    #: The line they are on, "" = all lines, or the only one.
    line: str = ""
    #: Of this mile alone, as numbers name it.
    mile: int | None = None
    #: Where this crew has recorded anything.
    crew: str = ""
    #: From and to these, in line order and both included; they are on one line.
    first: str = ""
    last: str = ""


#: Nothing chosen.
EVERYTHING = Chosen()


def sheet_pdf(
    database: Database,
    view: JobView,
    sheet: Sheet,
    *,
    chosen: Chosen | None = None,
    paper: Paper = "letter",
) -> bytes:
    """Return one sheet as a PDF, the same bytes for the same data; all structures when none are chosen.

    `view` is as a crew may see it, since paper goes from hand to hand; `database` names the revisions in
    force.

    Raises
    ------
    NotFound
        If the job has no such line, structure or mile, or no record of such a crew.
    """
    chosen = chosen or Chosen()
    day = view.as_of
    known = f", as known by {view.when.known_by}" if view.when.known_by else ""
    cautions = (CAUTION, _HOLDS_CAUTION, *((MARKS_CAUTION,) if sheet in ("card", "marks", "strip") else ()))
    with database.reading() as connection:
        lists = revisions_in_force(connection, view.when)
    names = [line.name for line in view.figures.lines]
    title = TitleBlock(
        title=_TITLES[sheet],
        job=view.name,
        lines=tuple(": ".join(filter(None, (name, lists.get(name)))) for name in names),
        version=f"data version {view.data_version}, as of {day}{known}; holds as of {day}",
        cautions=cautions,
        source=view.source,
    )
    return _made(view, sheet, chosen_rows(view, chosen), chosen, title, paper)


def rows_of(view: JobView, chosen: Chosen) -> list[int] | None:
    """Return the rows that are chosen (`chosen_rows`); None = nothing is chosen: all, if there are any."""
    return None if chosen == EVERYTHING else chosen_rows(view, chosen)


def chosen_rows(view: JobView, chosen: Chosen) -> list[int]:
    """Return the rows that are chosen, in line order.

    Raises
    ------
    NotFound
        If there is none, or no such line, structure or mile, or no record of such a crew.
    InputRefused
        If the first and the last structure are not on one line, or not in line order.
    """
    _check_line(view, chosen.line)
    if chosen.structures:
        rows = sorted({view.row(chosen.line, number) for number in chosen.structures})
    else:
        rows = [row for row in range(len(view.figures)) if chosen.line in ("", view.key(row)[0])]
    if chosen.first or chosen.last:
        low, high = _range(view, chosen)
        rows = [row for row in rows if low <= row <= high]
    if chosen.mile is not None:
        rows = [row for row in rows if mile_of(view, row) == chosen.mile]
    if chosen.crew:
        rows = [row for row in rows if _worked_at(view, row, chosen.crew)]
    if not rows and not len(view.figures):
        raise NotFound(view.waits[0].words)
    if not rows:
        raise NotFound(f"the job has no structure of {_named(chosen)}: check the mile and the crew's name")
    return rows


def _range(view: JobView, chosen: Chosen) -> tuple[int, int]:
    """Return the rows of the first and the last structure; where one is not named, the end of its line."""
    named = [view.row(chosen.line, number) for number in (chosen.first, chosen.last) if number]
    line = view.figures.line_index[named[0]]
    mine = np.flatnonzero(view.figures.line_index == line)
    low = named[0] if chosen.first else int(mine[0])
    high = named[-1] if chosen.last else int(mine[-1])
    if low > high or view.figures.line_index[high] != line:
        words = f"{chosen.first} to {chosen.last}"
        remedy = "name the one further back first, both on one line"
        raise InputRefused.at("from, to", words, "is no stretch of a line", remedy)
    return low, high


def selection_answer(view: JobView, chosen: Chosen) -> Selection:
    """Return how many structures are chosen, and the first and last of them."""
    rows = chosen_rows(view, chosen)
    first, last = (view.named(view.key(row)) for row in (rows[0], rows[-1]))
    words = f"{len(rows):,} of {len(view.figures):,} structures: {first} to {last}"
    return Selection(count=len(rows), words=words if len(rows) > 1 else f"one structure: {first}")


def _check_line(view: JobView, line: str) -> None:
    names = [one.name for one in view.figures.lines]
    if line and line not in names:
        raise NotFound(f"the job has no line {line}; it has {', '.join(names)}")


def _worked_at(view: JobView, row: int, crew: str) -> bool:
    line, number = view.key(row)
    recorded = any(event.crew == crew for event in view.events_by_structure.get((line, number), ()))
    return recorded or any(item.owner == crew for item in punch_by_structure(view).get((line, number), ()))


def _named(chosen: Chosen) -> str:
    parts = (
        ", ".join(chosen.structures),
        "" if chosen.mile is None else f"mile {chosen.mile}",
        chosen.crew and f"crew {chosen.crew}",
        " to ".join(filter(None, (chosen.first, chosen.last))),
    )
    return " and ".join(part for part in parts if part)


def _holds(view: JobView, row: int) -> list[str]:
    held: Sequence[Hold] = view.holds_by_row.get(row, ())
    return [*(hold.sentence() for hold in held), *holds_to_come(view, row)]


def _made(
    view: JobView, sheet: Sheet, rows: Sequence[int], chosen: Chosen, title: TitleBlock, paper: Paper
) -> bytes:
    keys = [view.key(row) for row in rows]
    match sheet:
        case "briefing":
            sheets = [briefing_sheet(view, *key) for key in keys]
            return briefing_pdf(title, sheets, paper=paper)
        case "card":
            return card_pdf(title, [card_of(view, row) for row in rows], paper=paper)
        case "closeout":
            return closeout_pdf(title, closeout_of(view, line=chosen.line), paper=paper)
        case "exceptions":
            return exceptions_pdf(title, exceptions_by_crew(view, rows, crew=chosen.crew), paper=paper)
        case "marks":
            entries = [
                (marks_of(view, *view.key(row)), _holds(view, row), view.figures.called(row)) for row in rows
            ]
            return marks_pdf(title, entries, paper=paper)
        case "report":
            day = period_answer(view, first=view.as_of)
            return report_pdf(title, progress_answer(view, line=chosen.line), day, paper=paper)
        case "staking":
            return staking_pdf(title, staking_table(view, rows=rows), paper=paper)
        case "strip":
            return strip_pdf(title, stretches_of(view, rows), paper=paper)
        case "wall":
            return wall_pdf(title, wall_of(view, rows, line=chosen.line), paper=paper)
