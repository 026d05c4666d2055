"""Values of records in words, and what a new state of a list changes: nothing vanishes unnamed."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from types import NoneType
from typing import Any, Literal, TypeVar

from linemap.domain.kind.kind import Column, Kind, columns_of
from linemap.units import LengthUnit

__all__ = ["RecordChange", "compare_records", "length_text", "name_of", "text_of"]

R = TypeVar("R")
What = Literal["added", "removed", "changed"]
#: Values that can be written out before and after.
_PLAIN = (str, int, float, bool, date, tuple, Enum, NoneType)
_SIGNS = {"deg": "°"}


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordChange:
    """One difference between two states of a list."""

    #: Values of the fields that tell the record from others.
    key: tuple[str, ...]
    change: What
    #: "hold HN-1 removed", "pole 9/2 A length 80 ft -> 85 ft".
    words: str
    #: The same for who knows line and structure: "pole A length 80 ft -> 85 ft".
    at_structure: str


def length_text(value: float, unit: LengthUnit) -> str:
    """Write a length out to the hundredth of a foot or the millimetre, with its unit."""
    return f"{value:.{3 if unit is LengthUnit.METRE else 2}f} {unit.symbol}"


def text_of(column: Column, value: Any, unit: LengthUnit = LengthUnit.FOOT) -> str:
    """Write a value of a field out for people, with its unit; "" = not given.

    `unit` is the length unit of the job.
    """
    if value is None or value == "" or value != value:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return value.name.casefold().replace("_", " ")
    if isinstance(value, tuple | list):
        return ", ".join(map(str, value))
    if column.cell.unit == "ground":
        return length_text(value, unit)
    words = f"{value:g}" if isinstance(value, float) else str(value)
    sign = _SIGNS.get(column.cell.unit, f" {column.cell.unit}")
    return f"{words}{sign}".rstrip()


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
                _change(kind, key, one, "changed", words) for words in _differences(columns, one, other, unit)
            )
        found += (_change(kind, key, one, "removed", "removed") for one in before[len(after) :])
        found += (_change(kind, key, one, "added", "added") for one in after[len(before) :])
    return tuple(found)


def _change(kind: Kind[R], key: tuple[str, ...], record: R, change: What, words: str) -> RecordChange:
    return RecordChange(
        key=key,
        change=change,
        words=f"{name_of(kind, record)} {words}",
        at_structure=f"{name_of(kind, record, placed=False)} {words}",
    )


def name_of(kind: Kind[R], record: R, *, placed: bool = True) -> str:
    """Name a record by what tells it from others; without its line and structure where those are known."""
    known = {column.name for column in columns_of(kind) if column.way in {"line", "structure"}}
    names = kind.key if placed else [name for name in kind.key if name not in known]
    return " ".join((kind.noun, *filter(None, (str(getattr(record, name)) for name in names))))


def _by_key(kind: Kind[R], records: Iterable[R]) -> dict[tuple[str, ...], list[R]]:
    found: dict[tuple[str, ...], list[R]] = defaultdict(list)
    for record in records:
        found[tuple(str(getattr(record, name)) for name in kind.key)].append(record)
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


def _differences(columns: Iterable[Column], before: Any, after: Any, unit: LengthUnit) -> Iterator[str]:
    for column in columns:
        was, now = getattr(before, column.name), getattr(after, column.name)
        # values first: wording both costs more than all the rest
        if was != now and not isinstance(now, _PLAIN):
            yield f"{column.label} changed"
        elif was != now:
            words = text_of(column, was, unit), text_of(column, now, unit)
            if words[0] != words[1]:
                yield f"{column.label} {words[0] or 'not given'} -> {words[1] or 'not given'}"
