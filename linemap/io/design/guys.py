"""Guy schedules: one row a guy, or one row for several guys that are the same but for their side."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from linemap.domain.design.guy import Guy, GuyKind, GuySide
from linemap.geometry.bearing import parse_azimuth
from linemap.io.cells.numbers import Numbers
from linemap.io.cells.sheet import Ledger, sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.poles import parse_letters
from linemap.io.design.structure_numbers import DATE_REMEDY, NumberColumn, read_numbers
from linemap.units import LengthUnit

_KINDS: dict[str, GuyKind] = {
    "bisector": "bisector", "bis": "bisector", "bisect": "bisector", "angle": "bisector",
    "onbisector": "bisector", "side": "bisector",
    "back": "back", "bk": "back", "guyback": "back",
    "ahead": "ahead", "ah": "ahead", "ahd": "ahead", "guyahead": "ahead",
    "azimuth": "azimuth", "az": "azimuth",
}  # fmt: skip
_SIDES: dict[str, tuple[GuySide, ...]] = {
    "": ("",), "left": ("left",), "l": ("left",), "lt": ("left",),
    "right": ("right",), "r": ("right",), "rt": ("right",),
    "both": ("left", "right"), "lr": ("left", "right"), "leftright": ("left", "right"),
    "leftandright": ("left", "right"), "landr": ("left", "right"),
}  # fmt: skip
_RATIO = re.compile(r"(\d+(?:\.\d+)?)(?:\s*(?::|/|to)\s*(\d+(?:\.\d+)?))?")
_ASKED = "write bisector, back, ahead or azimuth"


def parse_kind(text: str) -> GuyKind:
    """Read which way a guy goes.

    Raises
    ------
    ValueError
        If the text is none of them.

    >>> parse_kind("On bisector"), parse_kind("AH"), parse_kind("Back guy")
    ('bisector', 'ahead', 'back')
    """
    word = re.sub(r"[^a-z]", "", text.casefold())
    for ending in ("", "guys", "guy"):
        kind = _KINDS.get(word.removesuffix(ending))
        if kind is not None:
            return kind
    raise ValueError("no direction of a guy")


def parse_sides(text: str) -> tuple[GuySide, ...]:
    """Read the side or sides of a row; a blank is one guy without a side.

    Raises
    ------
    ValueError
        If the text names no side.

    >>> parse_sides("L"), parse_sides("both"), parse_sides("")
    (('left',), ('left', 'right'), ('',))
    """
    sides = _SIDES.get(re.sub(r"[^a-z]", "", text.casefold()))
    if sides is None or (text.strip() and sides == ("",)):
        raise ValueError("no side of the line")
    return sides


def parse_ratio(text: str) -> float:
    """Read lead to height: "1:1", "1 to 2" (one of lead for two of height), "0.5".

    Raises
    ------
    ValueError
        If the text is no ratio above 0.

    >>> parse_ratio("1:1"), parse_ratio("1 to 2"), parse_ratio("0.75")
    (1.0, 0.5, 0.75)
    """
    match = _RATIO.fullmatch(text.strip().casefold())
    lead, height = (float(match[1]), float(match[2] or 1.0)) if match else (0.0, 1.0)
    if not (lead > 0.0 and height > 0.0):
        raise ValueError("no ratio of lead to height")
    return lead / height


def read_guys(table: RawTable, *, unit: LengthUnit, line_default: str = "") -> Loaded[tuple[Guy, ...]]:
    """Read a guy schedule.

    Parameters
    ----------
    table : RawTable
        As `read_source` gives it.
    unit : LengthUnit
        Ground unit of the line; leads and heights end up in it.
    line_default : str
        Line of rows that name none.

    Returns
    -------
    Loaded of tuple of Guy
        In file order; a row for both sides gives two guys. A guy without a name is called G1, G2, ... in the
        order of its structure's rows; the two of one row are told apart by L and R behind the name.

    Raises
    ------
    InputRefused
        With every row that names a structure or a direction and cannot be read: a guy left out would be an
        anchor nobody misses.
    """
    ledger = Ledger(sheet_of(table, "guys"))
    sheet = ledger.sheet
    columns = _Columns(
        numbers=read_numbers(sheet.cells("structure")),
        line=sheet.texts("line", missing=line_default),
        texts={
            name: sheet.texts(name) for name in ("kind", "side", "pole", "id", "ratio", "azimuth", "remarks")
        },
        lengths={name: sheet.lengths(name, unit, ledger=ledger) for name in ("lead", "height")},
    )
    guys: list[Guy] = []
    count: dict[tuple[str, str], int] = {}
    for index in range(len(sheet)):
        number = columns.numbers.numbers[index]
        named = number or columns.texts["kind"][index] or index in columns.numbers.faults
        if ledger.is_heading(index) or ledger.is_total(index) or not named:
            ledger.leave_out_idle(index)
            continue
        structure = (columns.line[index], number)
        count[structure] = count.get(structure, 0) + 1
        guys += _guys(ledger, index, columns, ordinal=count[structure])
    _refuse_repeats(ledger, guys)
    ledger.check_some_left("structure")
    return ledger.finish(tuple(guys))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Columns:
    numbers: NumberColumn
    line: list[str]
    texts: dict[str, list[str]]
    lengths: dict[str, Numbers]

    def length(self, name: str, index: int) -> float | None:
        value = float(self.lengths[name].values[index])
        return value if value == value else None


def _guys(ledger: Ledger, index: int, columns: _Columns, *, ordinal: int) -> Iterator[Guy]:
    """Give the guys of one row; list what is wrong with it instead."""
    text = {name: column[index] for name, column in columns.texts.items()}
    if not _number_is_good(ledger, index, columns.numbers):
        return
    for name, numbers in columns.lengths.items():
        if index in numbers.faults:
            ledger.refuse(index, name, numbers.faults[index], "correct the cell")
            return
    column, remedy = "kind", _ASKED
    try:
        kind = parse_kind(text["kind"])
        column, remedy = "side", "write left, right or both"
        sides = parse_sides(text["side"])
        column, remedy = "ratio", "write it like 1:1, lead to height"
        ratio = parse_ratio(text["ratio"]) if text["ratio"] else None
        column, remedy = "azimuth", "write degrees clockwise from grid north"
        azimuth = parse_azimuth(text["azimuth"]) if text["azimuth"] else None
        column, remedy = "structure", "correct the row"
        for side in sides:
            yield Guy(
                line=columns.line[index],
                structure=columns.numbers.numbers[index],
                id=(text["id"] or f"G{ordinal}") + (side[:1].upper() if len(sides) > 1 else ""),
                kind=kind,
                side=side,
                pole=_pole(ledger, index, text["pole"]),
                lead=columns.length("lead", index),
                height=columns.length("height", index),
                ratio=ratio,
                azimuth_deg=azimuth,
                remarks=text["remarks"],
                source_row=ledger.sheet.table.row_numbers[index],
            )
    except ValueError as error:
        ledger.refuse(index, column, str(error), remedy)


def _number_is_good(ledger: Ledger, index: int, numbers: NumberColumn) -> bool:
    if index in numbers.faults:
        ledger.refuse(index, "structure", numbers.faults[index], DATE_REMEDY)
    elif not numbers.numbers[index]:
        ledger.refuse(index, "structure", "the structure number is missing", "fill it in")
    else:
        return True
    return False


def _pole(ledger: Ledger, index: int, text: str) -> str:
    letters = parse_letters(text)
    if text and len(letters) != 1:
        ledger.note(index, "pole", "no single pole A, B or C; taken as not given", "give each pole its row")
        return ""
    return letters


def _refuse_repeats(ledger: Ledger, guys: list[Guy]) -> None:
    first: dict[tuple[str, str, str], int] = {}
    rows = ledger.sheet.table.row_numbers
    for guy in guys:
        earlier = first.setdefault((guy.line, guy.structure, guy.id), guy.source_row)
        if earlier != guy.source_row:
            reason = f"guy {guy.id} of {guy.structure} stands twice, in rows {earlier} and {guy.source_row}"
            ledger.refuse(list(rows).index(guy.source_row), "id", reason, "give each guy its own name")
