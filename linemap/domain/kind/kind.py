"""Kinds of lists: the class of a record is its declaration.

Each field that a list knows is annotated with a `Cell`: `expires: Annotated[date, Cell("expires expiry")]`.
The class stays a frozen dataclass with its rules as methods. A `Kind` says what the list is as a whole.
Reader, table, comparison of states, pages, paper, export, redaction and help of columns are made from the
two; a new field is its line and a migration.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import MISSING, dataclass, field, fields
from datetime import date, time
from enum import StrEnum
from functools import cache
from types import MappingProxyType, UnionType
from typing import (
    Annotated,
    Any,
    Generic,
    Literal,
    TypeVar,
    Union,
    cast,
    get_args,
    get_origin,
    get_type_hints,
)

R = TypeVar("R")
V = TypeVar("V")
_Type = type[Any]
#: What files of each kind of list are called.
Code = Literal[
    "structures", "centreline", "poles", "guys", "shots", "records", "holds", "crossings", "tickets",
    "receipts", "punch", "facts", "equations", "context", "tolerances", "types", "framing", "plan", "control",
]  # fmt: skip
#: How a cell of a file is read: "reach" is a set or range of structures with its "end" columns, "pole" one
#: pole of the row's structure, "place" a coordinate of where the row's thing stands, on the grid of the job,
#: "words" a list of words, "clock" a time of day, "row" the row of the file, "made" nothing it says.
Way = Literal[
    "text", "line", "structure", "reach", "end", "pole", "place", "words", "yes", "count", "number", "day",
    "clock", "row", "made",
]  # fmt: skip
#: Where the fields of records at a structure are shown as they stand.
Place = Literal["panel", "card", "paper"]
_WAYS: Mapping[Any, Way] = {
    str: "text",
    bool: "yes",
    int: "count",
    float: "number",
    date: "day",
    time: "clock",
}


class Keeps(StrEnum):
    """What a new file of a list does to the old rows."""

    STATE = "state"
    """It is the current state of the list; older states are kept, and what it takes away is named."""
    KEYED = "keyed"
    """It adds and updates records by their key in a new state of the list; those it does not name stay."""
    GROWS = "grows"
    """Its rows are added, each once; none is ever changed or taken out."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What a list says of one field."""

    #: Headings that mean it, squeezed and lower case, the surest first; "" = no column of a file.
    words: str = ""
    #: What people call it; "" = the field's name.
    label: str = ""
    #: "ground" = the length unit of the job.
    unit: Literal["", "ground", "ft", "deg", "kV"] = ""
    #: How a cell is read; None = as the type tells.
    way: Way | None = None
    #: Makes the value of what a cell says; its `ValueError` says why that is none.
    read: Callable[[str], Any] | None = None
    #: What to do about a cell that cannot be read; "" = as for any other.
    remedy: str = ""
    #: What a cell that cannot be read is taken as, and in words; None = the row is refused.
    doubt: tuple[Any, str] | None = None
    #: Of a time of day: the field of its day, whose cells may say it too.
    clock_of: str = ""
    #: Words that stand for a blank cell, such as "tbd" for an end that is open.
    nothing: tuple[str, ...] = ()
    #: People write what they like in it: restricted words are taken out before others read it.
    free: bool = False
    #: False = the public gets it empty.
    public: bool = True
    #: Where it is shown at its structure, beside what rules say of the record.
    on: tuple[Place, ...] = ()
    #: Name by which people name the column of a file; "" = the field's.
    named: str = ""
    #: Name of the column in the database; "" = the field's.
    column: str = ""
    #: True = only compared with what is computed, or there to know a table by; not read.
    compared: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kind(Generic[R]):
    """One kind of list."""

    code: Code
    record: type[R]
    #: One record: "ticket".
    noun: str
    #: Table of the database; "" = it has readers and tables of its own, and only its columns are declared.
    table: str
    keeps: Keeps
    #: Fields that tell one record from another.
    key: tuple[str, ...]
    #: Columns a file must have: of each text one alternative, "+" joining those that go together.
    needs: tuple[str, ...]
    #: A row in which all of these are blank is a title or remark.
    named_by: tuple[str, ...] = ()
    #: What is noted of a file without a record; "" = it is refused.
    empty: str = ""
    #: Of a list in which a record stands once: the column to blame for a repeat, and what to do.
    unique: tuple[str, str] | None = None
    #: Fields that rows with such values do not need: they are not read, and noted where they are filled.
    idle: Callable[[Mapping[str, Any]], Collection[str]] | None = None
    #: Columns that say a file is another kind.
    forbids: tuple[str, ...] = ()
    #: Headings of which one must be there before a file is taken for the kind unasked, unless all headings
    #: are understood and one says more than a name and a place; "" = what it needs is enough.
    known_by: str = ""
    #: Field for each value of which a file is a state of its own ("line"); "" = a file is the whole list.
    part: str = ""
    #: True = its states are revisions of a line of the job, whose name its records take.
    of_line: bool = False
    #: False = the public gets no record at all.
    public: bool = True
    #: Roles besides the manager that load it: whose work it is.
    loaders: tuple[str, ...] = ()
    #: True = rows that hold a total are no records.
    totals: bool = False
    #: Of a list that grows: what the database answers to every other change.
    refusal: str = ""
    #: Of a list that grows: True = one record of each key; another one is refused.
    once: bool = False
    #: What several records are called; "" = as files of them are.
    several: str = ""
    #: Columns of a file that are no fields of the record as they stand.
    extra: Mapping[str, Cell] = field(default_factory=lambda: MappingProxyType({}))


