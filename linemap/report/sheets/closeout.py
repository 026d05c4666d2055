"""The closeout matrix on paper: the numbers by section, then the structures that lack something, by name."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from linemap.answers.progress import Closeout, CloseoutRow
from linemap.report import Paper
from linemap.report.flow import Block, Column, Grid, Words, flow_pdf
from linemap.report.paper import LANDSCAPE, TitleBlock

#: Columns of sections that stand beside each other on a page.
_BESIDE = 6


def closeout_pdf(title_block: TitleBlock, found: Closeout, *, paper: Paper = "letter") -> bytes:
    """Return the matrix, six sections beside each other, and under it what each section lacks."""
    return flow_pdf(title_block, _blocks(found), size=LANDSCAPE[paper])


def _blocks(found: Closeout) -> Iterator[Block]:
    yield Block(parts=(Words(text=found.words, size=9.0),))
    for first in range(0, len(found.columns), _BESIDE):
        chosen = range(first, min(first + _BESIDE, len(found.columns)))
        columns = (
            Column(name="", share=2.4),
            *(Column(name=found.columns[index], right=True) for index in chosen),
        )
        rows = tuple((row.words, *(row.cells[index].text for index in chosen)) for row in found.rows)
        yield Block(parts=(Grid(columns=columns, rows=rows),))
    for index, name in enumerate(found.columns):
        lacking = tuple(_lacking(found.rows, index))
        if lacking:
            columns = (Column(name="lacking", share=1.0), Column(name="structures", share=4.0))
            yield Block(
                parts=(Words(text=name, size=11.0, bold=True), Grid(columns=columns, rows=lacking)),
            )


def _lacking(rows: Iterable[CloseoutRow], index: int) -> Iterator[tuple[str, str]]:
    for row in rows:
        cell = row.cells[index]
        if cell.missing_list:
            names = ", ".join(place.number for place in cell.missing_list)
            yield f"{row.words}: {cell.text}", names
