"""Tolerances of a job, from JSON or a table of name, value, unit and source."""

from __future__ import annotations

from collections.abc import Mapping

from linemap.io.cells.meaning import LENGTH_UNITS, Match, unit_word
from linemap.io.cells.numbers import parse_number
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.units import LengthUnit

#: Shape of one value as `Tolerances.from_mapping` takes it.
ToleranceValue = float | Mapping[str, float | str]

_ALIASES = {
    "rotation": "rotation_deg", "arm rotation": "rotation_deg", "rotation deg": "rotation_deg",
    "along": "along_tangent", "along tangent": "along_tangent", "along angle": "along_angle",
    "across": "across", "spacing": "spacing", "pole spacing": "spacing", "collinearity": "collinearity",
    "shot sigma": "shot_sigma", "sigma": "shot_sigma", "common sigma": "common_sigma",
    "confidence": "confidence",
}  # fmt: skip
_PLAIN = {"shot_sigma", "common_sigma"}


def read_tolerances(table: RawTable, *, unit: LengthUnit) -> Loaded[dict[str, ToleranceValue]]:
    """Read tolerances into the mapping that `Tolerances.from_mapping` checks.

    Parameters
    ----------
    table : RawTable
        With columns name and value, and unit and source; JSON objects are laid out the same way.
    unit : LengthUnit
        Ground unit of the line; sigmas are converted to it.

    Returns
    -------
    Loaded of dict
        Key -> value with its unit and source. The unit "ground" is the ground unit, and noted.
        Which keys there are, and that values are above 0, is for `Tolerances` to judge.

    Raises
    ------
    InputRefused
        With every row whose value is no number, whose unit is missing or unknown, or that stands twice.
    """
    ledger = Ledger(sheet_of(table, "tolerances"))
    sheet = ledger.sheet
    names, values = sheet.texts("name"), sheet.texts("value")
    units, sources = sheet.texts("unit"), sheet.texts("source")
    found: dict[str, ToleranceValue] = {}
    for index, name in enumerate(names):
        if ledger.is_heading(index) or not (name and values[index]):
            ledger.leave_out_idle(index)
            continue
        key = _key(name)
        if key in found:
            ledger.refuse(index, "name", f"{name} stands twice", "keep one of them")
        value = _value(ledger, index, key, values[index], units[index], unit)
        if value is not None:
            found[key] = value if isinstance(value, float) else {**value, "source": sources[index]}
    ledger.check_some_left("name")
    return ledger.finish(found)


def _key(name: str) -> str:
    words = " ".join(name.replace("_", " ").casefold().split())
    return _ALIASES.get(words, name.strip())


def _value(
    ledger: Ledger, index: int, key: str, text: str, unit_text: str, unit: LengthUnit
) -> float | dict[str, float | str] | None:
    try:
        number = parse_number(text.removeprefix("±").strip(), mark=ledger.sheet.table.decimal_mark)
    except ValueError as error:
        ledger.refuse(index, "value", str(error), "write a number")
        return None
    if key == "confidence":
        return number.value / 100.0 if "%" in number.unit + unit_text else number.value
    if unit_text.casefold() == "ground":
        ledger.note(index, "unit", f"{key} has no unit; taken in the ground unit, {unit.symbol}")
    sign = unit.value if unit_text.casefold() == "ground" else unit_word(unit_text or number.unit)
    if sign != "deg" and sign not in LENGTH_UNITS:
        reason = f"{unit_text or number.unit!r} is no unit" if unit_text or number.unit else "no unit"
        ledger.refuse(index, "unit", f"{reason} of tolerance {key}", "write ft, m or deg")
        return None
    if sign == "deg":
        return {"value": number.value, "unit": "deg"}
    written = Match(index=-1, heading="", unit=sign).length_unit(unit)
    if key in _PLAIN:
        return number.value * written.metres / unit.metres
    return {"value": number.value, "unit": written.symbol}
