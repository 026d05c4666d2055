"""What a person said about a file's columns, and the shape by which the next such file is known again."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Problem
from linemap.io.cells.dates import DateOrder
from linemap.io.cells.meaning import VOCABULARY, Match, parse_heading, unit_word
from linemap.io.cells.table import RawTable, cell_text

_DATE_ORDERS = ("mdy", "dmy")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What a person said about a file; it goes before what the headings seem to say."""

    kind: Kind
    #: Field -> heading as it stands in the file, or number of the column counted from 1.
    fields: Mapping[str, str | int] = field(default_factory=dict)
    #: Field -> unit of its column: "m", "ft", "ftUS", "deg", ...
    units: Mapping[str, str] = field(default_factory=dict)
    #: Column order of point files without headings, like "penzd"; "" = not said.
    shot_order: str = ""
    #: How dates (and numbers turned into dates) are meant; None = not said.
    date_order: DateOrder | None = None
    #: Coordinate reference of the coordinates, "job" = the job's; "" = as the file declares.
    crs: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return the answers as plain texts and tables, to be kept."""
        return {**asdict(self), "date_order": self.date_order or ""}

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> Answers:
        """Return the answers that `as_dict` gave.

        >>> Answers.from_dict(Answers(kind="shots", shot_order="penzd").as_dict()).shot_order
        'penzd'
        """
        return cls(**{**kept, "date_order": kept.get("date_order") or None})

    def check(self) -> None:
        """Refuse answers about fields the kind does not have, or with units that are none.

        Raises
        ------
        InputRefused
            With every such answer.
        """
        known = VOCABULARY[self.kind]
        problems = [
            _refused(name, f"{self.kind} have no field of this name", f"use one of {', '.join(known)}")
            for name in [*self.fields, *self.units]
            if name not in known
        ]
        problems += [
            _refused(unit, f"is no unit of {name}", "use m, ft, ftUS or deg")
            for name, unit in self.units.items()
            if not unit_word(unit)
        ]
        if self.date_order not in {None, *_DATE_ORDERS}:
            problems.append(_refused(str(self.date_order), "is no order of dates", "use mdy or dmy"))
        if problems:
            raise InputRefused(problems)


def _refused(value: str, reason: str, remedy: str) -> Problem:
    return Problem(file="", column="--column", value=value, reason=reason, remedy=remedy)


def read_column_option(text: str) -> tuple[str, str | int, str]:
    """Read what a person says about one column: field, heading or column number, and unit ("" = none).

    Raises
    ------
    InputRefused
        If it is not written as FIELD=HEADING.

    >>> read_column_option("easting=X [ftUS]"), read_column_option("northing=3")
    (('easting', 'X', 'ftUS'), ('northing', 3, ''))
    """
    name, separator, heading = (part.strip() for part in text.partition("="))
    unit = ""
    if match := re.fullmatch(r"(.*?)\s*\[([^\[\]]+)\]", heading):
        heading, unit = match[1], match[2]
    if not (name and separator and heading):
        raise InputRefused(
            _refused(
                text,
                "names no field and heading",
                'write it like "easting=X" or "easting=3", with a unit "easting=X [ftUS]"',
            )
        )
    column = int(heading) if heading.isdigit() and len(heading) <= 4 else heading
    return name.casefold(), column, unit


def named_columns(headings: Sequence[str], answers: Answers | None) -> dict[str, Match]:
    """Return the columns the answers name, as far as these headings hold them.

    >>> said = Answers(kind="shots", fields={"easting": "right"})
    >>> named_columns(["P", "Right", "Up"], said)["easting"].index
    1
    """
    if answers is None:
        return {}
    folded = [_folded(heading) for heading in headings]
    found: dict[str, Match] = {}
    for name, column in answers.fields.items():
        index = column - 1 if isinstance(column, int) else _place(folded, column)
        if index >= 0:
            heading = headings[index].strip() if index < len(headings) else ""
            unit = unit_word(answers.units.get(name, "")) or parse_heading(heading).unit
            found[name] = Match(index=index, heading=heading or f"column {index + 1}", unit=unit)
    return found


def _place(folded: Sequence[str], heading: str) -> int:
    wanted = _folded(heading)
    return folded.index(wanted) if wanted in folded else -1


def _folded(heading: str) -> str:
    return cell_text(heading).casefold()


def with_answers(table: RawTable, answers: Answers | None) -> RawTable:
    """Return the table with the columns a person named, which then go before what the headings say.

    Raises
    ------
    InputRefused
        If the answers name a heading or a column the table does not have.
    """
    if answers is None:
        return table
    named = named_columns(table.headers, answers)
    width = len(table.headers) or max((len(row) for row in table.rows), default=0)
    lost = [name for name in answers.fields if name not in named or named[name].index >= width]
    if lost:
        heard = ", ".join(heading for heading in table.headers if heading.strip()) or "not there"
        raise InputRefused(
            Problem(
                file=table.file,
                row=table.header_row,
                column=lost[0],
                value=str(answers.fields[lost[0]]),
                reason=f"there is no such column; the headings are {heard}",
                remedy="write a heading of the file, or the number of the column",
            )
        )
    units = {name: unit_word(unit) for name, unit in answers.units.items()}
    return replace(table, named={name: match.index for name, match in named.items()}, named_units=units)


def with_named(matches: Mapping[str, Match], table: RawTable) -> dict[str, Match]:
    """Return the columns of a table by field, those a person named put first."""
    taken = set(table.named.values())
    free = {name: match for name, match in matches.items() if match.index not in taken or match.index < 0}
    named = {name: _named(table, index) for name, index in table.named.items()}
    units = table.named_units
    return {
        name: replace(match, unit=units[name]) if name in units else match
        for name, match in {**free, **named}.items()
    }


def _named(table: RawTable, index: int) -> Match:
    heading = table.headers[index].strip() if index < len(table.headers) else ""
    return Match(index=index, heading=heading or f"column {index + 1}", unit=parse_heading(heading).unit)


def shape_key(table: RawTable) -> str:
    """Return the fingerprint of a table's headings, their order and the delimiter, whatever its kind.

    Two exports of the same list have one shape however many rows they hold. A table without headings is
    known by the number of its columns and by which of them hold numbers.
    """
    if table.headers:
        columns = [_folded(heading) for heading in table.headers]
        while columns and not columns[-1]:
            columns.pop()
    else:
        columns = _column_natures(table)
    words = "\x1f".join([table.delimiter, "headings" if table.headers else "none", *columns])
    return hashlib.sha256(words.encode()).hexdigest()


def _column_natures(table: RawTable) -> list[str]:
    rows = [row for row in table.rows[:50] if row]
    widths = sorted(len(row) for row in rows)
    width = widths[len(widths) // 2] if widths else 0
    return ["number" if _mostly_numbers([r[i] for r in rows if i < len(r)]) else "text" for i in range(width)]


def _mostly_numbers(cells: Sequence[Any]) -> bool:
    filled = [cell_text(cell) for cell in cells if cell_text(cell)]
    plain = sum(bool(re.fullmatch(r"[+-]?[\d., ]+", text)) for text in filled)
    return bool(filled) and 2 * plain > len(filled)
