"""The job-briefing sheet of one structure, ready to be shown or printed."""

from __future__ import annotations

from typing import Any

from linemap.domain.crew.briefing import NEAR_M, briefing
from linemap.service.view.view import JobView

__all__ = ["briefing_sheet"]


def briefing_sheet(
    view: JobView, line: str, number: str, *, within_m: float = NEAR_M, hospital: str = ""
) -> dict[str, Any]:
    """Return the content of the sheet as plain texts and lists; the lines to write on are the page's.

    Parameters
    ----------
    view : JobView
        As its reader may see it.
    line, number : str
        The structure; the line may be "" when the job has one.
    within_m : float
        Crossings and waters within this ground distance are listed, metres.
    hospital : str
        As the owner entered it.

    Raises
    ------
    NotFound
        If the job has no such structure.
    """
    row = view.row(line, number)
    key = view.key(row)
    sheet = briefing(
        view.figures,
        row,
        crossings=view.crossings,
        features=view.context,
        holds=view.holds_by_row.get(row, ()),
        poles=view.poles_by_structure.get(key, ()),
        within_m=within_m,
        hospital=hospital,
    )
    return {
        "line": sheet.line,
        "number": sheet.number,
        "as_of": view.as_of.isoformat(),
        "subjects": [
            {"key": subject.key, "heading": subject.heading, "reminders": list(subject.reminders)}
            for subject in sheet.subjects
        ],
        "coordinates": [{"format": name, "text": text} for name, text in sheet.coordinates],
        "road_point": sheet.road_point,
        "hospital": sheet.hospital,
        "cautions": list(sheet.cautions),
    }
