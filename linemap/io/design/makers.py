"""Lists of which a row is not a record as it stands: what makes records of the values of their rows.

A `FieldError` refuses the row at one of its fields, another `ValueError` as a whole.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from linemap.domain.design.guy import Guy
from linemap.domain.design.lengths import parse_feet_inches
from linemap.domain.design.structure import RULES_ASKED, StructureType, is_section_break
from linemap.domain.design.surroundings import Crossing
from linemap.domain.design.tolerance import PLAIN, ToleranceEntry, Tolerances
from linemap.domain.framing.framing_type import FramingEntry, Measure, measure_of, parse_bolting
from linemap.domain.kind.kind import Code, FieldError
from linemap.domain.record.punch import PunchAction, PunchEntry
from linemap.domain.record.workflow import match_step
from linemap.domain.schedule.plan import Baseline
from linemap.domain.survey.fact import RecordedFact
from linemap.domain.survey.plumb import judged_reading
from linemap.geometry.frame import ArmRule
from linemap.io.cells.meaning import LENGTH_UNITS, Match, unit_word
from linemap.io.cells.numbers import parse_number, parse_yes
from linemap.io.cells.sheet import Ledger
from linemap.io.design.structure_details import unusual_spacing
from linemap.io.design.structure_numbers import parse_set
from linemap.units import convert_length

_Values = dict[str, Any]
#: Makes the records of one row of its values.
Maker = Callable[[Ledger, int, _Values], Iterable[Any]]
#: Makes the records of all rows, given with their indices and values; refuses rows by itself.
Gatherer = Callable[[Ledger, Sequence[tuple[int, _Values]]], Iterable[Any]]


def _guys(ledger: Ledger, _: int, row: _Values) -> Iterator[Guy]:
    """Give a guy for each side; one without a name is G1, G2, ... in the order of its structure's rows."""
    place = (row["line"], row["structure"])
    ledger.seen[place] = ledger.seen.get(place, 0) + 1
    name, sides = row["id"] or f"G{ledger.seen[place]}", row["side"] or ("",)
    for side in sides:
        yield Guy(**{**row, "id": name + (side[:1].upper() if len(sides) > 1 else ""), "side": side})


def _types(ledger: Ledger, index: int, row: _Values) -> Iterator[StructureType]:
    """Give the type of a row; without a section-break column, dead-ends are known by their code or words."""
    if row["rule"] is ArmRule.AZIMUTH:
        raise FieldError("rule", "the rule is an azimuth and none is given", RULES_ASKED)
    if "section_break" not in ledger.sheet.matches:
        row["section_break"] = is_section_break(f"{row['code']} {row['words']}")
    if row["spacing"] and (words := unusual_spacing(row["spacing"], ledger.unit)):
        ledger.note(index, "spacing", words, "write the unit in the heading if it is another")
    yield StructureType(**row)


def _facts(ledger: Ledger, _: int, row: _Values) -> Iterator[RecordedFact]:
    """Give the fact of a row, when somebody saw it and a reading can be that of one pole or one arm."""
    if not row["who"]:
        raise FieldError("who", "nobody is named", "say who saw it")
    fact = RecordedFact(**row)
    try:
        judged_reading(fact, ledger.unit, Tolerances.default(ledger.unit))
    except ValueError as error:
        raise FieldError("upper_height" if fact.what == "plumb" else "arm_length", str(error)) from None
    yield fact


_ACTIONS: tuple[PunchAction, ...] = ("opened", "closed", "reopened")


def _punch(ledger: Ledger, index: int, row: _Values) -> Iterator[PunchEntry]:
    """Give one entry for each of the dates opened, closed and reopened that a row holds.

    Evidence and the name beside it go with the closing. A closing without evidence is noted: it closes
    nothing.
    """
    days = {action: row.pop(action) for action in _ACTIONS}
    if not any(days.values()):
        raise ValueError("the item has no date")
    if days["closed"] is not None and not row["evidence"]:
        ledger.note(index, "closed", "closed without evidence: the item stays open", "name what shows it")
    opened = {**row, "who": "", "evidence": ""}
    for action, day in days.items():
        if day is not None:
            yield PunchEntry(**(row if action == "closed" else opened) | {"action": action, "on": day})


