"""What the progress strip on paper shows: the rows, the signs and the counts of the progress page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from linemap.report.sheets.progress import Wall
from linemap.service.progress.progress import progress_of
from linemap.service.progress.progress_charts import strip_cells
from linemap.service.view.view import JobView


def wall_of(
    view: JobView,
    rows: Sequence[int],
    *,
    line: str = "",
    as_of: dt.date | None = None,
    known_by: dt.date | None = None,
) -> Wall:
    """Return the strip of the miles in which chosen structures stand, each mile whole.

    Parameters
    ----------
    view : JobView
    rows : sequence of int
        The chosen structures.
    line : str
        Of this line alone; "" = of all.
    as_of, known_by : datetime.date, optional
        What had happened by the end of a day, and was known by the end of one.
    """
    progress = progress_of(view, as_of=as_of, known_by=known_by, line=line)
    chosen = {view.key(row) for row in rows}
    return Wall(
        mile_word=progress.mile_word,
        rows=tuple(
            row for row in progress.miles if any((row.line, number) in chosen for number in row.structures)
        ),
        cells=strip_cells(view, progress),
        counts="; ".join(f"{count.words} {len(count.done)} of {count.of}" for count in progress.counts),
    )
