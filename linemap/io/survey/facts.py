"""Facts seen at structures: a row is one fact, and which columns it needs depends on what was seen."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from linemap.domain.survey.fact import RecordedFact, What, needed
from linemap.io.cells.dates import DateOrder, Moments, parse_moments
from linemap.io.cells.numbers import Numbers
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.poles import parse_letters
from linemap.io.design.structure_numbers import DATE_REMEDY, read_numbers
from linemap.units import LengthUnit

_WHAT: Mapping[str, What] = {
    "brand": "brand", "polebrand": "brand",
    "groundwire": "ground wire", "gw": "ground wire", "downlead": "ground wire",
    "armface": "arm face", "face": "arm face",
    "tag": "tag", "poletag": "tag",
    "plumb": "plumb", "lean": "plumb",
    "armlevel": "arm level", "level": "arm level",
}  # fmt: skip
_WAYS = {"ahead": "ahead", "ah": "ahead", "ahd": "ahead", "back": "back", "bk": "back"}
#: Field -> words a cell may hold, squeezed, and what they mean.
_WORDS: Mapping[str, Mapping[str, str]] = {
    "pointed_by": {"place": "place", "position": "place", "label": "label", "tag": "label", "shot": "label"},
    "face": _WAYS,
    "looking": _WAYS,
    "side": {"left": "left", "l": "left", "lt": "left", "right": "right", "r": "right", "rt": "right"},
}
_CHOICES = {"pole": "A, B or C", "pointed_by": "place or label", "side": "left or right"}
_LENGTHS = (
    "lower_height", "lower_along", "lower_across", "upper_height", "upper_along", "upper_across",
    "pole_height", "left_height", "right_height", "arm_length",
)  # fmt: skip
_TEXTS = ("what", "pole", "class", *_WORDS, "who", "note")
_WORDS_OF_KINDS = "write brand, ground wire, arm face, tag, plumb or arm level"


def parse_what(text: str) -> What:
    """Read what a fact is about.

    Raises
    ------
    ValueError
        If the text is none of the six.

    >>> parse_what("Ground wire"), parse_what("arm-level"), parse_what("Lean")
    ('ground wire', 'arm level', 'plumb')
    """
    what = _WHAT.get(_squeezed(text))
    if what is None:
        raise ValueError("names nothing that can be recorded here" if text else "what was seen is missing")
    return what


def read_facts(
    table: RawTable, *, unit: LengthUnit, line_default: str = "", order: DateOrder | None = None
) -> Loaded[tuple[RecordedFact, ...]]:
    """Read a list of facts.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    unit : LengthUnit
        Ground unit of the line; heights and offsets end up in it. Lengths of brands are in feet.
    line_default : str
        Line of rows that name none.
    order : "mdy" or "dmy", optional
        How dates such as 5/6/2026 are meant where the column does not tell.

    Returns
    -------
    Loaded of tuple of RecordedFact
        In file order. Of a row only the columns its `what` needs are read; another one that is filled is
        noted.

    Raises
    ------
    InputRefused
        With every row that names a structure or something seen and cannot be read.
    """
    ledger = Ledger(sheet_of(table, "facts"))
    sheet = ledger.sheet
    rows = _Rows(ledger, unit=unit, order=order)
    numbers = read_numbers(sheet.cells("structure"))
    lines = sheet.texts("line", missing=line_default)
    facts: list[RecordedFact] = []
    for index in range(len(sheet)):
        turned = index in numbers.faults
        named = numbers.numbers[index] or turned or rows.texts["what"][index]
        if ledger.is_heading(index) or ledger.is_total(index) or not named:
            ledger.leave_out_idle(index)
        elif turned:
            ledger.refuse(index, "structure", numbers.faults[index], DATE_REMEDY)
        elif not numbers.numbers[index]:
            ledger.refuse(index, "structure", "the structure number is missing", "fill it in")
        else:
            fact = rows.fact(index, line=lines[index], structure=numbers.numbers[index])
            facts += [] if fact is None else [fact]
    ledger.check_some_left("what")
    return ledger.finish(tuple(facts))


class _Rows:
    """The columns of one table, read row by row."""

    def __init__(self, ledger: Ledger, *, unit: LengthUnit, order: DateOrder | None) -> None:
        sheet = ledger.sheet
        self.ledger = ledger
        self.unit = unit
        self.texts = {name: sheet.texts(name) for name in _TEXTS}
        self.dates: Moments = parse_moments(sheet.cells("date"), order=order)
        self.lengths: dict[str, Numbers] = {
            name: sheet.lengths(name, unit, ledger=ledger) for name in _LENGTHS
        }
        self.lengths["length_ft"] = sheet.lengths("length_ft", LengthUnit.FOOT, ledger=ledger)

    def fact(self, index: int, *, line: str, structure: str) -> RecordedFact | None:
        """Return the fact of a row; None when something is wrong with it, which is listed then."""
        try:
            what = parse_what(self.texts["what"][index])
        except ValueError as error:
            self.ledger.refuse(index, "what", str(error), _WORDS_OF_KINDS)
            return None
        day, who = self._day(index), self.texts["who"][index]
        if not who:
            self.ledger.refuse(index, "who", "nobody is named", "say who saw it")
        values, good = self._values(index, what)
        if day is None or not who or not good:
            return None
        fact = RecordedFact(
            line=line,
            structure=structure,
            what=what,
            who=who,
            on=day,
            note=self.texts["note"][index],
            source_row=self.ledger.sheet.table.row_numbers[index],
            **values,
        )
        return fact if self._fits(index, fact) else None

    def _day(self, index: int) -> date | None:
        value = self.dates.values[index]
        if value is None:
            reason = self.dates.faults.get(index, "the day is missing")
            self.ledger.refuse(index, "date", reason, "write it like 2026-05-07")
        return value.date() if isinstance(value, datetime) else value

    def _values(self, index: int, what: What) -> tuple[dict[str, Any], bool]:
        """Return what the fact needs, and whether all of it is there and can be read."""
        values: dict[str, Any] = {}
        good = True
        for choice in needed(what):
            found, fine = self._one_of(index, choice, what)
            values |= found
            good = good and fine
        self._note_others(index, {name for choice in needed(what) for name in choice}, what)
        return values, good

    def _one_of(self, index: int, choice: tuple[str, ...], what: What) -> tuple[dict[str, Any], bool]:
        found: dict[str, Any] = {}
        for name in choice:
            try:
                value = self._value(index, name)
            except ValueError as error:
                remedy = (
                    f"write {_CHOICES.get(name, 'ahead or back')}" if name in _CELLS else "correct the cell"
                )
                self.ledger.refuse(index, _COLUMN.get(name, name), str(error), remedy)
                return found, False
            if value not in ("", None):
                found[name] = value
        if not found:
            words = " or ".join(name.replace("_", " ") for name in choice)
            self.ledger.refuse(index, _COLUMN.get(choice[0], choice[0]), f"a fact of {what} needs {words}")
        return found, bool(found)

    def _value(self, index: int, name: str) -> str | float | None:
        if name in self.lengths:
            numbers = self.lengths[name]
            if index in numbers.faults:
                raise ValueError(numbers.faults[index])
            value = float(numbers.values[index])
            return value if value == value else None
        text = self.texts[_COLUMN.get(name, name)][index]
        if name == "pole_class":
            return text.upper()
        return _letter(text) if name == "pole" else _word(name, text)

    def _note_others(self, index: int, read: set[str], what: What) -> None:
        for name in (*_CELLS, *self.lengths, "pole_class"):
            column = _COLUMN.get(name, name)
            filled = self.ledger.sheet.texts(column)[index] if name not in read else ""
            if filled:
                self.ledger.note(index, column, f"not read: a fact of {what} does not need it")

    def _fits(self, index: int, fact: RecordedFact) -> bool:
        """Say whether a reading can be that of one pole or one arm; list it when it cannot."""
        try:
            fact.lean(self.unit)
            fact.level(self.unit)
        except ValueError as error:
            column = "upper_height" if fact.what == "plumb" else "arm_length"
            self.ledger.refuse(index, column, str(error), "correct the row")
            return False
        return True


#: Fields whose cells hold one of a few words.
_CELLS = ("pole", *_WORDS)
#: Field -> its name in the vocabulary, where that differs.
_COLUMN = {"pole_class": "class"}


def _letter(text: str) -> str:
    letters = parse_letters(text)
    if text and len(letters) != 1:
        raise ValueError("no single pole A, B or C")
    return letters


def _word(name: str, text: str) -> str:
    word = _WORDS[name].get(_squeezed(text), "")
    if text and not word:
        raise ValueError(f"not {_CHOICES.get(name, 'ahead or back')}")
    return word


def _squeezed(text: str) -> str:
    return re.sub(r"[^a-z]", "", text.casefold())
