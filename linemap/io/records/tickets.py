"""Lists of locate tickets. A ticket that cannot be read refuses the list: its day would be nobody's."""

from __future__ import annotations

from datetime import date, datetime

from linemap.domain.crew.ticket import Ticket
from linemap.io.cells.answer import parse_yes
from linemap.io.cells.dates import DateOrder, Moments, parse_moments
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.structure_numbers import StructureSet, parse_set

__all__ = ["read_tickets"]

_TEXTS = ("number", "structures", "from_structure", "to_structure", "covers_anchors", "life", "responses",
          "renewed_by")  # fmt: skip


def read_tickets(
    table: RawTable, *, line_default: str = "", order: DateOrder | None = None
) -> Loaded[tuple[Ticket, ...]]:
    """Read a list of locate tickets.

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
    Loaded of tuple of Ticket
        In file order. A cell about anchors that cannot be understood is no, and noted.

    Raises
    ------
    InputRefused
        With every row that names a ticket and cannot be read.
    """
    ledger = Ledger(sheet_of(table, "tickets"))
    sheet = ledger.sheet
    texts = {name: sheet.texts(name) for name in _TEXTS}
    dates = {name: parse_moments(sheet.cells(name), order=order) for name in ("valid_from", "expires")}
    lines = sheet.texts("line", missing=line_default)
    tickets = []
    for index in range(len(sheet)):
        row = {name: column[index] for name, column in texts.items()}
        if ledger.is_heading(index) or not row["number"]:
            ledger.leave_out_idle(index)
            continue
        ticket = _ticket(ledger, index, row, lines[index], dates)
        if ticket is not None:
            tickets.append(ticket)
    ledger.check_some_left("number")
    return ledger.finish(tuple(tickets))


def _ticket(
    ledger: Ledger, index: int, row: dict[str, str], line: str, dates: dict[str, Moments]
) -> Ticket | None:
    faults = [(name, moments.faults[index]) for name, moments in dates.items() if index in moments.faults]
    for name, reason in faults:
        ledger.refuse(index, name, reason)
    if faults:
        return None
    try:
        where = _where(row)
        return Ticket(
            number=row["number"],
            line=line,
            structures=where.numbers,
            from_structure=where.first,
            to_structure=where.last,
            covers_anchors=_anchors(ledger, index),
            valid_from=_day(dates["valid_from"], index),
            expires=_day(dates["expires"], index),
            life=row["life"],
            responses=row["responses"],
            renewed_by=row["renewed_by"],
        )
    except ValueError as error:
        ledger.refuse(index, "structures", str(error), "correct the row")
        return None


def _where(row: dict[str, str]) -> StructureSet:
    if row["structures"] or not row["from_structure"]:
        return parse_set(row["structures"])
    ends = [parse_set(row[name] or row["from_structure"]) for name in ("from_structure", "to_structure")]
    if any(len(end.numbers) != 1 for end in ends):
        raise ValueError("a ticket runs from one structure to one structure")
    return StructureSet(first=ends[0].numbers[0], last=ends[1].numbers[0])


def _anchors(ledger: Ledger, index: int) -> bool:
    answer = parse_yes(ledger.sheet.cells("covers_anchors")[index])
    if answer is None:
        ledger.note(index, "covers_anchors", "neither yes nor no; taken as not covering the anchors")
    return answer is True


def _day(moments: Moments, index: int) -> date | None:
    value = moments.values[index]
    return value.date() if isinstance(value, datetime) else value
