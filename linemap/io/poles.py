"""Pole schedules: one row a pole, or one row for several poles of a structure."""

from __future__ import annotations

import re

from linemap.domain.structure import Pole
from linemap.io.answer import parse_yes
from linemap.io.meaning import LENGTH_UNITS, Match, unit_word
from linemap.io.numbers import Numbers, parse_number
from linemap.io.sheet import Ledger, sheet_of
from linemap.io.structure_numbers import DATE_REMEDY, NumberColumn, read_numbers
from linemap.io.table import Loaded, RawTable
from linemap.units import LengthUnit

__all__ = ["parse_letters", "parse_size", "read_poles"]

_POSITIONS = {"1": "A", "2": "B", "3": "C", "L": "A"}
_WHOLE = {"BOTH": "AB", "A/B": "AB", "ALL": "ABC"}
_CLASS = r"(?:CL(?:ASS)?\.?\s*)?(?P<class{0}>H\d|[1-9]|10)"
_LENGTH = r"(?P<length{0}>\d{{2,3}}(?:\.\d+)?)\s*(?:'|FT)?"
_SIZE = re.compile(
    rf"{_LENGTH.format(1)}\s*[-/\s]\s*{_CLASS.format(1)}|{_CLASS.format(2)}\s*[-/]\s*{_LENGTH.format(2)}",
    re.IGNORECASE,
)
#: Poles are made from 20 to 150 ft.
_LENGTHS_FT = (15.0, 200.0)


def parse_size(text: str) -> tuple[float, str]:
    """Read length (feet) and class as schedules write them together.

    Raises
    ------
    ValueError
        If the text is none; two sizes in one cell ("75-2/70-2") need a row for each pole.

    >>> parse_size("75-2"), parse_size("H1-75"), parse_size("80' CL 1")
    ((75.0, '2'), (75.0, 'H1'), (80.0, '1'))
    """
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        raise ValueError("no pole size; write it like 75-2, length and class")
    number = 1 if match["length1"] else 2
    return float(match[f"length{number}"]), match[f"class{number}"].upper()


def parse_letters(text: str) -> str:
    """Read which poles a row is about; "" when the text names none.

    Left and first pole are A; the right one is the last, which only the structure tells, so "R" is
    not read.

    >>> [parse_letters(text) for text in ("pole b", "A,B", "both", "2", "R")]
    ['B', 'AB', 'AB', 'B', '']
    """
    word = re.sub(r"\bPOLES?\b", "", text.upper()).strip()
    if word in _WHOLE:
        return _WHOLE[word]
    letters = re.sub(r"[\s,;&+/]+|\bAND\b", "", word)
    if letters in _POSITIONS:
        return _POSITIONS[letters]
    return letters if letters in {"A", "B", "C", "AB", "AC", "BC", "ABC"} else ""


def read_poles(table: RawTable, *, unit: LengthUnit, line_default: str = "") -> Loaded[tuple[Pole, ...]]:
    """Read a pole schedule.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    unit : LengthUnit
        Ground unit of the line, for ground elevations. Pole lengths are feet unless the heading or the
        cell says metres.
    line_default : str
        Line of rows that name none.

    Returns
    -------
    Loaded of tuple of Pole
        In file order. A row that cannot be used is listed as left out; a row for several poles gives each
        of them.

    Raises
    ------
    InputRefused
        If no row can be used, or a structure number was turned into a date by a spreadsheet.
    """
    ledger = Ledger(sheet_of(table, "poles"))
    sheet = ledger.sheet
    numbers = read_numbers(sheet.cells("structure"))
    letters = [parse_letters(text) for text in sheet.texts("letter")]
    for index, text in enumerate(sheet.texts("letter")):
        _judge_row(ledger, index, numbers, text, letters[index])
    _refuse_repeats(ledger, sheet.texts("line", missing=line_default), numbers.numbers, letters)
    ledger.check_some_left("structure")
    lines = sheet.texts("line", missing=line_default)
    lengths, classes = _sizes(ledger)
    ground = sheet.lengths("ground_elevation", unit, ledger=ledger)
    _note_faults(ledger, "ground_elevation", ground)
    wire = {index: parse_yes(text) for index, text in ledger.written("ground_wire")}
    remarks = sheet.texts("remarks")
    return ledger.finish(
        tuple(
            Pole(
                line=lines[index],
                structure=numbers.numbers[index],
                letter=letter,
                length_ft=lengths.get(index),
                pole_class=classes.get(index, ""),
                ground_elevation=_known(float(ground.values[index])),
                ground_wire=wire.get(index),
                remarks=remarks[index],
                source_row=table.row_numbers[index],
            )
            for index in ledger.kept()
            for letter in letters[index]
        )
    )


