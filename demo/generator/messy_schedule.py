"""The pole schedule as yards and crews leave it: ditto marks, one row for both legs, cells exchanged."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import xlsxwriter
from structures import Structure
from tables import CREATED, Cell

__all__ = ["dated_number", "write_schedule"]

_YEAR = 2026

Row = tuple[Cell | date | None, ...]


def dated_number(structure: Structure) -> str | date:
    """Return a structure number as a spreadsheet with month/day dates keeps it."""
    mile, sequence = (int(part) for part in structure.number.split("/"))
    try:
        return date(_YEAR, mile, sequence)
    except ValueError:
        return structure.number


_POLE_HEADINGS = ("Structure", "Pole", "Length", "Class", "Framing Dwg", "Remarks")


def _pole_rows(structures: list[Structure]) -> Iterator[Row]:
    """Give one row for H-frames and three for three-pole structures; blanks and marks mean "as above".

    Planted: dates for numbers, length and class exchanged at 4/3, one length in metres, a substitution by
    the yard, and totals that do not agree with the rows.
    """
    yield ("POLE SCHEDULE  Kettle & Spar", *(None,) * 5)
    yield _POLE_HEADINGS
    above = None
    for structure in structures:
        poles = structure.poles
        sizes = [(pole.length, pole.pole_class) for pole in poles]
        if len(poles) == 3:
            for pole, size in zip(poles, sizes, strict=True):
                first = pole.letter == "A"
                same = not first and size == sizes[0]
                number = dated_number(structure) if first else None
                yield (number, pole.letter, None if same else size[0], None if same else size[1], None, None)
                if not same and not first:
                    sizes[0] = size
            above = (sizes[0],)
            continue
        yield _h_row(structure, sizes, above)
        above = tuple(dict.fromkeys(sizes))
    for words, count in (("TOTAL BY SIZE", None), ("70-2", 131), ("75-2", 41)):
        yield (words, None, count, None, None, None)


def _h_row(
    structure: Structure, sizes: list[tuple[int, str]], above: tuple[tuple[int, str], ...] | None
) -> Row:
    number, drawing = dated_number(structure), f"F-{structure.type_code}"
    if len(set(sizes)) > 1:
        return (number, "A/B", "/".join(f"{length}-{of}" for length, of in sizes), None, drawing, "A low")
    length, of = sizes[0]
    if structure.number == "4/3":
        return (number, "A/B same", of, length, drawing, None)
    if structure.number == "2/2":
        return (number, "A/B same", f"{length * 0.3048:.3f} m", of, drawing, "yard: sent 75-1 for 70-2")
    if above == ((length, of),) and structure.sequence % 2:
        return (number, "A/B same", '"', '"', drawing, None)
    return (number, "A/B same", f"{length}'", f"CL {of}", drawing, None)


def write_schedule(path: Path, structures: list[Structure]) -> None:
    """Write the messy pole schedule as the only sheet of a workbook."""
    with xlsxwriter.Workbook(str(path), {"default_date_format": "d-mmm"}) as book:
        book.set_properties({"title": "Poles", "created": CREATED})
        page = book.add_worksheet("Poles")
        for number, row in enumerate(_pole_rows(structures)):
            for column, value in enumerate(row):
                if isinstance(value, date):
                    page.write_datetime(number, column, value)
                elif value is not None:
                    page.write(number, column, value)
