"""Framing tables: one row a dimension of a structure type, with the drawing it stands on."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from linemap.domain.design.lengths import parse_feet_inches
from linemap.domain.framing.framing_type import DIMENSIONS, FramingEntry, Measure
from linemap.io.cells.meaning import LENGTH_UNITS, Match, unit_word
from linemap.io.cells.numbers import parse_number
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.units import LengthUnit, convert_length

#: Other names of dimensions, squeezed to letters. Common practice, no source.
_ALIASES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "shieldwire": "shield wire drop", "toptoshieldwire": "shield wire drop", "ohgw": "shield wire drop",
        "ohgwdrop": "shield wire drop", "toptoohgw": "shield wire drop",
        "arm": "arm drop", "armbolt": "arm drop", "toptoarm": "arm drop", "toptoarmbolt": "arm drop",
        "mindrop": "minimum drop", "leastdrop": "minimum drop", "minimumarmdrop": "minimum drop",
        "upperbrace": "upper brace drop", "upperbracebolt": "upper brace drop",
        "toptoupperbrace": "upper brace drop", "toptoupperbracebolt": "upper brace drop",
        "bracebolttobolt": "brace length", "xbracelength": "brace length", "bolttobolt": "brace length",
        "bracesetspacing": "brace spacing", "bracesetfor": "brace spacing", "xbracespacing": "brace spacing",
        "bolting": "brace bolting", "bracebolts": "brace bolting",
        "polediameteratbraces": "pole diameter", "diameter": "pole diameter",
        "settingdepth": "embedment", "embedmentdepth": "embedment",
        "settingdepthpercent": "embedment percent", "percentembedment": "embedment percent",
        "settingdepthadd": "embedment add", "embedmentplus": "embedment add",
        "minimumembedment": "embedment least", "minimumsettingdepth": "embedment least",
        "phaseblocks": "conductor blocks", "ohgwblocks": "shield-wire blocks",
    }
)  # fmt: skip
_CHOICES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "centre": "centre", "center": "centre", "throughcentre": "centre", "throughcenter": "centre",
        "through": "centre", "polecentre": "centre", "polecenter": "centre",
        "insideface": "inside face", "insidefaces": "inside face", "face": "inside face",
        "innerface": "inside face", "innerfaces": "inside face",
        "none": "none", "nobrace": "none", "nobraces": "none", "no": "none",
    }
)  # fmt: skip
_COUNTED = re.compile(r"(?:count|number|pieces)\s+of\s+(.+)", re.IGNORECASE)
_UNITS: Final[Mapping[Measure, frozenset[str]]] = MappingProxyType(
    {
        "length": frozenset({"m", "ft", "ift", "ftUS", "in", "mm"}),
        "angle": frozenset({"", "deg"}),
        "percent": frozenset({"", "%"}),
        "count": frozenset({"", "pcs"}),
        "choice": frozenset({""}),
    }
)
_SIGNS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "in": "in", "inch": "in", "inches": "in", '"': "in", "mm": "mm", "millimetres": "mm",
        "millimeters": "mm", "%": "%", "percent": "%", "pct": "%", "pcs": "pcs", "pieces": "pcs",
        "each": "pcs", "ea": "pcs", "deg": "deg", "degrees": "deg", "°": "deg",
    }
)  # fmt: skip
_LENGTHS_ASKED = "write ft, m, in, mm or feet and inches like 12'-6\""


def parse_dimension(text: str) -> str:
    """Return a dimension in its one spelling; "count of X" counts pieces of X.

    Raises
    ------
    ValueError
        If it is none linemap knows.

    >>> [parse_dimension(text) for text in ("Top to arm bolt", "BRACE LENGTH", "Count of Arm 28 ft")]
    ['arm drop', 'brace length', 'count of Arm 28 ft']
    """
    counted = _COUNTED.fullmatch(text.strip())
    if counted:
        return f"count of {counted[1]}"
    word = re.sub(r"[^a-z]", "", text.casefold())
    known = {re.sub(r"[^a-z]", "", name.casefold()): name for name in DIMENSIONS}
    found = known.get(word) or _ALIASES.get(word)
    if found is None:
        raise ValueError("no dimension linemap knows")
    return found


def parse_choice(text: str) -> str:
    """Return how braces are bolted in its one spelling.

    Raises
    ------
    ValueError
        If it is none.

    >>> parse_choice("Through center"), parse_choice("inside faces"), parse_choice("NONE")
    ('centre', 'inside face', 'none')
    """
    found = _CHOICES.get(re.sub(r"[^a-z]", "", text.casefold()))
    if found is None:
        raise ValueError("no way braces are bolted")
    return found


@dataclass(slots=True, kw_only=True)
class _Reading:
    """What is known while the rows are read."""

    unit: LengthUnit
    mark: str
    #: Type code -> "m" or "ft", the system its first length is in, and its row number.
    systems: dict[str, tuple[str, int]] = field(default_factory=dict)
    #: Type and dimension -> row number.
    seen: dict[tuple[str, str], int] = field(default_factory=dict)


def read_framing(table: RawTable, *, unit: LengthUnit) -> Loaded[tuple[FramingEntry, ...]]:
    """Read a framing table.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    unit : LengthUnit
        Ground unit of the line; lengths end up in it.

    Returns
    -------
    Loaded of tuple of FramingEntry
        In file order. A row without a value is left out: its dimension stays not given.

    Raises
    ------
    InputRefused
        With every row that names no known dimension, has a length without a unit, mixes feet and metres
        within one type, or stands twice: a dimension read wrong is drilled wrong.
    """
    ledger = Ledger(sheet_of(table, "framing"))
    sheet = ledger.sheet
    texts = {name: sheet.texts(name) for name in ("code", "dimension", "value", "unit", "drawing")}
    heading = sheet.column("value")
    reading = _Reading(unit=unit, mark=table.decimal_mark)
    entries = []
    for index in range(len(sheet)):
        row = {name: column[index] for name, column in texts.items()}
        if ledger.is_heading(index) or ledger.is_total(index) or not (row["code"] or row["dimension"]):
            ledger.leave_out_idle(index)
        elif not row["value"]:
            ledger.leave_out(index, "value", "no value: the dimension stays not given", "write it as drawn")
        else:
            row["unit"] = row["unit"] or (heading.unit if heading else "")
            entry = _entry(ledger, index, row, reading)
            entries += [entry] if entry else []
    ledger.check_some_left("value")
    return ledger.finish(tuple(entries))


def _entry(ledger: Ledger, index: int, row: Mapping[str, str], reading: _Reading) -> FramingEntry | None:
    """Return the entry of a row, or list what is wrong with it."""
    number = ledger.sheet.table.row_numbers[index]
    column, remedy = "code", "write the type code of the structure list"
    try:
        if not row["code"]:
            raise ValueError("the type code is missing")
        column, remedy = "dimension", f"use one of {', '.join(DIMENSIONS)}, or count of and a thing"
        dimension = parse_dimension(row["dimension"])
        column, remedy = "value", "write it as on the drawing"
        value, choice = _value(dimension, row, reading, number)
        entry = FramingEntry(
            code=row["code"],
            dimension=dimension,
            value=value,
            choice=choice,
            drawing=row["drawing"],
            source_row=number,
        )
    except ValueError as error:
        ledger.refuse(index, column, str(error), remedy)
        return None
    earlier = reading.seen.setdefault((entry.code, entry.dimension), number)
    if earlier != number:
        reason = f"{dimension} of {entry.code} stands twice, in rows {earlier} and {number}"
        ledger.refuse(index, "dimension", reason, "keep one of them")
    elif not entry.drawing:
        ledger.note(index, "drawing", f"{dimension} of {entry.code} names no drawing", "give its number")
    return entry


def _value(
    dimension: str, row: Mapping[str, str], reading: _Reading, number: int
) -> tuple[float | None, str]:
    measure: Measure = "count" if dimension.startswith("count of ") else DIMENSIONS[dimension][0]
    if measure == "choice":
        return None, parse_choice(row["value"])
    if measure == "length":
        return _length(row, reading, number), ""
    found = parse_number(row["value"], mark=reading.mark)
    sign = _sign(found.unit or row["unit"])
    if sign not in _UNITS[measure]:
        raise ValueError(f"{dimension} is in {sign or found.unit or row['unit']}, which is no {measure}")
    return found.value, ""


def _sign(text: str) -> str:
    word = text.strip().casefold()
    return _SIGNS.get(word) or unit_word(word) or word


def _length(row: Mapping[str, str], reading: _Reading, number: int) -> float:
    """Return a length in the line's unit, whatever unit it is written in."""
    value, sign = _written(row, reading.mark)
    if sign not in _UNITS["length"]:
        raise ValueError(
            f"a length without a unit; {_LENGTHS_ASKED}" if not sign else f"{sign!r} is no length unit"
        )
    system = "m" if sign in {"m", "mm"} else "ft"
    first, row_of_first = reading.systems.setdefault(row["code"], (system, number))
    if first != system:
        words = {"m": "metres", "ft": "feet or inches"}
        raise ValueError(
            f"{row['code']} mixes units: {words[first]} in row {row_of_first}, {words[system]} here; "
            "give the whole type in one of them"
        )
    scale, base = {"in": (1 / 12, "ft"), "mm": (0.001, "m")}.get(sign, (1.0, sign))
    source = Match(index=-1, heading="", unit=base if base in LENGTH_UNITS else "ft").length_unit(
        reading.unit
    )
    return convert_length(value * scale, source=source, target=reading.unit)


def _written(row: Mapping[str, str], mark: str) -> tuple[float, str]:
    """Return a length and its unit: a plain number, a number with its unit, or feet and inches."""
    try:
        found = parse_number(row["value"], mark=mark)
        return found.value, _sign(found.unit or row["unit"])
    except ValueError as reason:
        try:
            return parse_feet_inches(row["value"]), "ft"
        except ValueError:
            raise reason from None
