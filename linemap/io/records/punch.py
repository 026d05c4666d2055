"""Punch lists: a row is one item, or one more thing that happened to it. No row is passed over in silence."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from linemap.domain.record.punch import PunchAction, PunchEntry
from linemap.io.cells.dates import DateOrder, Moments, parse_moments
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.structure_numbers import DATE_REMEDY, read_numbers

__all__ = ["read_punch"]

_TEXTS = ("id", "part", "text", "severity", "owner", "who", "evidence")
_ACTIONS: tuple[PunchAction, ...] = ("opened", "closed", "reopened")


def read_punch(
    table: RawTable, *, line_default: str = "", order: DateOrder | None = None
) -> Loaded[tuple[PunchEntry, ...]]:
    """Read a punch list.

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
    Loaded of tuple of PunchEntry
        One entry for each of the dates opened, closed and reopened that a row holds; evidence and the name
        beside it go with the closing. A closing without evidence is noted: it closes nothing.

    Raises
    ------
    InputRefused
        With every row that names an item and has no structure, no date, or one that cannot be read.
    """
    ledger = Ledger(sheet_of(table, "punch"))
    sheet = ledger.sheet
    texts = {name: sheet.texts(name) for name in _TEXTS}
    dates = {name: parse_moments(sheet.cells(name), order=order) for name in (*_ACTIONS, "due")}
    numbers = read_numbers(sheet.cells("structure"))
    lines = sheet.texts("line", missing=line_default)
    entries: list[PunchEntry] = []
    for index in range(len(sheet)):
        row = {name: column[index] for name, column in texts.items()}
        if ledger.is_heading(index) or ledger.is_total(index) or not row["id"]:
            ledger.leave_out_idle(index)
            continue
        row |= {"line": lines[index], "structure": numbers.numbers[index]}
        if _is_good(ledger, index, row, dates, numbers.faults):
            entries += _entries(ledger, index, row, {name: _day(dates[name], index) for name in dates})
    ledger.check_some_left("id")
    return ledger.finish(tuple(entries))


def _is_good(
    ledger: Ledger, index: int, row: dict[str, str], dates: dict[str, Moments], turned: dict[int, str]
) -> bool:
    faults = [(name, moments.faults[index]) for name, moments in dates.items() if index in moments.faults]
    if index in turned:
        faults.append(("structure", f"{turned[index]}; {DATE_REMEDY}"))
    elif not row["structure"]:
        faults.append(("structure", "the structure number is missing"))
    if not faults and all(dates[name].values[index] is None for name in _ACTIONS):
        faults.append(("opened", "the item has no date"))
    for name, reason in faults:
        ledger.refuse(index, name, reason, "correct the row")
    return not faults


def _entries(
    ledger: Ledger, index: int, row: dict[str, str], days: dict[str, date | None]
) -> Iterator[PunchEntry]:
    if days["closed"] is not None and not row["evidence"]:
        ledger.note(index, "closed", "closed without evidence: the item stays open", "name what shows it")
    for action in _ACTIONS:
        day = days[action]
        if day is None:
            continue
        closing = action == "closed"
        yield PunchEntry(
            item=row["id"],
            line=row["line"],
            structure=row["structure"],
            part=row["part"],
            action=action,
            on=day,
            text=row["text"],
            severity=row["severity"],
            owner=row["owner"],
            due=days["due"],
            who=row["who"] if closing else "",
            evidence=row["evidence"] if closing else "",
        )


def _day(moments: Moments, index: int) -> date | None:
    value = moments.values[index]
    return value.date() if isinstance(value, datetime) else value
