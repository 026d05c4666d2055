"""What was made of an object, for as long as the same object comes again."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


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
