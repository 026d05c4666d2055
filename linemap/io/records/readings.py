"""The readings of a list of records: which columns hold them, and what their cells say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from linemap.domain.design.pole_words import PoleWords
from linemap.domain.record.reading import Reading, make_reading, put_in_order
from linemap.domain.record.reading_type import READINGS
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.numbers import parse_number, parse_yes
from linemap.io.cells.table import cell_text

_NOTHING = frozenset({"", "-", "\u2013", "n/a", "na"})
_GOOD = frozenset({"ok", "good", "level", "plumb"})
#: "0.5 in low at B", "B 0.5", in the words for the poles.
_ONE_POLE = (
    r"(?:pole )?(?P<first>{words})[ :]+(?P<alone>.+)|"
    r"(?P<value>.+?)(?: low)?(?: at)?(?: pole)? (?P<last>{words})"
)


@cache
def _one_pole(poles: PoleWords, count: int) -> tuple[re.Pattern[str], dict[str, str]]:
    """Return what finds the pole a cell names, and the letter of each word for one of so many."""
    letters = dict(zip("ABC", "ABC", strict=True)) | ({} if poles.is_plain else poles.known(count))
    words = "|".join(sorted(letters, key=len, reverse=True))
    return re.compile(_ONE_POLE.format(words=words), re.IGNORECASE), letters


class _Column(NamedTuple):
    """One column of readings."""

    #: Field of the list.
    field: str
    #: Name of the reading.
    name: str
    #: Pole its heading names, "" = none.
    pole: str
    #: Unit its heading names, "" = none.
    unit: str
    texts: list[str]


class ReadingColumns:
    """The columns of readings that a list has; made once, asked row by row."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._columns = list(_columns(ledger))
        self._parse = cache(self._read)

    def of_row(
        self, index: int, letters: tuple[str, ...], *, place: tuple[str, str]
    ) -> dict[str, tuple[Reading, ...]]:
        """Return the readings of a row for each of the poles it names; ("",) is the whole structure.

        `place` are the line and number of the structure.

        A cell that cannot be read is noted, and the record is kept without it. Of a row about several poles
        "9.5/10.1" gives each its own.
        """
        naming = self._ledger.naming
        count = naming.listed.poles(place[1], place[0])
        found: dict[str, list[Reading]] = {letter: [] for letter in letters}
        for column in self._columns:
            text = column.texts[index]
            if text.casefold() in _NOTHING:
                continue
            try:
                for letter, reading in self._of_cell(column, text, letters, count):
                    taken = [*found[letter], reading]
                    found[letter] = list(put_in_order(taken, pole=letter, called=naming.called(place)))
            except ValueError as error:
                self._ledger.note(index, column.field, f"{error}; the record is kept without it")
        return {letter: tuple(readings) for letter, readings in found.items()}

    def _of_cell(
        self, column: _Column, text: str, letters: tuple[str, ...], count: int
    ) -> Iterator[tuple[str, Reading]]:
        """Give the readings of a cell with the pole of the record each belongs to."""
        known = READINGS[column.name]
        parts = [part.strip() for part in text.split("/")] if known.of == "pole" else [text]
        whole = letters == ("",)
        of_poles = tuple("ABC"[: len(parts)]) if whole else letters
        if known.kind == "number" and 1 < len(parts) == len(of_poles) and not column.pole:
            for letter, part in zip(of_poles, parts, strict=True):
                event, own = ("", letter) if whole else (letter, "")
                yield event, self._parse(column.name, column.unit, own, part, count)
            return
        for letter in letters:
            if not column.pole or letter in {"", column.pole}:
                own = column.pole if letter == "" else ""
                yield letter, self._parse(column.name, column.unit, own, text, count)

    def _read(self, name: str, unit: str, pole: str, text: str, count: int) -> Reading:
        known = READINGS[name]
        pattern, words = _one_pole(self._ledger.naming.poles, count)
        if known.of == "one pole" and (named := pattern.fullmatch(text)):
            pole = words[(named["first"] or named["last"]).upper()]
            text = named["alone"] or named["value"]
        if known.kind == "text":
            return make_reading(name, text, pole=pole)
        if known.kind == "yes or no":
            answer = True if text.casefold() in _GOOD else parse_yes(text)
            return make_reading(name, text if answer is None else answer, pole=pole)
        try:
            number = parse_number(text, mark=self._ledger.sheet.table.decimal_mark)
        except ValueError:
            return make_reading(name, text, unit=unit, pole=pole)  # feet and inches, or refused there
        return make_reading(name, number.value, unit=number.unit or unit, pole=pole)


def _columns(ledger: Ledger) -> Iterator[_Column]:
    sheet = ledger.sheet
    for field, match in sheet.matches.items():
        name, _, pole = field.partition("_")
        if name in READINGS:
            texts = [cell_text(cell) for cell in sheet.cells(field)]
            yield _Column(field, name, pole.upper(), match.unit, texts)
