"""Lists of holds. A hold that cannot be read refuses the list: left out, it would read as no hold."""

from __future__ import annotations

import re
from datetime import date, datetime

from linemap.domain.crew.hold import Hold
from linemap.domain.design.number import same_number
from linemap.io.cells.answer import parse_yes
from linemap.io.cells.dates import DateOrder, Moments, parse_moments
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Cell, Loaded, RawTable
from linemap.io.design.structure_numbers import StructureSet, parse_set

__all__ = ["read_holds"]

_TEXTS = ("id", "activities", "structures", "from_structure", "to_structure", "condition", "reason", "set_by",
          "release_by")  # fmt: skip
_DATES = ("from_date", "to_date", "released_on")
_OPEN = {"open", "tbd", "until released", "-", "none"}


def read_holds(
    table: RawTable, *, line_default: str = "", order: DateOrder | None = None
) -> Loaded[tuple[Hold, ...]]:
    """Read a list of holds.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    line_default : str
        Line of rows that name none.
    order : "mdy" or "dmy", optional
        How dates such as 5/6/2026 are meant where the column does not tell.

    Returns
    -------
    Loaded of tuple of Hold
        In file order. A hold without an identifier gets "row 7". Whether its reason is restricted is yes
        when the cell cannot be understood.

    Raises
    ------
    InputRefused
        With every row that names an activity or a structure and cannot be read.
    """
    ledger = Ledger(sheet_of(table, "holds"))
    sheet = ledger.sheet
    texts = {name: sheet.texts(name) for name in _TEXTS}
    dates = {
        name: parse_moments(_closed(sheet.texts(name), sheet.cells(name)), order=order) for name in _DATES
    }
    lines = sheet.texts("line", missing=line_default)
    holds = []
    for index in range(len(sheet)):
        row = {name: column[index] for name, column in texts.items()}
        named = row["activities"] or row["structures"] or row["from_structure"]
        if ledger.is_heading(index) or not named:
            ledger.leave_out_idle(index)
            continue
        hold = _hold(ledger, index, row, lines[index], dates)
        if hold is not None:
            holds.append(hold)
    ledger.check_some_left("activities")
    return ledger.finish(tuple(holds))


def _closed(texts: list[str], cells: list[Cell]) -> list[Cell]:
    """Blank what says in words that an end is open."""
    return [None if text.casefold() in _OPEN else cell for text, cell in zip(texts, cells, strict=True)]


def _hold(
    ledger: Ledger, index: int, row: dict[str, str], line: str, dates: dict[str, Moments]
) -> Hold | None:
    faults = [(name, moments.faults[index]) for name, moments in dates.items() if index in moments.faults]
    for name, reason in faults:
        ledger.refuse(index, name, reason)
    try:
        where = _where(row)
        return (
            None
            if faults
            else Hold(
                id=row["id"] or f"row {ledger.sheet.table.row_numbers[index]}",
                line=line,
                structures=where.numbers,
                from_structure=where.first,
                to_structure=where.last,
                activities=_activities(row["activities"]),
                from_date=_day(dates["from_date"], index),
                to_date=_day(dates["to_date"], index),
                condition=row["condition"],
                reason=row["reason"],
                restricted=_restricted(ledger, index),
                set_by=row["set_by"],
                release_by=row["release_by"],
                released_on=_day(dates["released_on"], index),
            )
        )
    except ValueError as error:
        ledger.refuse(index, "structures", str(error), "correct the row")
        return None


def _where(row: dict[str, str]) -> StructureSet:
    if row["structures"].casefold() in {"all", "line", "whole line"}:
        return StructureSet()
    if row["structures"]:
        return parse_set(row["structures"])
    if not row["from_structure"]:
        raise ValueError("the hold names no structure; write its numbers, or all for the whole line")
    first = parse_set(row["from_structure"])
    last = parse_set(row["to_structure"]) if row["to_structure"] else first
    if len(first.numbers) != 1 or len(last.numbers) != 1:
        raise ValueError("a hold runs from one structure to one structure")
    return StructureSet(first=same_number(first.numbers[0]), last=same_number(last.numbers[0]))


def _activities(text: str) -> tuple[str, ...]:
    words = [part.strip().casefold() for part in re.split(r"[,;&+/]|\band\b", text)]
    return tuple(word for word in words if word) or ("all",)


def _day(moments: Moments, index: int) -> date | None:
    value = moments.values[index]
    return value.date() if isinstance(value, datetime) else value


def _restricted(ledger: Ledger, index: int) -> bool:
    answer = parse_yes(ledger.sheet.cells("restricted")[index])
    if answer is None:
        ledger.note(index, "restricted", "neither yes nor no; taken as restricted")
    return answer is not False