def _known(value: float) -> float | None:
    return value if value == value else None


def _judge_row(ledger: Ledger, index: int, numbers: NumberColumn, text: str, letters: str) -> None:
    number = numbers.numbers[index]
    if index in numbers.faults:
        ledger.refuse(index, "structure", numbers.faults[index], DATE_REMEDY)
    elif ledger.is_heading(index) or ledger.is_total(index) or not (number or text):
        ledger.leave_out_idle(index)
    elif not number:
        ledger.leave_out(index, "structure", "the structure number is missing", "fill it in")
    elif not letters:
        ledger.leave_out(index, "letter", "no pole A, B or C", "write A, B or C")


def _refuse_repeats(ledger: Ledger, lines: list[str], numbers: list[str], letters: list[str]) -> None:
    first: dict[tuple[str, str, str], int] = {}
    for index in ledger.kept():
        for letter in letters[index]:
            earlier = first.setdefault((lines[index], numbers[index], letter), index)
            if earlier != index:
                rows = ledger.sheet.table.row_numbers
                both = f"in rows {rows[earlier]} and {rows[index]}"
                reason = f"pole {letter} of {numbers[index]} stands twice, {both}"
                ledger.refuse(index, "letter", reason, "keep one of them")


def _sizes(ledger: Ledger) -> tuple[dict[int, float], dict[int, str]]:
    lengths: dict[int, float] = {}
    classes = dict(ledger.written("class"))
    heading = ledger.sheet.matches.get("length", Match(index=-1, heading=""))
    for index, text in ledger.written("length"):
        try:
            lengths[index] = _feet(text, heading, ledger.sheet.table.decimal_mark)
        except ValueError as error:
            ledger.note(index, "length", f"{error}; taken as not given", "correct the cell")
    for index, text in ledger.written("size"):
        try:
            lengths[index], classes[index] = parse_size(text)
        except ValueError as error:
            ledger.note(index, "size", f"{error}; taken as not given")
    return lengths, {index: _class(text) for index, text in classes.items()}


def _class(text: str) -> str:
    return re.sub(r"^CL(?:ASS)?\.?\s*", "", text.upper())


def _feet(text: str, heading: Match, mark: str) -> float:
    number = parse_number(text, mark=mark)
    sign = unit_word(number.unit) if number.unit else heading.unit
    if (number.unit or sign) and sign not in LENGTH_UNITS:
        raise ValueError(f"{number.unit or sign!r} is no length unit of a pole")
    written = Match(index=-1, heading="", unit=sign).length_unit(LengthUnit.FOOT)
    feet = number.value * written.metres / LengthUnit.FOOT.metres
    if not _LENGTHS_FT[0] <= feet <= _LENGTHS_FT[1]:
        raise ValueError(f"no pole is {feet:,.1f} ft long")
    return feet


def _note_faults(ledger: Ledger, name: str, numbers: Numbers) -> None:
    for index, reason in numbers.faults.items():
        numbers.values[index] = float("nan")
        ledger.note(index, name, f"{reason}; taken as not given", "correct the cell")
