"""Station equations, in a list of their own or as rows of a PI list."""

from __future__ import annotations

from linemap.geometry.station import parse_station
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.units import LengthUnit

__all__ = ["read_equations"]


def read_equations(
    table: RawTable, *, unit: LengthUnit, line_default: str = ""
) -> Loaded[dict[str, tuple[tuple[float, float], ...]]]:
    """Read station equations: the same point has a back and an ahead station.

    Parameters
    ----------
    table : RawTable
        With a back and an ahead station in each row, or both in one cell ("470+00 BK = 473+84.50 AH").
        Rows of a PI list whose two stations are equal, or of which one is blank, are no equations and are
        listed as left out.
    unit : LengthUnit
        Unit of the stations: 12+345 is 12,345 on metric lines, 1,545 otherwise.
    line_default : str
        Line of rows that name none.

    Returns
    -------
    Loaded of dict
        Line name -> (back, ahead) stations in the order of the rows.

    Raises
    ------
    InputRefused
        With every row whose stations cannot be read.
    """
    ledger = Ledger(sheet_of(table, "equations"))
    sheet = ledger.sheet
    lines, whole = sheet.texts("line", missing=line_default), sheet.texts("text")
    backs, aheads = sheet.texts("back"), sheet.texts("ahead")
    found: dict[str, list[tuple[float, float]]] = {}
    for index in range(len(sheet)):
        back, ahead = (backs[index], aheads[index]) if backs[index] else _halves(whole[index])
        pair = _pair(ledger, index, back, ahead or aheads[index], unit)
        if pair is not None:
            found.setdefault(lines[index], []).append(pair)
    ledger.check()
    if not found:
        ledger.note(None, "back", "the file holds no station equation", "check that it is the right file")
    return ledger.finish({line: tuple(pairs) for line, pairs in found.items()})


def _halves(text: str) -> tuple[str, str]:
    back, _, ahead = text.partition("=")
    return back.strip(), ahead.strip()


def _pair(ledger: Ledger, index: int, back: str, ahead: str, unit: LengthUnit) -> tuple[float, float] | None:
    if ledger.is_heading(index) or not (back or ahead):
        ledger.leave_out_idle(index)
        return None
    if not (back and ahead):
        ledger.leave_out(index, "back", "only one station, so no equation")
        return None
    first, second = _station(ledger, index, "back", back, unit), _station(ledger, index, "ahead", ahead, unit)
    if first is None or second is None:
        return None
    if first == second:
        ledger.leave_out(index, "back", "back and ahead station are equal, so no equation")
        return None
    return first, second


def _station(ledger: Ledger, index: int, name: str, text: str, unit: LengthUnit) -> float | None:
    try:
        parsed = parse_station(text, per_plus=1000 if unit is LengthUnit.METRE else 100)
    except ValueError as error:
        ledger.refuse(index, name, str(error))
        return None
    if parsed.side is not None and parsed.side != name:
        ledger.refuse(index, name, f"the station says {parsed.side} in the {name} column", "exchange the two")
        return None
    return parsed.value
