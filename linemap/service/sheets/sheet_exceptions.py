"""Exceptions of the survey and open punch items by the crew they concern."""

from __future__ import annotations

from collections.abc import Sequence

from linemap.domain.record.punch import PunchItem, punch_items
from linemap.domain.survey.verdict import Verdict
from linemap.domain.survey.words import residual_words
from linemap.report.sheets.tables import CrewExceptions, ExceptionRow
from linemap.service.view.columns import station_texts
from linemap.service.view.view import JobView

#: Stands for the crew where no record names one.
NO_CREW = "crew not recorded"
#: The crew of the last of these that is done answers for where the poles stand.
_PLACING = ("set", "framed", "dug", "spotted", "staked")


def exceptions_by_crew(view: JobView, rows: Sequence[int], *, crew: str = "") -> tuple[CrewExceptions, ...]:
    """Return what the survey and the inspector found, by crew in alphabetical order, without a crew last.

    A structure goes to the crew that set it, else framed, dug, spotted or staked it; a punch item to whom
    it names, else to the crew of its structure.

    Parameters
    ----------
    view : JobView
        As its reader may see it.
    rows : sequence of int
        Structures to look at, in line order.
    crew : str
        Of this crew alone; "" = of all.
    """
    stations = station_texts(view.figures)
    found: dict[str, list[ExceptionRow]] = {}
    listed = {*view.ledger.rows_on("exceptions").tolist()}
    for row in rows:
        if row in listed or _is_exception(view, row):
            found.setdefault(_crew_of(view, row), []).append(_row(view, row, str(stations[row])))
    punch: dict[str, list[str]] = {}
    chosen = set(rows)
    for item in punch_items(entry for entry in view.punch if entry.on <= view.as_of):
        at = _row_of(view, item)
        if item.open and (at is None or at in chosen):
            owner = item.owner or (NO_CREW if at is None else _crew_of(view, at))
            punch.setdefault(owner, []).append(item.sentence)
    names = sorted({*found, *punch}, key=lambda name: (name == NO_CREW, name))
    return tuple(
        CrewExceptions(crew=name, rows=tuple(found.get(name, ())), punch=tuple(punch.get(name, ())))
        for name in names
        if crew in ("", name)
    )


def _is_exception(view: JobView, row: int) -> bool:
    fine = (Verdict.PASS, Verdict.NOT_SURVEYED)
    return view.checks.verdict[row] not in fine or bool(view.checks.reversed[row])


def _crew_of(view: JobView, row: int) -> str:
    status = view.statuses.get(view.key(row))
    done = {} if status is None else status.done
    return next((done[step].crew for step in _PLACING if step in done and done[step].crew), NO_CREW)


def _row(view: JobView, row: int, station: str) -> ExceptionRow:
    residuals = residual_words(view.figures, view.checks, row)
    findings = (finding.words for finding in view.ledger.on("exceptions", row))
    causes = (f"likely cause, proposed: {cause.words}" for cause in view.causes_at(row))
    reversed_words = ", A and B reversed" if view.checks.reversed[row] else ""
    return ExceptionRow(
        number=str(view.figures.structures.number[row]),
        station=station,
        verdict=f"{view.checks.verdict[row]}{reversed_words}",
        sentences=(*dict.fromkeys((*residuals, *findings)), *causes),
    )


def _row_of(view: JobView, item: PunchItem) -> int | None:
    line = item.line or (view.figures.lines[0].name if len(view.figures.lines) == 1 else "")
    return view.row_of.get((line, item.structure))
