"""Pole schedules: one row a pole, or one row for several poles of a structure."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace

from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.structure import Pole
from linemap.domain.finding.phrase import listed_poles, pole_names
from linemap.domain.kind.kind import Column
from linemap.io.cells.dates import DateOrder
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.likeness import leave_out_strangers
from linemap.io.cells.numbers import known_values, parse_yes
from linemap.io.cells.sheet import sheet_of
from linemap.io.cells.table import Loaded, RawTable, cell_text, is_blank
from linemap.io.design.date_numbers import restore_numbers
from linemap.io.design.pole_sizes import Sizes, is_ditto, parse_sizes, read_sizes
from linemap.io.design.structure_numbers import NumberColumn, as_listed, read_numbers
from linemap.units import LengthUnit

_SUMMARY = re.compile(r"\b(?:sub)?totals?\b|\bsummary\b|\bby size\b", re.IGNORECASE)
_INSTEAD = re.compile(r"\b(?:sent|shipped|substitut\w*|in lieu)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Named:
    """The structure, the poles and the line of every row."""

    structures: list[str]
    letters: list[str]
    lines: list[str]


def read_poles(
    table: RawTable,
    *,
    unit: LengthUnit,
    line_default: str = "",
    order: DateOrder | None = None,
    naming: Naming = UNNAMED,
) -> Loaded[tuple[Pole, ...]]:
    """Read a pole schedule.

    A row that cannot be used is listed as left out; a row for several poles gives each of them. "As above",
    ditto marks and blanks under the same structure are filled in, and noted. `unit` is that of ground
    elevations; pole lengths are feet unless the heading or the cell says metres. Structures and poles are
    read as the job names them.

    Raises
    ------
    InputRefused
        If no row can be used, a pole stands twice, or a structure number was turned into a date that fits
        two ways.
    """
    ledger = Ledger(sheet_of(table, "poles"))
    sheet = ledger.sheet
    named = _named(ledger, line_default, order, naming)
    _refuse_repeats(ledger, named, naming)
    ledger.check_some_left("structure")
    sizes, copied = read_sizes(ledger, named.letters, named.structures)
    _note_copied(ledger, copied)
    ground = known_values(ledger.known_lengths("ground_elevation", unit))
    wire = {index: parse_yes(text) for index, text in ledger.written("ground_wire")}
    remarks = sheet.texts("remarks")
    _note_instead(ledger)
    poles = tuple(
        Pole(
            line=named.lines[index],
            structure=named.structures[index],
            letter=letter,
            length_ft=sizes.get(index, Sizes()).pole(position).length_ft,
            pole_class=sizes.get(index, Sizes()).pole(position).pole_class,
            ground_elevation=ground[index],
            ground_wire=wire.get(index),
            remarks=remarks[index],
            source_row=table.row_numbers[index],
        )
        for index in ledger.kept()
        for position, letter in enumerate(named.letters[index])
    )
    return ledger.finish(poles)


_Said = dict[int, tuple[str, str]]


def pole_cells(ledger: Ledger, column: Column, line_default: str) -> tuple[list[str], _Said, _Said]:
    """Read one pole of the structure of each row of a list, in the owner's words or by its letter.

    Returns
    -------
    list of str, dict, dict
        Letters; row index -> why a cell is no pole and what to do; the same of cells that name several poles
        and are taken as something else, where the column says as what.
    """
    sheet, naming = ledger.sheet, ledger.naming
    texts = sheet.texts(column.named)
    values, faults, notes = [str(column.default)] * len(texts), _Said(), _Said()
    places = zip(sheet.texts("line", missing=line_default), sheet.texts("structure"), strict=True)
    for row, (text, (line, written)) in enumerate(zip(texts, places, strict=True)):
        number = naming.listed.shown(written, line) if text else ""
        letters = naming.letters(text, number, line)
        if text and len(letters) != 1:
            choice = naming.poles.choice(naming.listed.poles(number, line))
            if letters and column.cell.doubt is not None:
                values[row], words = column.cell.doubt
                notes[row] = (f"no single pole {choice}; taken as {words}", column.cell.remedy)
            else:
                faults[row] = (f"no single pole {choice}", f"write {choice}")
        elif text:
            values[row] = letters
    return values, faults, notes


def _named(ledger: Ledger, line_default: str, order: DateOrder | None, naming: Naming) -> _Named:
    """Give every row its structure and poles, and leave out the rows that have none."""
    sheet = ledger.sheet
    cells = sheet.cells("structure")
    column = read_numbers(cells)
    texts = sheet.texts("letter")
    lines = sheet.texts("line", missing=line_default)
    letters = [
        naming.letters(text, naming.listed.shown(number, line), line)
        for text, number, line in zip(texts, column.numbers, lines, strict=True)
    ]
    for index in _footer(ledger, letters):
        ledger.leave_out_idle(index)
    sure = [index for index, number in enumerate(column.numbers) if number and letters[index]]
    dates = [index for index in sorted(column.faults) if not letters[index]]
    leave_out_strangers(ledger, dates, keys=("structure", "letter"), records=sure)
    column = _restored(ledger, column, lines, order)
    doubts = column.faults.keys()
    column = as_listed(column, cells, lines, naming.listed)
    for index in column.faults.keys() - doubts:
        ledger.refuse(index, "structure", column.faults[index])
    column = replace(column, numbers=_filled_down(ledger, column.numbers, letters))
    _take_whole_structures(ledger, column, texts, letters, naming)
    for index, text in enumerate(texts):
        choice = naming.poles.choice(naming.listed.poles(column.numbers[index], lines[index]))
        _judge_row(ledger, index, column, text, letters[index], choice)
    return _Named(structures=column.numbers, letters=letters, lines=lines)


def _footer(ledger: Ledger, letters: Sequence[str]) -> list[int]:
    """Return the rows of a summary at the end: from a total on, when only sizes and words follow it."""
    rows, cells = ledger.sheet.table.rows, ledger.sheet.cells("structure")
    first = len(rows)
    for index in range(len(rows) - 1, -1, -1):
        if any(_SUMMARY.search(cell_text(cell)) for cell in rows[index]):
            first = index
        elif letters[index] or not _may_sum_up(cell_text(cells[index])):
            break
    return list(range(first, len(rows)))


def _may_sum_up(text: str) -> bool:
    """Say whether the structure cell of a row may stand in a summary: blank, a pole size, or words."""
    try:
        parse_sizes(text)
    except ValueError:
        return not any(character.isdigit() for character in text)
    return True


def _restored(
    ledger: Ledger, column: NumberColumn, lines: Sequence[str], order: DateOrder | None
) -> NumberColumn:
    faults = {index: fault for index, fault in column.faults.items() if index not in ledger.left_out}
    if not faults:
        return replace(column, faults={})
    dated = replace(column, faults=faults)
    cells = ledger.sheet.cells("structure")
    found = restore_numbers(cells, dated, lines=lines, miles={}, order=order, unique=False)
    return found.listed(ledger, "structure", dated)


def _filled_down(ledger: Ledger, numbers: Sequence[str], letters: Sequence[str]) -> list[str]:
    """Give a row for a further pole the structure above it, where its own cell is blank or a ditto mark."""
    filled, above, cells = list(numbers), "", ledger.sheet.cells("structure")
    for index, number in enumerate(numbers):
        if index in ledger.left_out or ledger.is_heading(index) or ledger.is_total(index):
            continue
        written = cell_text(cells[index])
        if is_ditto(written) or (not written and letters[index] not in {"", "A"}):
            filled[index] = above
            if above and letters[index]:
                ledger.note(index, "structure", f"taken as {above}, as above")
        elif number:
            above = number
    return filled


def _take_whole_structures(
    ledger: Ledger, column: NumberColumn, texts: Sequence[str], letters: list[str], naming: Naming
) -> None:
    """Take the only row of a structure, if it names no pole, for A and B, or for all three."""
    counts: dict[str, int] = {}
    for number in column.numbers:
        counts[number] = counts.get(number, 0) + 1
    for index, number in enumerate(column.numbers):
        alone = number and counts[number] == 1 and index not in column.unusual
        if alone and not texts[index] and index not in ledger.left_out:
            found = _poles_of_size(ledger, index)
            if found:
                letters[index] = found
                poles = listed_poles(found, naming.poles.called(len(found)))
                ledger.note(index, "letter", f"no pole named: taken for {poles}", "write the poles")


def _poles_of_size(ledger: Ledger, index: int) -> str:
    """Return the poles of a row by its size alone: "75-1 (3)" is for three, any other size for two."""
    for name in ("size", "length"):
        match = ledger.sheet.column(name)
        row = ledger.sheet.table.rows[index]
        text = cell_text(row[match.index]) if match and 0 <= match.index < len(row) else ""
        try:
            sizes = parse_sizes(text)
        except ValueError:
            if re.fullmatch(r"\d{2,3}(?:\.\d+)?\s*(?:'|ft|m)?", text):
                return "AB"
            continue
        return "ABC" if text.endswith("(3)") or len(sizes) == 3 else "AB"
    return ""


def _judge_row(
    ledger: Ledger, index: int, numbers: NumberColumn, text: str, letters: str, choice: str
) -> None:
    number = numbers.numbers[index]
    if index in numbers.faults or index in ledger.left_out:
        return
    if ledger.is_heading(index) or ledger.is_total(index) or not (number or text):
        ledger.leave_out_idle(index)
    elif not number:
        ledger.leave_out(index, "structure", "the structure number is missing", "fill it in")
    elif not letters:
        lone = sum(not is_blank(cell) for cell in ledger.sheet.table.rows[index]) == 1
        if lone and index in numbers.unusual:
            ledger.leave_out_idle(index)
        else:
            ledger.leave_out(index, "letter", f"no pole {choice}", f"write {choice}")


def _refuse_repeats(ledger: Ledger, named: _Named, naming: Naming) -> None:
    def given() -> Iterator[tuple[int, Hashable, str]]:
        for index in ledger.kept():
            key = named.lines[index], named.structures[index]
            for letter in named.letters[index]:
                yield index, (*key, letter), f"{pole_names(letter, naming.called(key))} of {key[1]}"

    ledger.refuse_repeats("letter", given())


def _note_copied(ledger: Ledger, copied: dict[int, str]) -> None:
    for index, words in copied.items():
        ledger.note(index, "size" if ledger.sheet.column("size") else "length", words)


def _note_instead(ledger: Ledger) -> None:
    for index, text in ledger.written("remarks"):
        if _INSTEAD.search(text):
            ledger.note(
                index, "remarks", "another pole was sent; the remark is kept, the size is not changed"
            )
