"""Lists of what a crew must know before it goes."""

from __future__ import annotations

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.material import Receipt
from linemap.domain.crew.ticket import Ticket
from linemap.domain.kind.kind import Keeps, Kind

__all__ = ["HOLDS", "RECEIPTS", "TICKETS"]

HOLDS: Kind[Hold] = Kind(
    code="holds",
    record=Hold,
    noun="hold",
    table="hold",
    keeps=Keeps.STATE,
    key=("id",),
    needs=("activities", "structures | from_structure", "reason | condition | from_date"),
    named_by=("activities", "structures", "from_structure"),
)
TICKETS: Kind[Ticket] = Kind(
    code="tickets",
    record=Ticket,
    noun="ticket",
    table="ticket",
    keeps=Keeps.STATE,
    key=("number",),
    needs=("number", "structures | from_structure", "expires | life"),
    named_by=("number",),
    public=False,
)
RECEIPTS: Kind[Receipt] = Kind(
    code="receipts",
    record=Receipt,
    noun="receipt of",
    table="receipt",
    keeps=Keeps.STATE,
    key=("item", "structure"),
    needs=("item", "received | ordered", "due | received_on"),
    named_by=("item",),
    public=False,
    totals=True,
)
