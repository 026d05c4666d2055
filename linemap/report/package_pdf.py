"""The as-set package on paper: what it is, its tables, and the space for seal and signature."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from reportlab.lib.colors import HexColor
from reportlab.platypus import Table

from linemap.report import Paper
from linemap.report.flow import Block, Column, Grid, Rules, Words, flow_pdf
from linemap.report.lettering import PLAIN
from linemap.report.package import (
    SIGNATURE,
    SIGNED,
    STATEMENT,
    Package,
    front_statements,
)
from linemap.report.package_tables import Col, PoleRow, package_tables
from linemap.report.palette import OFFICE
from linemap.report.paper import LANDSCAPE, TitleBlock
from linemap.report.red_marks import MarkedStructure

_INK = HexColor(OFFICE["ink"].day)
#: Width and height of the space for a seal, points.
_SEAL = (170.0, 120.0)
#: Tables that paper has no room for: every shot stands in the workbook.
_NOT_PRINTED = frozenset({"shots"})
#: Columns of a pole that stand with its structure.
_OF_STRUCTURE = frozenset({"line", "station", "verdict", "held", "surveyed on", "files and rows", "measured"})


def package_pdf(package: Package, *, paper: Paper = "letter") -> bytes:
    """Return the package as landscape pages, each with the statement that a licensed surveyor decides."""
    sheet = package.sheet
    title_block = TitleBlock(
        title="As-set package for examination by a licensed surveyor",
        job=sheet.job,
        lines=sheet.lines,
        version=f"data version {sheet.data_version}, as of {sheet.data_date}",
        cautions=(STATEMENT, sheet.caution),
        source=sheet.source,
    )
    return flow_pdf(title_block, _blocks(package), size=LANDSCAPE[paper])


def _blocks(package: Package) -> Iterator[Block]:
    yield Block(parts=(Words(text=STATEMENT, size=9.0, bold=True),))
    yield Block(parts=tuple(Words(text=f"{name}: {text}") for name, text in front_statements(package)))
    yield _signed()
    for name, columns, items in package_tables(package):
        if name not in _NOT_PRINTED:
            yield from _table(name, columns, items, whole=len(package.sheet.lines) > 1)
    if package.sheet.decisions:
        title = Words(text="decisions, oldest first; a later one on the same cause stands", bold=True)
        yield Block(parts=(title, *(Words(text=each.words) for each in package.sheet.decisions)))


def _table(name: str, columns: Sequence[Col], items: Sequence[object], *, whole: bool) -> Iterator[Block]:
    """Give the blocks of a table; `whole` = with the line of each row, where there are several."""
    title = Words(text=name, size=9.5, bold=True)
    if not items:
        yield Block(parts=(title, Words(text="none")))
        return
    if isinstance(items[0], PoleRow):
        yield Block(parts=(title, _grid(_structure_columns(), _structures(items), whole=whole)))
        columns = [column for column in columns if column.heading not in _OF_STRUCTURE]
        title = Words(text=f"{name}: their poles", size=9.5, bold=True)
    yield Block(parts=(title, _grid(columns, items, whole=whole)))


def _structures(rows: Iterable[object]) -> list[MarkedStructure]:
    return list({id(row.structure): row.structure for row in rows if isinstance(row, PoleRow)}.values())


def _structure_columns() -> tuple[Col, ...]:
    return (
        Col("line", "line", wide=22),
        Col("structure", "number", wide=13),
        Col("station", "station", wide=14),
        Col("verdict", "verdict", wide=14),
        Col("held", "held", wide=34),
        Col(
            "residuals", lambda each: "; ".join(f"{name} {value}" for name, value in each.residuals), wide=64
        ),
        Col("surveyed on", "surveyed_on", wide=15),
        Col("files and rows", "source", wide=36),
    )


def _grid(columns: Sequence[Col], items: Sequence[object], *, whole: bool) -> Grid:
    """Return a table as paper has room for it: what all its rows have in common stands on the first page."""
    return Grid.listing(
        tuple(
            Column(name=column.heading, of=column.text, share=column.wide, right=column.number)
            for column in columns
            if column.heading != "datum" and (whole or column.heading != "line")
        ),
        items,
    )


def _signed() -> Block:
    """Return the space for name, licence number, signature, day, remarks and seal."""
    seal = Table(
        [["seal"]],
        colWidths=[_SEAL[0]],
        rowHeights=[_SEAL[1]],
        hAlign="LEFT",
        style=[
            ("BOX", (0, 0), (-1, -1), 0.6, _INK),
            ("FONT", (0, 0), (-1, -1), PLAIN, 6.2),
            ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
        ],
    )
    return Block(
        parts=(
            Words(text=SIGNATURE, size=9.0),
            Rules(count=1, columns=len(SIGNED), labels=SIGNED),
            Rules(count=3, labels=("remarks",)),
            seal,
        )
    )
