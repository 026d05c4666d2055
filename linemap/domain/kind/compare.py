"""Values of records in words, and what a new state of a list changes: nothing vanishes unnamed."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time
from enum import Enum
from types import NoneType
from typing import Any, Literal, TypeVar

from linemap.domain.kind.kind import Column, Keeps, Kind, columns_of
from linemap.units import LengthUnit

R = TypeVar("R")
What = Literal["added", "removed", "changed"]
#: Values that can be written out before and after.
_PLAIN = (str, int, float, bool, date, time, tuple, Enum, NoneType)
_DEGREE = "°"
_SIGNS = {"deg": _DEGREE}


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldChange:
    """One field that reads differently in two states of a list."""

    #: Name of the field.
    field: str
    #: What people call it: "pole spacing".
    label: str
    #: False when its values are no texts or numbers to be written out; both are None then.
    plain: bool = True
    #: Before and after; None = not given.
    old: str | int | float | bool | None = None
    new: str | int | float | bool | None = None
    #: "ft", "m", "°", ...; "" = none.
    unit: str = ""
    #: Decimals that numbers are written with; None = as many as they have.
    decimals: int | None = None

    @property
    def words(self) -> str:
        """Say it for people.

        >>> FieldChange(field="spacing", label="pole spacing", new=15.5, unit="ft", decimals=2).words
        'pole spacing not given -> 15.50 ft'
        """
        if not self.plain:
            return f"{self.label} changed"
        was, now = (
            value_text(each, self.unit, self.decimals) or "not given" for each in (self.old, self.new)
        )
        return f"{self.label} {was} -> {now}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordChange:
    """One difference between two states of a list."""

    #: Values of the fields that tell the record from others.
    key: tuple[str, ...]
    change: What
    #: The record: "hold HN-1", "pole 9/2 A".
    name: str
    #: None = the record itself came or went.
    field: FieldChange | None = None

    @property
    def words(self) -> str:
        """Say it for people: "hold HN-1 removed", "pole 9/2 A length 80 ft -> 85 ft"."""
        return f"{self.name} {self.change if self.field is None else self.field.words}"


def decimals_of(unit: LengthUnit) -> int:
    """Return the decimals of a length written out: two in feet, three in metres."""
    return 3 if unit is LengthUnit.METRE else 2


def text_of(column: Column, value: Any, unit: LengthUnit = LengthUnit.FOOT) -> str:
    """Write a value of a field out for people, with its unit; "" = not given.

    `unit` is the length unit of the job.
    """
    return value_text(_plain(value), *written_in(column, unit))


def value_text(value: str | int | float | bool | None, unit: str = "", decimals: int | None = None) -> str:
    """Write a plain value out with its unit; "" = not given.

    >>> value_text(80.0, "ft"), value_text(800.0, "ft", 2), value_text(63.25, "°", 4), value_text(False)
    ('80 ft', '800.00 ft', '63.2500°', 'no')
    """
    if value is None or value == "" or value != value:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    words = str(value)
    if isinstance(value, float):
        words = f"{value:g}" if decimals is None else f"{value:.{decimals}f}"
    return f"{words}{'' if unit == _DEGREE else ' '}{unit}".rstrip()


def _plain(value: Any) -> str | int | float | bool | None:
    """Turn a value into a text, number or flag; nan is not given."""
    if isinstance(value, Enum):
        return value.name.casefold().replace("_", " ")
    if isinstance(value, tuple | list):
        return ", ".join(map(str, value))
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return f"{value:%H:%M}"
    found: str | int | float | bool | None = None if value != value else value
    return found


def written_in(column: Column, unit: LengthUnit) -> tuple[str, int | None]:
    """Return unit and decimals of a column's values."""
    if column.way == "place":
        return unit.symbol, 3
    if column.cell.unit == "ground":
        return unit.symbol, decimals_of(unit)
    if column.cell.unit == "deg" and column.item is not None:
        # an azimuth turned from the arm's is off in its last bits
        return _DEGREE, 4
    return _SIGNS.get(column.cell.unit, column.cell.unit), None


def compare_records(
    kind: Kind[R], old: Iterable[R], new: Iterable[R], *, unit: LengthUnit = LengthUnit.FOOT
) -> tuple[RecordChange, ...]:
    """Return what a new state of a list changes: records that went, that came, and fields that differ.

    Records are matched by the key of their kind; of several with one key those that are equal first, the
    others in their order. The row of the file says nothing about a record.
    """
    columns = [column for column in columns_of(kind) if column.way != "row"]
    was, now = _by_key(kind, old), _by_key(kind, new)
    found: list[RecordChange] = []
    for key in dict.fromkeys((*was, *now)):
        before, after = _unequal(was.get(key, []), now.get(key, []), columns)
        for one, other in zip(before, after, strict=False):
            found += (
                _change(kind, key, one, "changed", field) for field in _differences(columns, one, other, unit)
            )
        found += (_change(kind, key, one, "removed") for one in before[len(after) :])
        found += (_change(kind, key, one, "added") for one in after[len(before) :])
    return tuple(found)


def _change(
    kind: Kind[R], key: tuple[str, ...], record: R, change: What, field: FieldChange | None = None
) -> RecordChange:
    return RecordChange(
        key=key,
        change=change,
        name=name_of(kind, record),
        field=field,
    )