class FieldError(ValueError):
    """What one field of a record cannot be, and what to do."""

    def __init__(self, field: str, reason: str, remedy: str = "correct the row") -> None:
        super().__init__(f"{reason}; {remedy}")
        self.field, self.reason, self.remedy = field, reason, remedy


def one_of(known: Mapping[V, str], *, refusal: str) -> Callable[[str], V]:
    """Return what reads cells that hold one of a few words.

    Parameters
    ----------
    known : mapping
        Value -> its words, compared by their letters alone; "the" says nothing. A text is a word for itself.
    refusal : str
        What is said of a cell that holds none of them.

    >>> side = one_of({"left": "l lt", "right": "r rt"}, refusal="no side")
    >>> side("Lt."), side("the right")
    ('left', 'right')
    """
    values = {
        _squeezed(word): value
        for value, others in known.items()
        for word in (value if isinstance(value, str) else "", *others.split())
        if word
    }

    def read(text: str) -> V:
        word = _squeezed(text)
        if word not in values:
            raise ValueError(refusal)
        return values[word]

    return read


def _squeezed(text: str) -> str:
    """Return the letters of a text, or its digits where it has none."""
    words = [word for word in re.findall(r"[a-z]+", text.casefold()) if word != "the"]
    return "".join(words) or "".join(re.findall(r"\d+", text))


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A field with its cell, resolved."""

    name: str
    cell: Cell
    type: type[Any]
    #: Type of each item of a tuple or an array; None = it has none.
    item: _Type | None = None
    #: True when None is one of its values.
    optional: bool
    #: Value of a record that does not say it; `dataclasses.MISSING` = it must be said.
    default: Any
    way: Way

    @property
    def label(self) -> str:
        """What people call it."""
        return self.cell.label or self.name.replace("_", " ")

    @property
    def named(self) -> str:
        """Name by which people name the column of a file."""
        return self.cell.named or self.name

    @property
    def column(self) -> str:
        """Name of the column in the database."""
        return self.cell.column or self.name


def columns_of(kind: Kind[Any]) -> tuple[Column, ...]:
    """Return the declared fields of a kind in their order."""
    return columns_in(kind.record)


def columns_in(record: Any) -> tuple[Column, ...]:
    """Return the declared fields of a class of records in their order."""
    return _resolved(record)


@cache
def _resolved(record: Any) -> tuple[Column, ...]:
    hints = get_type_hints(record, include_extras=True)
    return tuple(
        _column(each.name, hints[each.name], cell, each.default)
        for each in fields(record)
        for cell in getattr(hints[each.name], "__metadata__", ())
        if isinstance(cell, Cell)
    )


def kept_of(kind: Kind[Any]) -> tuple[Column, ...]:
    """Return the fields that a database keeps with each record: all but a line its revision names."""
    return tuple(column for column in columns_of(kind) if not (kind.of_line and column.way == "line"))


def extra_of(kind: Kind[Any]) -> tuple[Column, ...]:
    """Return the columns of a file that are no fields of the record as they stand."""
    return tuple(
        Column(name=name, cell=cell, type=str, optional=True, default=None, way=cell.way or "text")
        for name, cell in kind.extra.items()
    )


def free_of(kind: Kind[Any]) -> tuple[str, ...]:
    """Return the fields in which people write what they like."""
    return tuple(column.name for column in columns_of(kind) if column.cell.free)


def secret_of(kind: Kind[Any]) -> tuple[str, ...]:
    """Return the fields the public gets empty."""
    return tuple(column.name for column in columns_of(kind) if not column.cell.public)


def _column(name: str, hint: Any, cell: Cell, default: Any) -> Column:
    inner = get_args(hint)[0] if get_origin(hint) is Annotated else hint
    members = get_args(inner) if get_origin(inner) in (Union, UnionType) else (inner,)
    said = next(each for each in members if each is not type(None))
    origin = get_origin(said)
    kind: type[Any] = str if origin is Literal else origin or said
    way: Way = cell.way or (_WAYS.get(kind, "made") if cell.words else "made")
    optional = type(None) in members
    default = None if default is MISSING and optional and way != "made" else default
    return Column(
        name=name, cell=cell, type=kind, item=_item(said), optional=optional, default=default, way=way
    )


def _item(said: Any) -> _Type | None:
    arguments = get_args(said)
    if get_origin(said) is tuple:
        return cast("_Type", arguments[0])
    # an array's last argument is its number type: dtype[float64]
    inner = get_args(arguments[-1]) if arguments else ()
    return inner[0] if inner else None
