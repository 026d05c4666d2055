"""Lists of which a row is not a record as it stands: what makes records of the values of their rows.

A `FieldError` refuses the row at one of its fields, another `ValueError` as a whole.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from linemap.domain.crew.hold import Hold
from linemap.domain.design.guy import Guy
from linemap.domain.design.line import StationEquation
from linemap.domain.design.naming import ListedNumbers
from linemap.domain.design.structure import RULES_ASKED, StructureType, is_section_break
from linemap.domain.design.surroundings import Crossing
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.kind.kind import Code, Column, FieldError, Kind
from linemap.domain.kind.words import PLACE_WORDS
from linemap.domain.record.punch import PunchAction, PunchEntry
from linemap.domain.record.step_words import match_step
from linemap.domain.schedule.plan import Baseline
from linemap.domain.survey.control import ControlPoint
from linemap.domain.survey.fact import RecordedFact
from linemap.domain.survey.plumb import judged_reading
from linemap.geometry.frame import ArmRule
from linemap.geometry.station import parse_station
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.numbers import parse_number, parse_yes
from linemap.io.design.measures import Values, framing_of_row, tolerance_of_row
from linemap.io.design.structure_details import unusual_spacing
from linemap.io.design.structure_numbers import StructureSet, parse_set
from linemap.units import LengthUnit

_WHOLE = frozenset({"all", "line", "whole line"})
#: Makes the records of one row of its values.
Maker = Callable[[Ledger, int, Values], Iterable[Any]]
#: Makes the records of all rows, given with their indices and values; refuses rows by itself.
Gatherer = Callable[[Ledger, Sequence[tuple[int, Values]]], Iterable[Any]]


def reach_of(
    kind: Kind[Any], column: Column, values: Mapping[str, Any], listed: ListedNumbers
) -> dict[str, Any]:
    """Return the structures a row names one by one, or the first and the last of them."""
    text, line = str(values[column.name]), str(values.get("line", ""))
    if (not text and values.get("radius") and values.get("easting") is not None) or text.casefold() in _WHOLE:
        found = StructureSet()
    elif text or not values["from_structure"]:
        found = parse_set(text, listed, line=line)
        if not (found.numbers or found.first):
            raise ValueError(
                f"the {kind.noun} names no structure; write its numbers, or all for the whole line"
            )
    else:
        first = values["from_structure"]
        ends = [parse_set(end, listed, line=line) for end in (first, values["to_structure"] or first)]
        if any(len(end.numbers) != 1 for end in ends):
            raise ValueError(f"a {kind.noun} runs from one structure to one structure")
        found = StructureSet(first=ends[0].numbers[0], last=ends[1].numbers[0])
    return {column.name: found.numbers, "from_structure": found.first, "to_structure": found.last}


def _guys(ledger: Ledger, _: int, row: Values) -> Iterator[Guy]:
    """Give a guy for each side; one without a name is G1, G2, ... in the order of its structure's rows."""
    place = (row["line"], row["structure"])
    ledger.seen[place] = ledger.seen.get(place, 0) + 1
    name, sides = row["id"] or f"G{ledger.seen[place]}", row["side"] or ("",)
    for side in sides:
        yield Guy(**{**row, "id": name + (side[:1].upper() if len(sides) > 1 else ""), "side": side})


def _types(ledger: Ledger, index: int, row: Values) -> Iterator[StructureType]:
    """Give the type of a row; without a section-break column, dead-ends are known by their code or words."""
    if row["rule"] is ArmRule.AZIMUTH:
        raise FieldError("rule", "the rule is an azimuth and none is given", RULES_ASKED)
    if "section_break" not in ledger.sheet.matches:
        row["section_break"] = is_section_break(f"{row['code']} {row['words']}")
    if row["spacing"] and (words := unusual_spacing(row["spacing"], ledger.unit)):
        ledger.note(index, "spacing", words, "write the unit in the heading if it is another")
    yield StructureType(**row)


def _equations(ledger: Ledger, index: int, row: Values) -> Iterator[StationEquation]:
    """Give the equation of a row: its two stations, or both in one cell ("470+00 BK = 473+84.50 AH").

    Rows of a PI list whose two stations are equal, or of which one is blank, are no equations and left out.
    """
    whole = row.pop("text")
    if not row["back"]:
        row["back"], _, ahead = map(str.strip, whole.partition("="))
        row["ahead"] = ahead or row["ahead"]
    if not (row["back"] and row["ahead"]):
        ledger.leave_out(index, "back", "only one station, so no equation")
        return
    row |= {name: _station(name, row[name], ledger.unit) for name in ("back", "ahead")}
    if row["back"] == row["ahead"]:
        ledger.leave_out(index, "back", "back and ahead station are equal, so no equation")
        return
    yield StationEquation(**row)


