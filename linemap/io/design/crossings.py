"""Lists of crossings."""

from __future__ import annotations

import re

from linemap.domain.design.crossing import Crossing
from linemap.io.cells.numbers import parse_number, parse_yes
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.structure_numbers import parse_set
from linemap.units import LengthUnit

__all__ = ["read_crossings"]

_TEXTS = (
    "what",
    "owner",
    "station",
    "back_structure",
    "ahead_structure",
    "span",
    "voltage",
    "rule",
    "energized",
)
_KV = re.compile(r"(\d+(?:\.\d+)?)\s*kV\b", re.IGNORECASE)


def read_crossings(
    table: RawTable, *, unit: LengthUnit, line_default: str = ""
) -> Loaded[tuple[Crossing, ...]]:
    """Read a list of crossings.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    unit : LengthUnit
        Ground unit of the line, for true distances.
    line_default : str
        Line of rows that name none.

    Returns
    -------
    Loaded of tuple of Crossing
        In file order. What has a voltage, in its own column or in its name, is energized unless the list
        says no; words that are neither yes nor no are taken as energized, and noted.

    Raises
    ------
    InputRefused
        With every row that names a crossing and does not place it, or holds an unusable distance,
        structure or voltage.
    """
    ledger = Ledger(sheet_of(table, "crossings"))
    sheet = ledger.sheet
    texts = {name: sheet.texts(name) for name in _TEXTS}
    lines = sheet.texts("line", missing=line_default)
    distances = sheet.lengths("true_distance", unit, ledger=ledger)
    found = []
    for index in range(len(sheet)):
        row = {name: column[index] for name, column in texts.items()}
        if ledger.is_heading(index) or not row["what"]:
            ledger.leave_out_idle(index)
            continue
        if index in distances.faults:
            ledger.refuse(index, "true_distance", distances.faults[index], "correct the cell")
        distance = float(distances.values[index])
        found.append(_crossing(ledger, index, row, lines[index], distance if distance == distance else None))
    ledger.check_some_left("what")
    return ledger.finish(tuple(found))


def _crossing(ledger: Ledger, index: int, row: dict[str, str], line: str, distance: float | None) -> Crossing:
    back, ahead = _span(ledger, index, row)
    voltage = _voltage(ledger, index, row)
    if not (row["station"] or back or ahead or distance is not None):
        ledger.refuse(index, "what", "the crossing has no place", "give its station, true distance or span")
    return Crossing(
        line=line,
        what=row["what"],
        owner=row["owner"],
        station=row["station"],
        true_distance=distance,
        back_structure=back,
        ahead_structure=ahead,
        voltage_kv=voltage,
        rule=row["rule"],
        energized=_energized(ledger, index, row["energized"], voltage),
        row=ledger.sheet.table.row_numbers[index],
    )


def _span(ledger: Ledger, index: int, row: dict[str, str]) -> tuple[str, str]:
    name = "span" if row["span"] else "back_structure"
    try:
        if not row["span"]:
            return _number(row["back_structure"]), _number(row["ahead_structure"])
        named = parse_set(row["span"].casefold().removeprefix("span").strip())
        if named.first:
            return named.first, named.last
        if len(named.numbers) == 2:
            return named.numbers[0], named.numbers[1]
        raise ValueError("a span lies between two structures; write it like 17/2-17/3")
    except ValueError as error:
        ledger.refuse(index, name, str(error))
        return "", ""


def _number(text: str) -> str:
    numbers = parse_set(text).numbers if text else ()
    if len(numbers) > 1:
        raise ValueError(f"{text!r} names more than one structure")
    return numbers[0] if numbers else ""


def _voltage(ledger: Ledger, index: int, row: dict[str, str]) -> float | None:
    """Kilovolts; from the words of the crossing when it has no cell of its own."""
    if not row["voltage"]:
        named = _KV.search(row["what"])
        return float(named[1]) if named else None
    try:
        number = parse_number(row["voltage"], mark=ledger.sheet.table.decimal_mark)
        if number.unit.casefold() not in {"", "kv", "v"} or number.value <= 0.0:
            raise ValueError("no voltage; write it in kV")
    except ValueError as error:
        ledger.refuse(index, "voltage", str(error), "write a number in kV, or leave the cell blank")
        return None
    return number.value / 1000.0 if number.unit.casefold() == "v" else number.value


def _energized(ledger: Ledger, index: int, text: str, voltage: float | None) -> bool:
    if not text:
        return voltage is not None
    answer = parse_yes(text)
    if answer is None:
        plainly = "energi" in text.casefold() or "live" in text.casefold()
        if not plainly:
            ledger.note(index, "energized", "neither yes nor no; taken as energized", "write yes or no")
        return True
    return answer
