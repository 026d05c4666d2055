"""Yes and no as lists write them."""

from __future__ import annotations

from linemap.io.cells.table import Cell, cell_text

__all__ = ["parse_yes"]

_YES = {"yes", "y", "true", "t", "1", "x", "✓", "✔", "ja", "on"}
_NO = {"", "no", "n", "false", "f", "0", "-", "–", "none", "off"}


def parse_yes(cell: Cell) -> bool | None:
    """Read a yes or no; a blank is no, and None comes back for anything else.

    >>> parse_yes("Yes"), parse_yes(None), parse_yes("x"), parse_yes("maybe")
    (True, False, True, None)
    """
    word = cell_text(cell).casefold()
    return True if word in _YES else False if word in _NO else None