def name_of(kind: Kind[R], record: R, *, placed: bool = True) -> str:
    """Name a record by what tells it from others; without its line and structure where those are known."""
    known = {column.name for column in columns_of(kind) if column.way in {"line", "structure"}}
    names = kind.key if placed else [name for name in kind.key if name not in known]
    return " ".join((kind.noun, *filter(None, (_told_apart(getattr(record, name)) for name in names))))


def in_words(
    kind: Kind[R], records: Iterable[R], calls: Callable[[tuple[str, str]], Mapping[str, str]]
) -> tuple[R, ...]:
    """Return records with their poles as the owner calls them: by letter, of (line, number), from `calls`."""
    names = [column.name for column in columns_of(kind) if column.way == "pole"]

    def named(record: Any) -> Any:
        called = calls((record.line, record.structure))
        return replace(record, **{name: called[getattr(record, name)] for name in names})

    return tuple(map(named, records)) if names else tuple(records)


def does_of(kind: Kind[Any]) -> str:
    """Say what a new file of a list does to the rows there are.

    >>> from linemap.kinds.registry import CONTEXT, HOLDS, PLANS
    >>> does_of(HOLDS)
    'adds and updates holds by their number; those it does not name stay, unless they are told to end'
    >>> does_of(CONTEXT)
    'takes the place of the context of each layer it names; earlier states stay readable'
    >>> does_of(PLANS)
    'adds what is new; what is there never changes, and another of its line, step, revision is refused'
    """
    by = ", ".join("number" if name == "id" else name.replace("_", " ") for name in kind.key)
    if kind.keeps is Keeps.KEYED:
        ends = "those it does not name stay, unless they are told to end"
        return f"adds and updates {kind.several or kind.code} by their {by}; {ends}"
    if kind.keeps is Keeps.GROWS:
        another = f", and another of its {by} is refused" if kind.once else ""
        return f"adds what is new; what is there never changes{another}"
    part = "line" if kind.of_line else kind.part
    each = f" of each {part} it names" if part else ""
    return f"takes the place of the {kind.code}{each}; earlier states stay readable"


def merged(kind: Kind[R], was: Sequence[R], new: Sequence[R]) -> tuple[R, ...]:
    """Return the records of a list after a file that adds and updates by key.

    What the file names takes the place of what has its key, in the order of the file where it names all that
    is there; other records stay where they are, and what has a new key comes last. Records of two lines are
    never one another's.
    """
    fitting, placed = _fitting(kind, new), set[int]()
    if all(map(fitting, was)):
        return tuple(new)
    found: list[R] = []
    for record in was:
        takes = fitting(record)
        found += [each for each in takes if id(each) not in placed] if takes else [record]
        placed |= set(map(id, takes))
    return (*found, *(each for each in new if id(each) not in placed))


def unnamed(kind: Kind[R], was: Sequence[R], new: Sequence[R]) -> tuple[R, ...]:
    """Return the records of a list that a file of it does not name, in their order."""
    fitting = _fitting(kind, new)
    return tuple(record for record in was if not fitting(record))


def _fitting(kind: Kind[R], new: Iterable[R]) -> Callable[[R], list[R]]:
    """Return what gives the new records that take the place of one that is there."""
    named = _by_key(kind, new)
    return lambda record: [each for each in named.get(_key(kind, record), ()) if _same_line(record, each)]


def _same_line(one: Any, other: Any) -> bool:
    lines = getattr(one, "line", ""), getattr(other, "line", "")
    return lines[0] == lines[1] or "" in lines


def _told_apart(value: Any) -> str:
    return f"{value:.2f}" if isinstance(value, float) else str(value)


def _key(kind: Kind[Any], record: Any) -> tuple[str, ...]:
    return tuple(str(getattr(record, name)) for name in kind.key)


def _by_key(kind: Kind[R], records: Iterable[R]) -> dict[tuple[str, ...], list[R]]:
    found: dict[tuple[str, ...], list[R]] = defaultdict(list)
    for record in records:
        found[_key(kind, record)].append(record)
    return found


def _unequal(old: Sequence[R], new: Sequence[R], columns: Sequence[Column]) -> tuple[list[R], list[R]]:
    """Return the records of one key without those that stand in both states."""

    def values(record: R) -> tuple[Any, ...]:
        found = (getattr(record, column.name) for column in columns)
        return tuple(tuple(sorted(each.items())) if isinstance(each, Mapping) else each for each in found)

    same = Counter(map(values, old)) & Counter(map(values, new))
    return _without(old, values, same), _without(new, values, same)


def _without(
    records: Sequence[R], values: Callable[[R], tuple[Any, ...]], same: Counter[tuple[Any, ...]]
) -> list[R]:
    left = same.copy()
    kept = []
    for record in records:
        key = values(record)
        if left[key] > 0:
            left[key] -= 1
        else:
            kept.append(record)
    return kept


def _differences(
    columns: Iterable[Column], before: Any, after: Any, unit: LengthUnit
) -> Iterator[FieldChange]:
    for column in columns:
        was, now = getattr(before, column.name), getattr(after, column.name)
        # values first: wording both costs more than all the rest
        if was != now and not isinstance(now, _PLAIN):
            yield FieldChange(field=column.name, label=column.label, plain=False)
        elif was != now and text_of(column, was, unit) != text_of(column, now, unit):
            sign, decimals = written_in(column, unit)
            yield FieldChange(
                field=column.name,
                label=column.label,
                old=_plain(was),
                new=_plain(now),
                unit=sign,
                decimals=decimals,
            )
