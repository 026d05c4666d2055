"""What a crew needs beside the drawings: locate tickets, the yard's list and the punch list.

The ticket of 9/2 ran out on 1 May; two of the three poles of 13/2 have not come and two others were sent
instead; sixteen punch items, eleven of them open. Crews and companies only, no people.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from route import LINE
from structures import Structure
from tables import Cell, write_csv

__all__ = ["write_crew_lists"]

#: Revision C as the yard knows it: longer poles at 9/2, a stronger class at 20/6.
_LENGTHS = {"9/2": 85}
_CLASSES = {"20/6": "1"}
_LAPSED = "9/2"
_SHORT = "13/2"

_TICKET_HEADER = (
    "line",
    "ticket number",
    "structures",
    "anchors",
    "valid from",
    "expires",
    "responses",
    "renewed by",
)
_RECEIPT_HEADER = (
    "line",
    "item",
    "for structure",
    "qty ordered",
    "qty received",
    "damaged",
    "received on",
    "due",
    "brand",
    "yard row",
    "released by",
    "remarks",
)
_PUNCH_HEADER = (
    "line",
    "punch no",
    "structure",
    "part",
    "description",
    "severity",
    "owner",
    "due",
    "opened",
    "closed",
    "closed by",
    "evidence",
    "reopened",
)
_INSPECTOR = "Four Tines"
#: number, structure, part, text, severity, owner, due, opened, closed, evidence, reopened
_PUNCH = """\
P-01|1/4||number plate missing|minor|Otter||2026-04-09|2026-04-16|photo 0041|
P-02|2/2|A|backfill settled 4 in|major|Otter||2026-04-13|2026-04-20|photo 0058|
P-03|2/3||tags A and B to be proved|major|Lark|2026-05-22|2026-04-14|||
P-04|3/1||no ohm reading|major|Mole|2026-05-22|2026-04-16|||
P-05|3/4|brace|brace set for 12.0 ft on 12.5 ft spacing|major|Heron|2026-05-29|2026-04-20|||
P-06|4/2||set on the offset hub, 10 ft right|major|Otter|2026-05-29|2026-04-22|||
P-07|4/6|B|ground wire staple missing|minor|Mole||2026-04-22|2026-04-28|photo 0077|2026-05-06
P-08|5/2|arm|arm bolted to the back face|major|Heron||2026-04-08|2026-04-09|photo 0037|
P-09|5/5||frame square to the back span|major|Otter|2026-05-29|2026-04-27|||
P-10|6/2||no ohm reading|major|Mole|2026-05-22|2026-04-29|||
P-11|6/4||frame turned about, see HQ-1|major|engineer|2026-05-22|2026-05-07|||
P-12|7/1|A|guy marker missing|minor|Mole||2026-04-30|2026-05-05|photo 0092|
P-13|8/2||arm turned 4 degrees|major|Otter|2026-05-29|2026-05-06|||
P-14|8/5||gate G-5 post leaning|minor|Badger||2026-05-06|2026-05-11|photo 0103|
P-15|9/4||set 25 ft ahead of its hub|major|engineer|2026-05-29|2026-05-11|||
P-16|9/5||no ohm reading|major|Mole|2026-05-22|2026-05-12|2026-05-13||
"""


def _ticket_rows(structures: list[Structure]) -> Iterator[tuple[Cell, ...]]:
    yield _TICKET_HEADER
    yield (LINE, "LT-0902", _LAPSED, "yes", "2026-04-04", "2026-05-01", "all marked", "contractor")
    miles: dict[str, list[str]] = {}
    for structure in structures:
        if structure.number != _LAPSED:
            miles.setdefault(structure.number.split("/")[0], []).append(structure.number)
    for mile, numbers in miles.items():
        covered = "; ".join(numbers)
        yield (
            LINE,
            f"LT-{mile:0>2}00",
            covered,
            "yes",
            "2026-05-11",
            "2026-06-12",
            "all marked",
            "contractor",
        )


def _sizes(structure: Structure) -> Counter[str]:
    return Counter(
        f"{_LENGTHS.get(structure.number, pole.length)}-{_CLASSES.get(structure.number, pole.pole_class)}"
        for pole in structure.poles
    )


def _receipt_rows(structures: list[Structure]) -> Iterator[tuple[Cell, ...]]:
    yield _RECEIPT_HEADER
    for structure in structures:
        for size, count in sorted(_sizes(structure).items()):
            short = structure.number == _SHORT
            yield (
                LINE,
                f"{size} pole",
                structure.number,
                count,
                1 if short else count,
                "",
                "2026-04-30" if structure.sequence > 60 else "2026-03-12",
                "2026-06-12" if short else "",
                f"KS 26 {size}",
                f"R{1 + structure.sequence % 9}",
                "material yard" if short else "",
                "",
            )
    brand, remark = "KS 26 75-1", "sent for H1-75, see HM-1"
    yield (LINE, "75-1 pole", _SHORT, "", 2, "", "2026-05-04", "", brand, "R4", "material yard", remark)


def _punch_rows() -> Iterator[tuple[Cell, ...]]:
    yield _PUNCH_HEADER
    for row in _PUNCH.splitlines():
        *what, closed, evidence, reopened = row.split("|")
        yield (LINE, *what, closed, _INSPECTOR if closed else "", evidence, reopened)


def write_crew_lists(folder: Path, structures: list[Structure]) -> None:
    """Write tickets.csv, receipts.csv and punch.csv."""
    write_csv(folder / "tickets.csv", _ticket_rows(structures))
    write_csv(folder / "receipts.csv", _receipt_rows(structures))
    write_csv(folder / "punch.csv", _punch_rows())
