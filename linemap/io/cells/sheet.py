"""A table whose columns have a meaning."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Problem, Severity
from linemap.io.cells.meaning import (
    UNREAD,
    Match,
    describe_need,
    match_headings,
    satisfies,
)
from linemap.io.cells.numbers import Numbers, parse_numbers
from linemap.io.cells.shape import with_named
from linemap.io.cells.table import Cell, RawTable, cell_text

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The columns of a table by field."""

    table: RawTable
    kind: Kind
    #: Field -> the column that holds it.
    matches: Mapping[str, Match]
    #: Headings, lower case, to know them when they are printed again further down.
    headings: frozenset[str] = frozenset()
    #: Fields that are only compared with what is computed -> their columns.
    compared: Mapping[str, Match] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.table.rows)

    def cells(self, name: str) -> list[Cell]:
        """Return the cells of a field; all None when the table lacks it."""
        match = self.column(name)
        return [None] * len(self) if match is None or match.index < 0 else self.table.column(match.index)

    def column(self, name: str) -> Match | None:
        """Return the column of a field, one that is only compared included; None when there is none."""
        return self.matches.get(name) or self.compared.get(name)

    @property
    def columns(self) -> dict[str, Match]:
        """Field -> its column, those that are only compared included."""
        return {**self.matches, **self.compared}

    def texts(self, name: str, *, missing: str = "") -> list[str]:
        """Return a field as tidy texts, `missing` where blank."""
        if self.column(name) is None:
            return [missing] * len(self)
        return [cell_text(cell) or missing for cell in self.cells(name)]

    def numbers(self, name: str) -> Numbers:
        """Return a field as numbers, in the units they are written in."""
        return parse_numbers(self.cells(name), mark=self.table.decimal_mark)

    def problem(
        self,
        index: int | None,
        name: str,
        reason: str,
        remedy: str = "",
        *,
        severity: Severity = Severity.REFUSED,
    ) -> Problem:
        """Return a problem of one row, or of the whole column, with the value as written."""
        match = self.column(name)

        def written(field: str) -> str:
            named = self.column(field)
            row = self.table.rows[index] if index is not None else ()
            return cell_text(row[named.index]) if named is not None and 0 <= named.index < len(row) else ""

        return Problem(
            file=self.table.file,
            row=None if index is None else self.table.row_numbers[index],
            column=match.heading if match else name,
            value=written(name),
            reason=reason,
            remedy=remedy,
            severity=severity,
            line=written("line"),
            structure=written("structure"),
        )


def _enough(matches: Mapping[str, Match], kind: Kind, table: RawTable) -> bool:
    """Say whether the columns are enough; a person may leave out what only helps to know a point file."""
    place = {"easting", "northing", "description"}
    return satisfies(matches, kind) or (kind == "shots" and bool(table.named) and place <= matches.keys())


def sheet_of(table: RawTable, kind: Kind) -> Sheet:
    """Give the columns of a table the meanings of a kind; what a person said about them goes first.

    Raises
    ------
    InputRefused
        If the columns the kind needs are not there.
    """
    matches = with_named(match_headings(table.headers, kind), table)
    if table.geometry is not None:
        matches["geometry"] = Match(index=-1, heading="geometry")
    if not _enough(matches, kind, table):
        raise InputRefused(
            Problem(
                file=table.file,
                row=table.header_row or None,
                value=", ".join(table.headers),
                reason=f"the headings do not name what {kind} need: {describe_need(kind)}",
                remedy="rename the columns, or say what the file is",
            )
        )
    printed = (*table.headers, *table.heading_texts)
    known = frozenset(heading.strip().casefold() for heading in printed) - {""}
    unread = UNREAD.get(kind, ())
    read = {name: match for name, match in matches.items() if name not in unread}
    compared = {name: match for name, match in matches.items() if name in unread}
    return Sheet(table=table, kind=kind, matches=read, headings=known, compared=compared)
