"""The job-briefing sheet of one structure."""

from __future__ import annotations

from linemap.domain.crew.briefing import NEAR_M, Briefing, briefing
from linemap.service.view.view import JobView

__all__ = ["briefing_sheet"]


def briefing_sheet(
    view: JobView, line: str, number: str, *, within_m: float = NEAR_M, hospital: str = ""
) -> Briefing:
    """Return the content of the sheet; the lines to write on are the page's.

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
    return briefing(
        view.figures,
        row,
        crossings=view.crossings,
        features=view.context,
        holds=view.holds_by_row.get(row, ()),
        poles=view.poles_by_structure.get(key, ()),
        within_m=within_m,
        hospital=hospital,
    )
