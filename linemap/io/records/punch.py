"""Punch lists: a row is one item, or one more thing that happened to it. No row is passed over in silence."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from linemap.domain.record.punch import PunchAction, PunchEntry
from linemap.io.cells.sheet import Ledger

_ACTIONS: tuple[PunchAction, ...] = ("opened", "closed", "reopened")


def entries_of_row(ledger: Ledger, index: int, row: dict[str, Any]) -> Iterator[PunchEntry]:
    """Give one entry for each of the dates opened, closed and reopened that a row holds.

    Evidence and the name beside it go with the closing. A closing without evidence is noted: it closes
    nothing.

    Raises
    ------
    ValueError
        If the row holds no date.
    """
    days = {action: row.pop(action) for action in _ACTIONS}
    if not any(days.values()):
        raise ValueError("the item has no date")
    if days["closed"] is not None and not row["evidence"]:
        ledger.note(index, "closed", "closed without evidence: the item stays open", "name what shows it")
    opened = {**row, "who": "", "evidence": ""}
    for action, day in days.items():
        if day is not None:
            yield PunchEntry(**(row if action == "closed" else opened), action=action, on=day)
