"""Signs that no text of a job may hold: those a database cannot store.

PostgreSQL stores no NUL character in text, and half of a surrogate pair is no character at all. They come
from damaged files and never from people, so a file that holds one is refused whole, whatever it is.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from linemap.errors import InputRefused, Problem
from linemap.io.cells.table import Cell, RawTable

__all__ = ["check_signs"]

#: Rows looked at together.
_ROWS = 1000
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")


def check_signs(table: RawTable) -> RawTable:
    """Return the table as it is when all its texts can be stored.

    Raises
    ------
    InputRefused
        If a heading or a cell holds a NUL character or half of a surrogate pair; it names the first one.
    """
    _check(table, [table.header_row], [table.headers])
    for first in range(0, len(table.rows), _ROWS):
        some = slice(first, first + _ROWS)
        _check(table, table.row_numbers[some], table.rows[some])
    return table


def _check(table: RawTable, numbers: Sequence[int | None], rows: Sequence[Sequence[Cell]]) -> None:
    """Look at the texts of some rows together, and row by row only when something is wrong."""
    if not _UNSTORABLE.search("".join(map(_text, rows))):
        return
    for number, cells in zip(numbers, rows, strict=True):
        if _UNSTORABLE.search(_text(cells)):
            raise InputRefused(_problem(table, number, cells))


def _text(cells: Sequence[Cell]) -> str:
    # a half character at the end of one cell and another at the start of the next stay two halves
    try:
        return "".join(cells)  # type: ignore[arg-type] # nearly every row is nothing but texts
    except TypeError:
        return "".join([cell for cell in cells if isinstance(cell, str)])


def _problem(table: RawTable, number: int | None, cells: Sequence[Cell]) -> Problem:
    column, cell = next(
        (at, cell) for at, cell in enumerate(cells) if isinstance(cell, str) and _UNSTORABLE.search(cell)
    )
    heading = table.headers[column] if column < len(table.headers) else f"column {column + 1}"
    return Problem(
        file=table.file,
        row=number,
        column=_UNSTORABLE.sub("?", heading),
        value=_UNSTORABLE.sub("?", cell),
        reason="holds a character that is none (a NUL or half a character)",
        remedy="the file is damaged there; correct the cell or export the file again",
    )
