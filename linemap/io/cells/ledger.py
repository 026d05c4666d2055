"""What was wrong with the rows of a table, collected while it is read."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from typing import Any, TypeVar

import numpy as np

from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.structure import FloatArray
from linemap.errors import InputRefused, Problem, Severity
from linemap.io.cells.meaning import LENGTH_UNITS, Match, length_unit, unit_word
from linemap.io.cells.near import unread_columns
from linemap.io.cells.numbers import Numbers
from linemap.io.cells.sheet import Sheet
from linemap.io.cells.table import Loaded, ReadFrom, cell_text, is_blank, refuse
from linemap.units import LengthUnit

T = TypeVar("T")


class Ledger:
    """Collects the problems of one table while it is read; lives only as long as the reading."""

    def __init__(self, sheet: Sheet, unit: LengthUnit = LengthUnit.FOOT, naming: Naming = UNNAMED) -> None:
        self.sheet = sheet
        #: How the job names structures and poles.
        self.naming = naming
        #: Ground unit of the job.
        self.unit = unit
        self.problems: list[Problem] = []
        self.left_out: set[int] = set()
        #: Rows that were used already for something else than the rest of the table.
        self.aside: set[int] = set()
        #: Field -> the unit its column was read in.
        self.units: dict[str, LengthUnit] = {}
        #: What was seen in earlier rows, for whoever reads them.
        self.seen: dict[Hashable, Any] = {}

    def written(self, name: str) -> Iterator[tuple[int, str]]:
        """Give row index and text of every cell of a field that is filled, in rows not left out."""
        if self.sheet.column(name) is not None:
            for index, cell in enumerate(self.sheet.cells(name)):
                text = cell_text(cell)
                if text and index not in self.left_out:
                    yield index, text

    def refuse(self, index: int | None, name: str, reason: str, remedy: str = "") -> None:
        """List a reason to refuse the file, unless its row is left out."""
        if index not in self.left_out:
            self.problems.append(self.sheet.problem(index, name, reason, remedy))

    def note(self, index: int | None, name: str, reason: str, remedy: str = "") -> None:
        """List something a person should look at, unless its row is left out; the row is used."""
        if index not in self.left_out:
            self.problems.append(self.sheet.problem(index, name, reason, remedy, severity=Severity.NOTED))

    def refuse_repeats(
        self, name: str, found: Iterable[tuple[int, Hashable, str]], remedy: str = "keep one of them"
    ) -> None:
        """Refuse what stands in two rows, given by row index, what tells it from others, and its name."""
        first: dict[Hashable, int] = {}
        rows = self.sheet.table.row_numbers
        for index, key, words in found:
            earlier = first.setdefault(key, index)
            if earlier != index:
                reason = f"{words} stands twice, in rows {rows[earlier]} and {rows[index]}"
                self.refuse(index, name, reason, remedy)

    def lengths(self, name: str, unit: LengthUnit) -> Numbers:
        """Return a field as lengths in `unit`, converted from the unit of the heading or the cell.

        The conversion of a whole column is noted once. An unknown unit in a cell is a fault.

        Raises
        ------
        InputRefused
            If the heading gives a unit that is no length.
        """
        numbers, match = self.sheet.numbers(name), self.sheet.matches.get(name)
        if match is None:
            return numbers
        if match.unit and match.unit not in LENGTH_UNITS:
            wrong = self.sheet.problem(None, name, f"in {match.unit}, not a length", "use m, ft or ftUS")
            raise InputRefused(wrong)
        written = self.units[name] = length_unit(match.unit, unit)
        for index, text in numbers.units.items():
            sign = unit_word(text)
            if sign in LENGTH_UNITS:
                numbers.values[index] *= length_unit(sign, written).metres / written.metres
            else:
                numbers.faults.setdefault(index, f"{text!r} is no length unit")
        if written is not unit:
            numbers.values[:] *= written.metres / unit.metres
            self.note(None, name, _conversion(match, written, unit))
        return numbers

    def known_lengths(self, name: str, unit: LengthUnit, *, otherwise: str = "not given") -> FloatArray:
        """Return a field as lengths in `unit`; what is none is nan and noted, as taken `otherwise`."""
        numbers = self.lengths(name, unit)
        for index, reason in numbers.faults.items():
            numbers.values[index] = np.nan
            self.note(index, name, f"{reason}; taken as {otherwise}", "correct the cell")
        return numbers.values

    def set_aside(self, rows: Iterable[int]) -> None:
        """Take rows that are used already out of the further reading; they count as used."""
        self.aside.update(rows)

    def leave_out(self, index: int, name: str, reason: str, remedy: str = "") -> None:
        """List a row that is not used; its first reason is enough."""
        if index not in self.left_out:
            problem = self.sheet.problem(index, name, reason, remedy, severity=Severity.LEFT_OUT)
            self.problems.append(problem)
            self.left_out.add(index)

    def leave_out_idle(self, index: int) -> None:
        """List a title, total, remark or repeated heading as left out, with its words."""
        words = " ".join(cell_text(cell) for cell in self.sheet.table.rows[index] if not is_blank(cell))
        what = "the headings again" if self.is_heading(index) else "a title or remark, not a row of the list"
        if index not in self.left_out:
            table = self.sheet.table
            self.left_out.add(index)
            self.problems.append(
                Problem(
                    file=table.file,
                    row=table.row_numbers[index],
                    value=words,
                    reason="a total, not a row of the list" if self.is_total(index) else what,
                    severity=Severity.LEFT_OUT,
                )
            )

    def is_heading(self, index: int) -> bool:
        """Say whether a row is the headings printed again, as on every page, with a page number or so."""
        row, again, other = self.sheet.table.rows[index], 0, 0
        for cell in row:
            if not is_blank(cell):
                again += (known := cell_text(cell).casefold() in self.sheet.headings)
                other += not known
                if 2 * other >= len(row):
                    return False
        return again >= 2 and again > other

    def is_total(self, index: int) -> bool:
        """Say whether a row holds a total or subtotal."""
        return any(isinstance(c, str) and "total" in c.casefold() for c in self.sheet.table.rows[index])

    def kept(self) -> list[int]:
        """Return the indices of the rows not left out, ascending."""
        gone = self.left_out | self.aside
        return [index for index in range(len(self.sheet)) if index not in gone]

    def check(self) -> None:
        """Raise `InputRefused` if a reason to refuse the file is listed."""
        refused = [problem for problem in self.problems if problem.severity is Severity.REFUSED]
        if refused:
            raise refuse(refused)

    def check_some_left(self, name: str) -> None:
        """Raise `InputRefused` if a reason to do so is listed, or if no row is left to use."""
        self.check()
        if len(self.left_out) + len(self.aside) == len(self.sheet):
            nothing = self.sheet.problem(None, name, "no row of the file can be used", "look at its rows")
            raise refuse([nothing, *self.problems])

    def finish(self, value: T) -> Loaded[T]:
        """Return the value with its problems in file order, or refuse the file when one of them says so."""
        self.check()
        table = self.sheet.table
        titles = sum(problem.severity is Severity.LEFT_OUT for problem in table.problems)
        listed = [*table.problems, *self.problems]
        return Loaded(
            value=value,
            problems=tuple(sorted(listed, key=lambda each: -1 if each.row is None else each.row)),
            mapping={name: self._read_from(name, match) for name, match in self.sheet.matches.items()},
            rows_in=len(self.sheet) + titles,
            rows_used=len(self.sheet) - len(self.left_out),
            unread=unread_columns(table, self.sheet.kind, self.sheet.columns, self.left_out),
        )

    def _read_from(self, name: str, match: Match) -> ReadFrom:
        return ReadFrom(heading=match.heading, unit=self.units[name].word if name in self.units else "")


def _conversion(match: Match, written: LengthUnit, unit: LengthUnit) -> str:
    words = f"converted from the {written.word} to the {unit.word}"
    if match.unit == "ft" and unit is LengthUnit.METRE:
        return f"{words}; the US survey foot would be 2 parts in a million longer, write ftUS if it is meant"
    return words
