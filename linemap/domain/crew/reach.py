"""Which structures a record is for: those it names one by one, a range of them, or a whole line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Generic, NamedTuple, Protocol, TypeVar

from linemap.domain.design.number import number_key


class Reach(NamedTuple):
    """The structures of one record: those named, and all from `low` to `high`, as sort keys."""

    #: Line name; "" = every line of the job.
    line: str
    named: frozenset[tuple[Any, ...]]
    low: tuple[Any, ...]
    high: tuple[Any, ...]

    @classmethod
    def of(
        cls,
        line: str,
        structures: Iterable[str],
        first: str = "",
        last: str = "",
        between: Iterable[str] = (),
    ) -> Reach:
        """Read the places of a record; without any it is for every structure.

        The order of the numbers (9/6 before 10/1) stands for the order along the line; the ends of a range
        may be given either way round, and a blank one is the end of the line. A structure without a number (a
        bay) lies in no range of numbers. Of a range with an end whose place its number does not tell (T-45,
        END), `between` names the structures.

        >>> Reach.of("", (), "12/1", "11/4").covers("N", "11/6"), Reach.of("N", ("9/2",)).covers("S", "9-02")
        (True, False)
        """
        named = frozenset(map(_key, structures))
        # keys of numbers begin with 0, those of other texts with 1
        if is_by_place(first, last):
            ends = (each for each in (first, last, *between) if each)
            return cls(line, named.union(map(_key, ends)), (2,), (0,))
        if first and last:
            low, high = sorted((_key(first), _key(last)))
            return cls(line, named, low, high)
        if first or last:
            return cls(line, named, _key(first) if first else (0,), _key(last) if last else (1,))
        return cls(line, named, (2,), (0,)) if named else cls(line, named, (0,), (2,))

    def covers(self, line: str, number: str) -> bool:
        """Say whether a structure lies in it, by its number however written."""
        return self._holds(line, _key(number))

    def _holds(self, line: str, key: tuple[Any, ...]) -> bool:
        return self.line in {"", line} and (key in self.named or self.low <= key <= self.high)


def is_by_place(first: str, last: str) -> bool:
    """Say whether the numbers of the ends of a range do not tell what lies between them."""
    return any(end and _key(end)[0] for end in (first, last))


class Reaching(Protocol):
    """A record that is for some structures of a line."""

    @property
    def reach(self) -> Reach:
        """The structures it is for."""


C = TypeVar("C", bound=Reaching)


class Coverage(Generic[C]):
    """Records by the structures they are for; each number is read once, however many are asked for."""

    def __init__(self, records: Iterable[C]) -> None:
        self._records = [(record, record.reach) for record in records]
        self._ranges = [index for index, (_, reach) in enumerate(self._records) if reach.low <= reach.high]
        self._named: dict[tuple[Any, ...], list[int]] = {}
        for index, (_, reach) in enumerate(self._records):
            for key in reach.named:
                self._named.setdefault(key, []).append(index)

    def at(self, line: str, number: str) -> tuple[C, ...]:
        """Return the records that are for a structure, in the given order."""
        if not self._records:
            return ()
        key = _key(number)
        there = (self._records[index] for index in sorted({*self._named.get(key, ()), *self._ranges}))
        return tuple(record for record, reach in there if reach._holds(line, key))

    def by_structure(self, structures: Iterable[tuple[str, str]]) -> dict[tuple[str, str], tuple[C, ...]]:
        """Return the records that are for each (line, number) that has any."""
        return {key: there for key in structures if (there := self.at(*key))}


def _key(number: str) -> tuple[Any, ...]:
    return number_key(" ".join(number.split()))
