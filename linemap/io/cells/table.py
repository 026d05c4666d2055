"""A table as it stands in a file: headings, cells, row numbers, and what was noticed while reading it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from operator import itemgetter
from typing import Generic, TypeVar, get_args

from linemap.domain.design.structure import ObjectArray
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Problem, Severity

Cell = str | float | bool | datetime | date | time | timedelta | None
KINDS: tuple[Kind, ...] = get_args(Kind)
T = TypeVar("T")

#: Stands for the job's own coordinate reference.
JOB = "job"
_SHOWN = 40
_BLANKS = re.compile(r"[\s\u00a0\u2007\u2009\u202f\ufeff]+")


def cell_text(cell: Cell) -> str:
    r"""Return a cell as text: blanks of every kind become single spaces, 47.0 becomes "47".

    >>> cell_text(" STR\u00a012/3  A "), cell_text(47.0), cell_text(None)
    ('STR 12/3 A', '47', '')
    """
    if isinstance(cell, str):
        # Almost every cell is clean ASCII without double blanks, so the regular expression is the exception.
        text = cell.strip()
        return text if text.isascii() and "  " not in text and text.isprintable() else _tidy(text)
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return cell.isoformat() if isinstance(cell, date | time) else str(cell)


def _tidy(text: str) -> str:
    return _BLANKS.sub(" ", text).strip()


def is_blank(cell: Cell) -> bool:
    """Say whether a cell holds nothing but blanks."""
    if not isinstance(cell, str):
        return cell is None
    text = cell.strip()
    # the one blank that `strip` leaves
    return not text or (text.startswith("\ufeff") and not _tidy(text))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RawTable:
    """One table of one file, before its columns are given a meaning."""

    #: File name as the user gave it.
    file: str
    #: Sheet or layer, "" when the file holds only one.
    sheet: str = ""
    #: Kinds its headings fit best: one = recognised, several or none = unclear.
    kinds: tuple[Kind, ...] = ()
    #: Column headings; () = the file has none.
    headers: tuple[str, ...] = ()
    #: Texts of the rows the headings take, to know them where they are printed again.
    heading_texts: tuple[str, ...] = ()
    #: Row of the headings, counted from 1; None = no heading row.
    header_row: int | None = None
    #: Cells of the rows that are not wholly blank; a row may be shorter than the headings.
    rows: Sequence[Sequence[Cell]] = ()
    #: Row number of each row, as a person counts it in the file (1 = first line, sheet row or feature).
    row_numbers: Sequence[int] = ()
    #: Text encoding, "" for binary files.
    encoding: str = ""
    #: What stands between cells: ",", ";", tab, "|" or " "; "" for files that are no text.
    delimiter: str = ""
    #: "." or ","; "?" when the file mixes both or cannot tell, so that doubtful cells are refused.
    decimal_mark: str = "."
    #: Coordinate reference the file itself declares, "" = none.
    crs: str = ""
    #: The reference a person says it is in, whatever it declares: `JOB` or like "EPSG:32612"; "" = not said.
    crs_said: str = ""
    #: Shapely geometry of each row, in `crs`; None for tables without geometry.
    geometry: ObjectArray | None = None
    #: Field -> index of the column a person says it is in.
    named: Mapping[str, int] = field(default_factory=dict)
    #: Field -> sign of the unit a person says its column is in.
    named_units: Mapping[str, str] = field(default_factory=dict)
    #: Rows that hold nothing; counted, not listed.
    blank_rows: int = 0
    #: Rows left out and things noted while reading, such as title rows above the headings.
    problems: tuple[Problem, ...] = ()

    def column(self, index: int) -> list[Cell]:
        """Return the cells of one column, None where a row is too short."""
        try:
            return list(map(itemgetter(index), self.rows))
        except IndexError:
            return [row[index] if index < len(row) else None for row in self.rows]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Source:
    """A file that was read: its bytes, its fingerprint and its tables."""

    name: str
    data: bytes = field(repr=False)
    #: Lower-case hexadecimal SHA-256 of the bytes.
    sha256: str
    tables: tuple[RawTable, ...]
    #: Identity of the job it says it was exported from; "" = it says none.
    job: str = ""

    @property
    def size(self) -> int:
        """Size in bytes."""
        return len(self.data)

    @property
    def kind(self) -> Kind | None:
        """The kind of the first table that is recognised; None when none is."""
        return next((table.kinds[0] for table in self.tables if len(table.kinds) == 1), None)

    def table(self, kind: Kind) -> RawTable:
        """Return the table to read as `kind`: the only one, or the first that fits; others are noted.

        Raises
        ------
        InputRefused
            If the file holds several tables and none of them looks like `kind`.
        """
        if len(self.tables) == 1:
            return self.tables[0]
        # one that is surely of the kind goes before those that may be
        fits = sorted((each for each in self.tables if kind in each.kinds), key=lambda each: len(each.kinds))
        if not fits:
            held = ", ".join(table.sheet for table in self.tables)
            reason = f"none of its sheets or layers looks like {kind}"
            remedy = "save the one that is meant as a file of its own"
            raise InputRefused.of_file(self.name, reason, remedy, value=held)
        return replace(fits[0], problems=fits[0].problems + tuple(_unread(table, kind) for table in fits[1:]))


def _unread(table: RawTable, kind: Kind) -> Problem:
    return Problem(
        file=table.file,
        value=table.sheet,
        reason=f"this sheet or layer also looks like {kind} and is not read",
        remedy="save it as a file of its own if it is meant",
        severity=Severity.NOTED,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadFrom:
    """The column of a file that a field was read from."""

    heading: str
    #: Unit it was taken in, in words; "" = none.
    unit: str = ""

    def __str__(self) -> str:
        """Name the column with its unit.

        >>> str(ReadFrom(heading="X", unit="US survey foot"))
        'X (US survey foot)'
        """
        return f"{self.heading} ({self.unit})" if self.unit else self.heading


@dataclass(frozen=True, slots=True, kw_only=True)
class UnreadColumn:
    """A column with a heading that no field took, though rows hold something in it."""

    heading: str
    #: Rows that are used and hold something in it.
    rows: int
    #: The first different things they hold, and whether there are more.
    values: tuple[str, ...]
    more: bool = False
    #: Fields of the kind whose headings are close to it, the closest first.
    near: tuple[str, ...] = ()
    #: Heading of the column that was read for the same field instead; "" = none.
    instead: str = ""

    def as_problem(self, file: str) -> Problem:
        """Return it as something to look at, for whoever lists nothing but problems."""
        return Problem(file=file, reason=f"not read: {self}", severity=Severity.NOTED)

    def __str__(self) -> str:
        """Name the column with what it holds and what it may be.

        >>> str(UnreadColumn(heading="Pole A", rows=54, values=("70", "75"), more=True, near=("length",)))
        '"Pole A" (70, 75, ...: 54 rows); near: length'
        """
        count = "1 row" if self.rows == 1 else f"{self.rows:,} rows"
        shown = ", ".join(value if len(value) <= _SHOWN else f"{value[:_SHOWN]}…" for value in self.values)
        words = f'"{self.heading}" ({shown}{", ..." if self.more else ""}: {count})'
        if self.instead:
            return f'{words}; "{self.instead}" is read instead'
        return f"{words}; near: {', '.join(self.near)}" if self.near else words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loaded(Generic[T]):
    """What a reader made of a table. `rows_in` = `rows_used` + the rows listed as left out."""

    value: T
    #: Everything left out or noted, in file order.
    problems: tuple[Problem, ...]
    #: Field -> the column it was read from.
    mapping: Mapping[str, ReadFrom]
    #: Rows that are not blank and not the headings.
    rows_in: int
    rows_used: int
    #: Columns that were not read.
    unread: tuple[UnreadColumn, ...] = ()

    @property
    def rows_left_out(self) -> tuple[int, ...]:
        """Row numbers of the rows that are not used, ascending."""
        return tuple(
            sorted({p.row for p in self.problems if p.severity is Severity.LEFT_OUT and p.row is not None})
        )


def refuse(problems: Sequence[Problem]) -> InputRefused:
    """Return the refusal for many problems: the first 40 of them, and how many more there are."""
    if len(problems) <= _SHOWN:
        return InputRefused(problems)
    more = Problem(
        file=problems[0].file,
        reason=f"and {len(problems) - _SHOWN:,} more rows with problems",
        remedy="correct the first ones and try again",
    )
    return InputRefused([*problems[:_SHOWN], more])
