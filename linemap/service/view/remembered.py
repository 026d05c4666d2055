"""What is made once and kept: a list on the first look, and what was made of the same object."""

from __future__ import annotations

from collections import UserList
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import TypeVar

T = TypeVar("T")


class MadeOnUse(UserList[T]):
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
    def data(self) -> list[T]:  # type: ignore[override]
        """The list itself."""
        return list(self._make())


class Remembered:
    """Remembers results from one round to the next by the object itself, not by its value.

    Objects must not change. Only what was asked for in the last round is kept, so nothing piles up. Not to
    be shared between threads.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[str, int], tuple[object, object]] = {}
        self._fresh: dict[tuple[str, int], tuple[object, object]] = {}

    def begin(self) -> None:
        """Begin a round: what the last one did not ask for is forgotten."""
        self._known, self._fresh = self._fresh, {}

    def clear(self) -> None:
        """Forget everything."""
        self._known, self._fresh = {}, {}

    def again(self, name: str, source: object, make: Callable[[], T]) -> T:
        """Return what `make` gave for this very object under this name in this round or the last.

        >>> remembered, numbers = Remembered(), [3, 1]
        >>> first = remembered.again("sorted", numbers, lambda: sorted(numbers))
        >>> remembered.begin()
        >>> remembered.again("sorted", numbers, lambda: sorted(numbers)) is first
        True
        """
        key = (name, id(source))
        known = self._fresh.get(key) or self._known.get(key)
        # the object is kept beside the result, so its address cannot belong to another one
        made = known[1] if known is not None and known[0] is source else make()
        self._fresh[key] = (source, made)
        return made  # type: ignore[return-value]
