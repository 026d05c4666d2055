"""Lengths and classes of poles as schedules write them, in one cell or two, for one pole or several."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from linemap.io.cells.ledger import Ledger
from linemap.io.cells.meaning import LENGTH_UNITS, Match, length_unit, unit_word
from linemap.io.cells.numbers import parse_number
from linemap.units import LengthUnit

_CLASS = r"(?:CL(?:ASS)?\.?\s*)?(?P<class{0}>H\d|[1-9]|10)"
_LENGTH = r"(?P<length{0}>\d{{2,3}}(?:\.\d+)?)\s*(?:'|FT)?"
_SIZE = re.compile(
    rf"{_LENGTH.format(1)}\s*[-/\s]\s*{_CLASS.format(1)}|{_CLASS.format(2)}\s*[-/]\s*{_LENGTH.format(2)}",
    re.IGNORECASE,
)
_COUNT_BEHIND = re.compile(r"\s*\(([1-9])\)$")
_PARTS = re.compile(r"(?<=[\dH])\s*[/,;&+]\s*(?=\d{2,3}\s*['-]|H\d\s*-|[1-9]\s*-)", re.IGNORECASE)
_DITTO = re.compile(r"[\"”〃'`´]+|-?\s*(?:do|ditto|same|as above|same as above)\.?\s*-?|[″’]+", re.IGNORECASE)
_IS_CLASS = re.compile(r"(?:CL(?:ASS)?\.?\s*)?(H\d|[1-9]|10)", re.IGNORECASE)
#: Poles are made from 20 to 150 ft.
_LENGTHS_FT = (15.0, 200.0)


def parse_size(text: str) -> tuple[float, str]:
    """Read length (feet) and class as schedules write them together.

    Raises
    ------
    ValueError
        If the text is none; two sizes in one cell ("75-2/70-2") are for `parse_sizes`.

    >>> parse_size("75-2"), parse_size("H1-75"), parse_size("80' CL 1")
    ((75.0, '2'), (75.0, 'H1'), (80.0, '1'))
    """
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        raise ValueError("no pole size; write it like 75-2, length and class")
    number = 1 if match["length1"] else 2
    return float(match[f"length{number}"]), match[f"class{number}"].upper()


def parse_sizes(text: str) -> tuple[tuple[float, str], ...]:
    """Read the sizes of all poles a cell is about: one for all of them, or one for each.

    Raises
    ------
    ValueError
        If some part is no size.

    >>> parse_sizes("75-2/70-2"), parse_sizes("75-1 (3)")
    (((75.0, '2'), (70.0, '2')), ((75.0, '1'),))
    """
    whole = _COUNT_BEHIND.sub("", text.strip())
    if _SIZE.fullmatch(whole):
        return (parse_size(whole),)
    return tuple(parse_size(part) for part in _PARTS.split(whole))


def is_ditto(text: str) -> bool:
    """Say whether a cell says "as above".

    >>> [is_ditto(text) for text in ('"', "do.", "As above", "-do-", "", "75-2")]
    [True, True, True, True, False, False]
    """
    return _DITTO.fullmatch(text.strip()) is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Length and class of one pole."""

    #: Feet; None = not given.
    length_ft: float | None = None
    #: "" = not given.
    pole_class: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """The sizes a row gives: one for all its poles, or one for each."""

    of: tuple[Size, ...] = field(default=())

    def pole(self, position: int) -> Size:
        """Return the size of a pole by its position among the poles of the row."""
        if not self.of:
            return Size()
        return self.of[position] if position < len(self.of) else self.of[-1]


def read_sizes(
    ledger: Ledger, letters: Sequence[str], structures: Sequence[str]
) -> tuple[dict[int, Sizes], dict[int, str]]:
    """Read the sizes of all rows not left out; ditto marks and blanks are taken from the row above.

    Returns
    -------
    dict, dict
        Row index -> its sizes, and row index -> the row it was taken from, in words.
    """
    columns = {name: dict(ledger.written(name)) for name in ("length", "class", "size")}
    sizes: dict[int, Sizes] = {}
    copied: dict[int, str] = {}
    above: int | None = None
    for index in ledger.kept():
        texts = {name: column.get(index, "") for name, column in columns.items()}
        filled = [text for text in texts.values() if text]
        if above is not None and above in sizes and (not filled or _all_ditto(filled)):
            sizes[index] = sizes[above]
            said = f"{filled[0]!r}" if filled else "blank"
            same = structures[above] == structures[index]
            doubt = "" if filled or same else ", another structure; is that meant?"
            copied[index] = f"{said}: taken as in row {ledger.sheet.table.row_numbers[above]} above{doubt}"
        elif filled:
            before = None if above is None else sizes.get(above)
            sizes[index] = _own(ledger, index, texts, len(letters[index]), before)
        above = index
    return sizes, copied


def _all_ditto(texts: Sequence[str]) -> bool:
    return bool(texts) and all(is_ditto(text) for text in texts)


def _own(ledger: Ledger, index: int, texts: Mapping[str, str], poles: int, above: Sizes | None) -> Sizes:
    """Read the sizes written in a row; a single ditto mark takes that part from the row above."""
    name = "size" if texts["size"] else "length"
    try:
        found = [Size(length_ft=feet, pole_class=of) for feet, of in parse_sizes(texts[name])]
    except ValueError as error:
        if name == "size":
            ledger.note(index, name, f"{error}; taken as not given", "correct the cell")
            return Sizes()
        return Sizes(of=(_of_two_cells(ledger, index, texts, above),))
    if poles and len(found) not in {1, poles}:
        reason = f"{len(found)} sizes for {poles} poles; taken as not given"
        ledger.note(index, name, reason, "write one size for all of them, or one for each")
        return Sizes()
    return Sizes(of=tuple(found))


def _of_two_cells(ledger: Ledger, index: int, texts: Mapping[str, str], above: Sizes | None) -> Size:
    length, of = texts["length"], texts["class"]
    before = above.pole(0) if above else Size()
    if _IS_CLASS.fullmatch(length) and _is_length(ledger, of):
        ledger.note(index, "length", f"length and class are exchanged ({length}, {of}); read as {of} ft")
        length, of = of, length
    feet: float | None = before.length_ft if is_ditto(length) else None
    if length and not is_ditto(length):
        try:
            feet = _feet(length, ledger.sheet.column("length"), ledger.sheet.table.decimal_mark)
        except ValueError as error:
            ledger.note(index, "length", f"{error}; taken as not given", "correct the cell")
    return Size(length_ft=feet, pole_class=before.pole_class if is_ditto(of) else _class(of))


def _is_length(ledger: Ledger, text: str) -> bool:
    try:
        _feet(text, None, ledger.sheet.table.decimal_mark)
    except ValueError:
        return False
    return True


def _class(text: str) -> str:
    return re.sub(r"^CL(?:ASS)?\.?\s*", "", text.upper())


def _feet(text: str, heading: Match | None, mark: str) -> float:
    number = parse_number(text, mark=mark)
    sign = unit_word(number.unit) if number.unit else heading.unit if heading else ""
    if (number.unit or sign) and sign not in LENGTH_UNITS:
        raise ValueError(f"{number.unit or sign!r} is no length unit of a pole")
    feet = number.value * length_unit(sign, LengthUnit.FOOT).metres / LengthUnit.FOOT.metres
    if not _LENGTHS_FT[0] <= feet <= _LENGTHS_FT[1]:
        raise ValueError(f"no pole is {feet:,.1f} ft long")
    return feet
