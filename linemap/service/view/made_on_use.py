"""A sequence that is made when somebody first looks at it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cached_property
from typing import Generic, TypeVar, overload

T = TypeVar("T")


class MadeOnUse(Sequence[T], Generic[T]):
    """What `make` returns, computed on the first look and kept; may be shared between threads.

    Two threads that look first at the same moment both compute; `make` must give the same each time.

    >>> calls = []
    >>> made = MadeOnUse(lambda: calls.append("made") or (3, 1))
    >>> len(calls), made[0], sorted(made), calls
    (0, 3, [1, 3], ['made'])
    """

    def __init__(self, make: Callable[[], Sequence[T]]) -> None:
        self._make = make

    @cached_property
    def found(self) -> Sequence[T]:
        """The sequence itself."""
        return self._make()

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[T]: ...
    def __getitem__(self, index: int | slice) -> T | Sequence[T]:
        """Return one or some of it."""
        return self.found[index]

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.found)

    def __iter__(self) -> Iterator[T]:
        """Go through it."""
        return iter(self.found)
