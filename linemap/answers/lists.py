"""Lists as they are declared: for programs a whole list, for people what one says at a structure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["ListAnswer", "ListField", "ListedField", "ListedRecord", "StateOfList", "Value"]

#: A value of a record; days are written like 2026-05-15, None = not given.
Value = str | int | float | bool | Sequence[str] | None


@dataclass(frozen=True, kw_only=True)
class ListField:
    """One field of a list; `unit` is "" where the value has none."""

    name: str
    label: str
    type: str
    unit: str


@dataclass(frozen=True, kw_only=True)
class StateOfList:
    """One state of a list, or of one part (line, layer) of it; the current ones make the list."""

    id: int
    part: str
    source_file: str
    label: str
    loaded_at: str
    current: bool


@dataclass(frozen=True, kw_only=True)
class ListAnswer:
    """A list with what its fields are; `rows` hold values in the order of `fields`."""

    data_version: int
    kind: str
    noun: str
    fields: Sequence[ListField]
    rows: Sequence[Sequence[Value]]
    #: Every state there was, oldest first; empty for lists that only grow.
    states: Sequence[StateOfList]


@dataclass(frozen=True, kw_only=True)
class ListedField:
    """A field of a record in words, its unit among them."""

    label: str
    text: str


@dataclass(frozen=True, kw_only=True)
class ListedRecord:
    """What a list says at a structure beside what rules say of the record: "ticket LT-45" and its fields."""

    kind: str
    name: str
    fields: Sequence[ListedField]
