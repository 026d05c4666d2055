"""The yard's list: what was ordered, what came, what is due. A row that cannot be read refuses the list."""

from __future__ import annotations

from datetime import date, datetime

from linemap.domain.crew.material import Receipt
from linemap.io.cells.dates import DateOrder, Moments, parse_moments
from linemap.io.cells.numbers import Numbers
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.structure_numbers import DATE_REMEDY, read_numbers

__all__ = ["read_receipts"]

_TEXTS = ("item", "brand", "yard_row", "released_by", "remarks")
_COUNTS = ("ordered", "received", "damaged")


def read_receipts(
    table: RawTable, *, line_default: str = "", order: DateOrder | None = None
) -> Loaded[tuple[Receipt, ...]]:
    """Read a yard's list.

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
    Loaded of tuple of Receipt
        In file order. A blank count of what came is none; totals are left out, and listed.

    Raises
    ------
    InputRefused
        With every row that names an item and holds an unusable count, date or structure number.
    """
    ledger = Ledger(sheet_of(table, "receipts"))
    sheet = ledger.sheet
    texts = {name: sheet.texts(name) for name in _TEXTS}
    counts = {name: sheet.numbers(name) for name in _COUNTS}
    dates = {name: parse_moments(sheet.cells(name), order=order) for name in ("received_on", "due")}
    numbers = read_numbers(sheet.cells("structure"))
    lines = sheet.texts("line", missing=line_default)
    receipts = []
    for index in range(len(sheet)):
        row = {name: column[index] for name, column in texts.items()}
        if ledger.is_heading(index) or ledger.is_total(index) or not row["item"]:
            ledger.leave_out_idle(index)
            continue
        if not _is_good(ledger, index, counts, dates, numbers.faults):
            continue
        receipts.append(
            Receipt(
                item=row["item"],
                line=lines[index],
                structure=numbers.numbers[index],
                ordered=_count(counts["ordered"], index),
                received=_count(counts["received"], index) or 0,
                damaged=_count(counts["damaged"], index) or 0,
                received_on=_day(dates["received_on"], index),
                due=_day(dates["due"], index),
                brand=row["brand"],
                yard_row=row["yard_row"],
                released_by=row["released_by"],
                remarks=row["remarks"],
                row=sheet.table.row_numbers[index],
            )
        )
    ledger.check_some_left("item")
    return ledger.finish(tuple(receipts))


def _is_good(
    ledger: Ledger,
    index: int,
    counts: dict[str, Numbers],
    dates: dict[str, Moments],
    turned: dict[int, str],
) -> bool:
    faults = [(name, moments.faults[index]) for name, moments in dates.items() if index in moments.faults]
    faults += [(name, fault) for name, column in counts.items() if (fault := _count_fault(column, index))]
    for name, reason in faults:
        ledger.refuse(index, name, reason, "correct the cell")
    if index in turned:
        ledger.refuse(index, "structure", turned[index], DATE_REMEDY)
    return not faults and index not in turned


def _count_fault(column: Numbers, index: int) -> str:
    if index in column.faults:
        return column.faults[index]
    value = float(column.values[index])
    return "no count of pieces" if value == value and (value < 0.0 or not value.is_integer()) else ""


def _count(column: Numbers, index: int) -> int | None:
    value = float(column.values[index])
    return int(value) if value == value else None


def _day(moments: Moments, index: int) -> date | None:
    value = moments.values[index]
    return value.date() if isinstance(value, datetime) else value
