"""Numbers as people and spreadsheets write them (thousands marks, decimal commas, units), and yes and no."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from linemap.domain.design.structure import FloatArray
from linemap.io.cells.table import Cell, cell_text, is_blank

_CELL = re.compile(
    r"""(?P<number>[+-]?\ ?(?:\d[\d.,\ ]*|[.,]\d+)(?:(?<=[\d.,])[eE][+-]?\d+)?)
        \ *(?P<unit>[^\d\s.,+\-][^\d]*)?""",
    re.VERBOSE,
)
_GROUPED = {mark: re.compile(rf"[1-9]\d{{0,2}}(?:\{mark}\d{{3}})+") for mark in ",."}
_SPACED = re.compile(r"\d{1,3}(?: \d{3})+(?:[.,]\d+)?")
_POINT_ONLY = re.compile(
    r"[+-]?(?:\d*\.(?:\d{1,2}|\d{4,})|\d{4,}\.\d{3}|0+\.\d+|[1-9]\d{0,2}(?:,\d{3})+\.\d+)"
)
_COMMA_ONLY = re.compile(r"[+-]?(?:\d*,(?:\d{1,2}|\d{4,})|\d{4,},\d{3}|0+,\d+|[1-9]\d{0,2}(?:\.\d{3})+,\d+)")
_DIGITS = re.compile(r"[0-9.+\-\n]*")
_LONGEST = 60
_NOT_FINITE = {"nan", "inf", "+inf", "-inf", "infinity", "+infinity", "-infinity"}
_DASHES = str.maketrans({"\u2212": "-", "\u2012": "-", "\u2013": "-", "\u2019": "'", "\u2032": "'"})


@dataclass(frozen=True, slots=True, kw_only=True)
class CellNumber:
    """A number read from one cell, with the unit written behind it ("" = none)."""

    value: float
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Numbers:
    """A column of numbers and what was wrong with it."""

    #: (n,) values; nan where the cell is blank or at fault.
    values: FloatArray
    #: Row index -> unit written in the cell.
    units: dict[int, str]
    #: Row index -> why the cell is no number.
    faults: dict[int, str]


def decimal_mark(cells: Iterable[Cell], *, doubtful: str = ".") -> str:
    """Judge from all cells of a file whether it writes a decimal point or a decimal comma.

    Only cells that can be read one way count: "900499,4" and "1.234,5" speak for the comma, "12.50" and
    "1,234.5" for the point; "900,499" alone says nothing. Both spoken for gives "?"; neither gives
    `doubtful` when some cell holds a comma, else ".".

    >>> decimal_mark(["900499,4", "12"]), decimal_mark(["900,499.4"]), decimal_mark(["1,5", "2.5"])
    (',', '.', '?')
    """
    texts = [cell for cell in cells if isinstance(cell, str)]
    with_comma = [text for text in texts if "," in text]
    if not with_comma:
        return "."
    comma = any(_COMMA_ONLY.fullmatch(text.strip()) for text in with_comma)
    point = any(_POINT_ONLY.fullmatch(text.strip()) for text in texts if "." in text)
    if comma and point:
        return "?"
    return "," if comma else "." if point else doubtful


def parse_number(text: str, *, mark: str = ".") -> CellNumber:
    """Read one number as written, with the unit behind it.

    Parameters
    ----------
    text : str
        For example "900,499.4", "12,50 m", "75'", "1 234.5".
    mark : str
        Decimal mark of the file: ".", ",", or "?" to refuse what can be read two ways.

    Raises
    ------
    ValueError
        If the text is no finite number, or can be read two ways.

    >>> parse_number("900,499.4").value, parse_number("22.9m"), parse_number("900499,4", mark=",").value
    (900499.4, CellNumber(value=22.9, unit='m'), 900499.4)
    """
    tidy = cell_text(text).translate(_DASHES)
    if tidy.startswith("#"):
        raise ValueError("a spreadsheet error, not a number")
    if tidy.casefold() in _NOT_FINITE:
        raise ValueError("not a finite number")
    match = _CELL.fullmatch(tidy) if len(tidy) <= _LONGEST else None
    if match is None:
        raise ValueError("not a number")
    value = float(_plain(match["number"].rstrip(), mark))
    if not math.isfinite(value):
        raise ValueError("not a finite number")
    return CellNumber(value=value, unit=(match["unit"] or "").strip())


def _plain(number: str, mark: str) -> str:
    """Return the number with a decimal point and without grouping."""
    sign = "-" if number.startswith("-") else ""
    body, exponent = re.fullmatch(r"[+-]? ?([^eE]*)([eE].*)?", number).groups("")  # type: ignore[union-attr]
    if " " in body:
        if not _SPACED.fullmatch(body):
            raise ValueError("more than one number in the cell")
        return sign + body.replace(" ", "").replace(",", ".") + exponent
    return sign + _ungrouped(body, mark) + exponent


def _ungrouped(body: str, mark: str) -> str:
    commas, points = body.count(","), body.count(".")
    if commas and points:
        last = max(",.", key=body.rfind)
        whole, _, fraction = body.rpartition(last)
        return _without_groups(whole, "," if last == "." else ".") + "." + fraction
    if not commas and not points:
        return body
    own = "," if commas else "."
    grouped = _GROUPED[own].fullmatch(body) is not None
    if commas + points > 1:
        return _without_groups(body, own)
    if not grouped or mark == own:
        return body.replace(own, ".")
    if mark == "?":
        raise ValueError(f"may be {body.replace(own, '.')} or {body.replace(own, '')}")
    return body.replace(own, "")


def _without_groups(body: str, separator: str) -> str:
    if separator in body and not _GROUPED[separator].fullmatch(body):
        raise ValueError("its thousands marks do not stand every three digits")
    return body.replace(separator, "")


def parse_numbers(cells: Sequence[Cell], *, mark: str = ".") -> Numbers:
    """Read a column of cells as numbers: blank cells give nan, bad ones a fault.

    >>> parse_numbers(["1", "", "#REF!", 2.5]).values.tolist()
    [1.0, nan, nan, 2.5]
    """
    if mark == "." and (plain := _plain_column(cells)) is not None:
        return Numbers(values=plain, units={}, faults={})
    result = Numbers(values=np.full(len(cells), np.nan), units={}, faults={})
    quick = mark == "."
    for index, cell in enumerate(cells):
        if cell == "" or cell is None:
            continue
        try:
            if not quick and isinstance(cell, str):
                raise ValueError
            result.values[index] = _quick(cell)
        except (ValueError, TypeError, OverflowError):
            _slow(result, index, cell, mark)
    return result


def _plain_column(cells: Sequence[Cell]) -> FloatArray | None:
    """Convert a column of digits, signs, points and blank cells at once; None when it holds anything else."""
    try:
        if not _DIGITS.fullmatch("\n".join(cells)):  # type: ignore[arg-type] # what is no text is caught
            return None
        values = np.array([float(cell) if cell else math.nan for cell in cells])  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return None
    return values if not np.isinf(values).any() else None


def _quick(cell: Cell) -> float:
    """Convert what needs no thought; `float` itself would take True, "1_000" and "nan"."""
    if isinstance(cell, bool) or (isinstance(cell, str) and ("_" in cell or not cell.isascii())):
        raise ValueError
    value = float(cell)  # type: ignore[arg-type]
    if not math.isfinite(value):
        raise ValueError
    return value


def _slow(result: Numbers, index: int, cell: Cell, mark: str) -> None:
    if is_blank(cell):
        return
    if not isinstance(cell, str):
        result.faults[index] = "not a finite number" if isinstance(cell, int | float) else "not a number"
        return
    try:
        number = parse_number(cell, mark=mark)
    except ValueError as error:
        result.faults[index] = str(error)
        return
    result.values[index] = number.value
    if number.unit:
        result.units[index] = number.unit


def known_values(values: FloatArray) -> list[float | None]:
    """Return numbers with None where they are nan."""
    return [None if math.isnan(value) else value for value in values.tolist()]


_YES = {"yes", "y", "true", "t", "1", "x", "✓", "✔", "ja", "on"}
_NO = {"", "no", "n", "false", "f", "0", "-", "–", "none", "off"}


def parse_yes(cell: Cell) -> bool | None:
    """Read a yes or no; a blank is no, and None comes back for anything else.

    >>> parse_yes("Yes"), parse_yes(None), parse_yes("x"), parse_yes("maybe")
    (True, False, True, None)
    """
    word = cell_text(cell).casefold()
    return True if word in _YES else False if word in _NO else None