def _station(name: str, text: str, unit: LengthUnit) -> float:
    try:
        parsed = parse_station(text, per_plus=unit.per_plus)
    except ValueError as error:
        raise FieldError(name, str(error), "") from None
    if parsed.side is not None and parsed.side != name:
        raise FieldError(name, f"the station says {parsed.side} in the {name} column", "exchange the two")
    return parsed.value


def _facts(ledger: Ledger, _: int, row: Values) -> Iterator[RecordedFact]:
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


def _punch(ledger: Ledger, index: int, row: Values) -> Iterator[PunchEntry]:
    """Give one entry for each of the dates opened, closed and reopened that a row holds.

    Evidence and the name beside it go with the closing. A closing without evidence is noted: it closes
    nothing. A part that is a pole in the owner's words is kept by its letter.
    """
    naming, days = ledger.naming, {action: row.pop(action) for action in _ACTIONS}
    if not naming.poles.is_plain:
        row["part"] = naming.letters(row["part"], row["structure"], row["line"]) or row["part"]
    if not any(days.values()):
        raise ValueError("the item has no date")
    if days["closed"] is not None and not row["evidence"]:
        ledger.note(index, "closed", "closed without evidence: the item stays open", "name what shows it")
    opened = {**row, "who": "", "evidence": ""}
    for action, day in days.items():
        if day is not None:
            yield PunchEntry(**(row if action == "closed" else opened) | {"action": action, "on": day})


def _plans(ledger: Ledger, rows: Sequence[tuple[int, Values]]) -> Iterator[Baseline]:
    """Give a baseline for each line, step and revision.

    A plan without any week is kept and noted: it gives no curve. Counts that fall and weeks out of order are
    refused at the last row of their baseline.
    """
    if all(row["week"] is None for _, row in rows):
        ledger.note(None, "week", "the plan gives no dates, so there is no curve", "add the week of each row")
    series: dict[tuple[str, ...], list[tuple[int, Values]]] = {}
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


_SPAN = re.compile(r"^\s*span", re.IGNORECASE)
_KV = re.compile(r"(\d+(?:\.\d+)?)\s*kV\b", re.IGNORECASE)


def _crossings(ledger: Ledger, index: int, row: Values) -> Iterator[Crossing]:
    """Give the crossing of a row, which names a station, a true distance or a span.

    What has a voltage, in its own column or in its name, is energized unless the list says no; words that
    are neither yes nor no are taken as energized, and noted.
    """
    span = row.pop("span")
    try:
        named = (row[f"{end}_structure"] for end in ("back", "ahead"))
        listed, line = ledger.naming.listed, row["line"]
        ends = _span(span, listed, line) if span else tuple(_one(each, listed, line) for each in named)
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


def _span(text: str, listed: ListedNumbers, line: str) -> tuple[str, ...]:
    named = parse_set(_SPAN.sub("", text).strip(), listed, line=line)
    if named.first:
        return named.first, named.last
    if len(named.numbers) != 2:
        raise ValueError("a span lies between two structures; write it like 17/2-17/3")
    return named.numbers


def _one(text: str, listed: ListedNumbers, line: str) -> str:
    numbers = parse_set(text, listed, line=line).numbers if text else ("",)
    if len(numbers) > 1:
        raise ValueError(f"{text!r} names more than one structure")
    return "".join(numbers)


def _voltage(ledger: Ledger, row: Values) -> float | None:
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


def _control(ledger: Ledger, index: int, row: Values) -> Iterator[ControlPoint]:
    """Give the point of a row where it stands on the grid; an elevation of 0 is noted as none."""
    if row["elevation"] == 0.0:
        ledger.note(index, "elevation", "0; taken as not measured", "leave the cell blank")
        row["elevation"] = None
    yield ControlPoint(
        **{name: value for name, value in row.items() if name not in PLACE_WORDS or value is not None}
    )


def _holds(_: Ledger, __: int, row: Values) -> Iterator[Hold]:
    """Give the hold of a row; where it stands is kept on the grid. A radius is around somewhere."""
    if row["radius"] and not row["structures"] and row["easting"] is None:
        raise FieldError("radius", "a radius around nothing", "give coordinates, or structures one by one")
    yield Hold(**{name: value for name, value in row.items() if name not in ("longitude", "latitude")})


MAKERS: Mapping[Code, Maker] = {
    "control": _control,
    "holds": _holds,
    "guys": _guys,
    "types": _types,
    "framing": framing_of_row,
    "crossings": _crossings,
    "equations": _equations,
    "facts": _facts,
    "punch": _punch,
    "tolerances": tolerance_of_row,
}
GATHERERS: Mapping[Code, Gatherer] = {"plan": _plans}