def _plans(ledger: Ledger, rows: Sequence[tuple[int, _Values]]) -> Iterator[Baseline]:
    """Give a baseline for each line, step and revision.

    A plan without any week is kept and noted: it gives no curve. Counts that fall and weeks out of order are
    refused at the last row of their baseline.
    """
    if all(row["week"] is None for _, row in rows):
        ledger.note(None, "week", "the plan gives no dates, so there is no curve", "add the week of each row")
    series: dict[tuple[str, ...], list[tuple[int, _Values]]] = {}
    for index, row in rows:
        row["step"] = match_step(row["step"]) or row["step"].casefold()
        series.setdefault((row["line"], row["step"], row["revision"]), []).append((index, row))
    for mine in series.values():
        values = [row for _, row in mine]
        try:
            yield Baseline(
                **{name: values[0][name] for name in ("line", "step", "revision")},
                frozen_on=next((row["frozen_on"] for row in values if row["frozen_on"]), None),
                weeks=tuple(row["week"] for row in values if row["week"]),
                planned=tuple(row["planned"] for row in values),
            )
        except ValueError as error:
            ledger.refuse(mine[-1][0], "planned", str(error), "correct the plan")


_KV = re.compile(r"(\d+(?:\.\d+)?)\s*kV\b", re.IGNORECASE)


def _crossings(ledger: Ledger, index: int, row: _Values) -> Iterator[Crossing]:
    """Give the crossing of a row, which names a station, a true distance or a span.

    What has a voltage, in its own column or in its name, is energized unless the list says no; words that
    are neither yes nor no are taken as energized, and noted.
    """
    span = row.pop("span")
    try:
        ends = _span(span) if span else tuple(_one(row[f"{end}_structure"]) for end in ("back", "ahead"))
    except ValueError as error:
        raise FieldError("span" if span else "back_structure", str(error), "") from None
    if not (row["station"] or any(ends) or row["true_distance"] is not None):
        raise FieldError("what", "the crossing has no place", "give its station, true distance or span")
    voltage = _voltage(ledger, row)
    answer, said = parse_yes(row["energized"]), row["energized"].casefold()
    if answer is None and not ("energi" in said or "live" in said):
        ledger.note(index, "energized", "neither yes nor no; taken as energized", "write yes or no")
    energized = answer is not False if said else voltage is not None
    places = {"back_structure": ends[0], "ahead_structure": ends[1]}
    yield Crossing(**row | places | {"voltage_kv": voltage, "energized": energized})


def _span(text: str) -> tuple[str, ...]:
    named = parse_set(text.casefold().removeprefix("span").strip())
    if named.first:
        return named.first, named.last
    if len(named.numbers) != 2:
        raise ValueError("a span lies between two structures; write it like 17/2-17/3")
    return named.numbers


def _one(text: str) -> str:
    numbers = parse_set(text).numbers if text else ("",)
    if len(numbers) > 1:
        raise ValueError(f"{text!r} names more than one structure")
    return "".join(numbers)


def _voltage(ledger: Ledger, row: _Values) -> float | None:
    """Kilovolts; from the words of the crossing when it has no cell of its own."""
    if not row["voltage_kv"]:
        named = _KV.search(row["what"])
        return float(named[1]) if named else None
    try:
        number = parse_number(row["voltage_kv"], mark=ledger.sheet.table.decimal_mark)
        if number.unit.casefold() not in {"", "kv", "v"} or number.value <= 0.0:
            raise ValueError("no voltage; write it in kV")
    except ValueError as error:
        remedy = "write a number in kV, or leave the cell blank"
        raise FieldError("voltage_kv", str(error), remedy) from None
    return number.value / 1000.0 if number.unit.casefold() == "v" else number.value


def _tolerances(ledger: Ledger, index: int, row: _Values) -> Iterator[ToleranceEntry]:
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
        written = Match(index=-1, heading="", unit=sign).length_unit(ledger.unit)
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


def _framing(ledger: Ledger, index: int, row: _Values) -> Iterator[FramingEntry]:
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


def _length(ledger: Ledger, index: int, row: _Values, unit: str) -> float:
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
    source = Match(index=-1, heading="", unit=base if base in LENGTH_UNITS else "ft").length_unit(ledger.unit)
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


MAKERS: Mapping[Code, Maker] = {
    "guys": _guys,
    "types": _types,
    "framing": _framing,
    "crossings": _crossings,
    "facts": _facts,
    "punch": _punch,
    "tolerances": _tolerances,
}
GATHERERS: Mapping[Code, Gatherer] = {"plan": _plans}
