"""Exceptions of the survey and open punch items, a page for each crew."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from linemap.report.flow import Block, Column, Grid, Words, flow_pdf
from linemap.report.paper import PORTRAIT, Paper, TitleBlock

__all__ = ["CrewExceptions", "ExceptionRow", "exceptions_pdf"]

_COLUMNS = (
    Column(name="structure", share=0.8),
    Column(name="verdict", share=1.1),
    Column(name="what was found, and its likely cause", share=4.2),
    Column(name="done, by, on", share=1.5),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExceptionRow:
    """One structure whose survey or record needs somebody."""

    number: str
    station: str
    verdict: str
    #: Residuals and findings in sentences; then causes, which are proposed and not applied.
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewExceptions:
    """What concerns one crew."""

    #: As recorded; words that say so where none was.
    crew: str
    rows: tuple[ExceptionRow, ...]
    #: Open punch items in sentences.
    punch: tuple[str, ...]


def exceptions_pdf(
    title_block: TitleBlock, crews: Iterable[CrewExceptions], *, paper: Paper = "letter"
) -> bytes:
    """Return the lists, each crew from a new page on; one page that says so when there is nothing."""
    blocks = [block for crew in crews for block in _blocks(crew)]
    nothing = Block(parts=(Words(text="No exception and no open punch item is recorded.", size=9.0),))
    return flow_pdf(title_block, blocks or [nothing], size=PORTRAIT[paper])


def _blocks(crew: CrewExceptions) -> Iterable[Block]:
    found, items = len(crew.rows), len(crew.punch)
    counts = (
        f"{found} exception{'' if found == 1 else 's'} of survey and record, "
        f"{items} open punch item{'' if items == 1 else 's'}"
    )
    yield Block(
        new_page=True,
        parts=(Words(text=crew.crew, size=14.0, bold=True), Words(text=counts, size=8.5)),
    )
    if crew.rows:
        yield Block(parts=(Grid(columns=_COLUMNS, rows=tuple(map(_row, crew.rows))),))
    if crew.punch:
        told = (Words(text=f"[  ] {words}", size=8.5) for words in crew.punch)
        yield Block(parts=(Words(text="Punch list", size=10.0, bold=True), *told))


def _row(row: ExceptionRow) -> tuple[str, ...]:
    return (f"{row.number} {row.station}", row.verdict, "; ".join(row.sentences), "")
