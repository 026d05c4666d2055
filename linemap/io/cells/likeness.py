"""Rows that are no rows of a list: signatures, totals, dates, "Sheet 3 of 7", told by the row as a whole.

A cell is compared with the other cells of its column by its shape: "12/3" is two numbers, "R. Calder" two
words, a date a date. A row in which nothing that names a record looks as it does in other rows, and hardly
anything else does, is none; one that looks like a record in part is half a record, and never passed over.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime, time

from linemap.io.cells.ledger import Ledger
from linemap.io.cells.numbers import parse_number
from linemap.io.cells.sheet import Sheet
from linemap.io.cells.table import Cell, cell_text

_PART = re.compile(r"[^\W\d_]+|\d+")
#: Columns with more shapes than this share of their cells hold free text, and tell nothing.
_FREE = 0.75
#: Rows fewer than this have no look.
_ENOUGH = 2


def shape_of(cell: Cell) -> str:
    """Return what a cell looks like: a number, a date, or its words and numbers in their order.

    >>> [shape_of(text) for text in ("900,499.4", "12/3", "R. Calder", "PI-4", "2026-02-09", "")]
    ['0', '0 0', 'a a', 'a 0', '0 0 0', '']
    """
    if isinstance(cell, datetime | date | time):
        return "date"
    text = cell_text(cell)
    try:
        parse_number(text)
    except ValueError:
        return " ".join("0" if part.isdigit() else "a" for part in _PART.findall(text))
    return "0"


def leave_out_strangers(
    ledger: Ledger, rows: Iterable[int], *, keys: Sequence[str], records: Iterable[int]
) -> None:
    """Leave out those of some rows that are no records, by how the records of the list look.

    Parameters
    ----------
    rows : iterable of int
        Indices of the rows that are in doubt.
    keys : sequence of str
        Fields that name a record or place it; one that looks as it should makes a row half a record.
    records : iterable of int
        Indices of the rows that are surely records.
    """
    doubtful = [row for row in rows if row not in ledger.left_out]
    if doubtful:
        likeness = _Likeness(ledger.sheet, keys, set(records) - ledger.left_out - set(doubtful))
        for row in doubtful:
            if likeness.is_strange(row):
                ledger.leave_out_idle(row)


class _Likeness:
    """How the records of a list look."""

    def __init__(self, sheet: Sheet, keys: Sequence[str], records: Collection[int]) -> None:
        self.cells = {name: sheet.cells(name) for name, match in sheet.columns.items() if match.index >= 0}
        self.keys = keys
        #: Shapes of each column that has a look of its own.
        self.shapes: dict[str, set[str]] = {}
        for name, cells in self.cells.items():
            shapes = Counter(filter(None, (shape_of(cells[row]) for row in records)))
            if shapes.total() >= _ENOUGH and len(shapes) <= max(1, _FREE * shapes.total()):
                self.shapes[name] = set(shapes)

    def is_strange(self, row: int) -> bool:
        """Say whether nothing that names a record looks like one, and at most one other cell does."""
        written = {name: shape_of(cells[row]) for name, cells in self.cells.items()}
        filled = {name for name, shape in written.items() if shape}
        alike = {name for name in filled & self.shapes.keys() if written[name] in self.shapes[name]}
        named = {name for name in self.keys if name in filled and name in self.shapes}
        return bool(named) and alike.isdisjoint(named) and len(alike) <= 1 and len(alike) < len(filled)
