"""Lists of which every row holds a value with a unit of its own: framing tables and tolerances."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from linemap.domain.design.lengths import parse_feet_inches
from linemap.domain.design.tolerance import PLAIN, ToleranceEntry
from linemap.domain.framing.framing_type import FramingEntry, Measure, measure_of, parse_bolting
from linemap.domain.kind.kind import FieldError
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.meaning import LENGTH_UNITS, length_unit, unit_word
from linemap.io.cells.numbers import parse_number
from linemap.units import convert_length

#: The values of a row by field.
Values = dict[str, Any]


def tolerance_of_row(ledger: Ledger, index: int, row: Values) -> Iterator[ToleranceEntry]:
    """Give the tolerance of a row; the unit "ground" is the ground unit, and noted."""
    try:
        number = parse_number(row["value"].removeprefix("±").strip(), mark=ledger.sheet.table.decimal_mark)
    except ValueError as error:
        raise FieldError("value", str(error), "write a number") from None
    value, text, name = number.value, row["unit"] or number.unit, row["name"]
    sign = unit_word(text)
    unit: str = ledger.unit.symbol
    if name == "confidence":
        value, unit = (value / 100.0 if "%" in text else value), ""
    elif text.casefold() == "ground":
        ledger.note(index, "unit", f"{name} has no unit; taken in the ground unit, {unit}")
    elif sign in LENGTH_UNITS:
        written = length_unit(sign, ledger.unit)
        if name in PLAIN:
            value *= written.metres / ledger.unit.metres
        else:
            unit = written.symbol
    elif sign in _OTHER_UNITS and name not in PLAIN:
        unit = _OTHER_UNITS[sign]
    else:
        reason = f"{text!r} is no unit" if text else "no unit"
        raise FieldError("unit", f"{reason} of tolerance {name}", "write ft, m, deg or in")
    yield ToleranceEntry(**row | {"value": value, "unit": unit})


_OTHER_UNITS = {"deg": "deg", "in": "in", "in/10 ft": "in per 10 ft"}
_UNITS: Mapping[Measure, frozenset[str]] = {
    "length": frozenset({"m", "ft", "ift", "ftUS", "in", "mm"}),
    "angle": frozenset({"", "deg"}),
    "percent": frozenset({"", "%"}),
    "count": frozenset({"", "pcs"}),
}
_SIGNS = {
    '"': "in", "millimetres": "mm", "millimeters": "mm", "%": "%", "percent": "%", "pct": "%",
    "pcs": "pcs", "pieces": "pcs", "each": "pcs", "ea": "pcs",
}  # fmt: skip
_SYSTEMS = {"m": "metres", "ft": "feet or inches"}


def framing_of_row(ledger: Ledger, index: int, row: Values) -> Iterator[FramingEntry]:
    """Give the dimension of a row, lengths in the job's unit whatever unit they are written in.

    A row without a value is left out: its dimension stays not given. Feet and metres within one type are
    refused: a dimension read wrong is drilled wrong.
    """
    if not row["value"]:
        ledger.leave_out(index, "value", "no value: the dimension stays not given", "write it as drawn")
        return
    if not row["code"]:
        raise FieldError("code", "the type code is missing", "write the type code of the structure list")
    heading = ledger.sheet.column("value")
    unit = row.pop("unit") or (heading.unit if heading else "")
    measure, choice = measure_of(row["dimension"]), ""
    try:
        if measure == "choice":
            row["value"], choice = None, parse_bolting(row["value"])
        elif measure == "length":
            row["value"] = _length(ledger, index, row, unit)
        else:
            found = parse_number(row["value"], mark=ledger.sheet.table.decimal_mark)
            if (sign := _sign(found.unit or unit)) not in _UNITS[measure]:
                said = sign or found.unit or unit
                raise ValueError(f"{row['dimension']} is in {said}, which is no {measure}")
            row["value"] = found.value
    except ValueError as error:
        raise FieldError("value", str(error), "write it as on the drawing") from None
    entry = FramingEntry(**row, choice=choice)
    if not entry.drawing:
        ledger.note(
            index, "drawing", f"{entry.dimension} of {entry.code} names no drawing", "give its number"
        )
    yield entry


def _sign(text: str) -> str:
    word = text.strip().casefold()
    return _SIGNS.get(word) or unit_word(word) or word


def _length(ledger: Ledger, index: int, row: Values, unit: str) -> float:
    value, sign = _written(row["value"], unit, ledger.sheet.table.decimal_mark)
    if sign not in _UNITS["length"]:
        without = "a length without a unit; write ft, m, in, mm or feet and inches like 12'-6\""
        raise ValueError(f"{sign!r} is no length unit" if sign else without)
    number = ledger.sheet.table.row_numbers[index]
    system = "m" if sign in {"m", "mm"} else "ft"
    first, row_of_first = ledger.seen.setdefault(row["code"], (system, number))
    if first != system:
        raise ValueError(
            f"{row['code']} mixes units: {_SYSTEMS[first]} in row {row_of_first}, {_SYSTEMS[system]} here; "
            "give the whole type in one of them"
        )
    scale, base = {"in": (1 / 12, "ft"), "mm": (0.001, "m")}.get(sign, (1.0, sign))
    source = length_unit(base if base in LENGTH_UNITS else "ft", ledger.unit)
    return convert_length(value * scale, source=source, target=ledger.unit)


def _written(text: str, unit: str, mark: str) -> tuple[float, str]:
    """Return a length and its unit: a plain number, a number with its unit, or feet and inches."""
    try:
        found = parse_number(text, mark=mark)
        return found.value, _sign(found.unit or unit)
    except ValueError as reason:
        try:
            return parse_feet_inches(text), "ft"
        except ValueError:
            raise reason from None
