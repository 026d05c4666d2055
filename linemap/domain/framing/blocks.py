"""Stringing blocks: how many hang, how many are left, and for how many structures they last."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

__all__ = ["BlockBalance", "block_balance"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockBalance:
    """The blocks of a job. Counts are None where they cannot be known."""

    #: Blocks the job owns; None = nobody said.
    owned: int | None
    #: Blocks on structures where hanging is recorded; None = some type gives no count.
    hung: int | None
    #: Structures that can be hung next, in their order, with what is left.
    next_structures: tuple[str, ...]
    #: One sentence, or why there is no balance.
    words: str

    @property
    def left(self) -> int | None:
        """Blocks not hung; None where one of the counts is not known."""
        return None if self.owned is None or self.hung is None else self.owned - self.hung


def block_balance(
    hung: Iterable[str], waiting: Sequence[str], *, per_structure: Mapping[str, int | None], owned: int | None
) -> BlockBalance:
    """Balance the blocks hung against the blocks owned.

    Parameters
    ----------
    hung : iterable of str
        Structures on which blocks hang, each once.
    waiting : sequence of str
        Structures that come next, in the order of the work.
    per_structure : mapping of str to int or None
        Blocks each structure takes; None = its type gives no count.
    owned : int, optional
        Blocks the job owns.

    >>> numbers = [f"1/{i}" for i in range(1, 60)]
    >>> block_balance(numbers[:52], numbers[52:], per_structure=dict.fromkeys(numbers, 5), owned=280).words
    'blocks: 260 hung of 280 owned, 20 left = 4 structures'
    """
    hanging = list(hung)
    unknown = [number for number in hanging if per_structure.get(number) is None]
    total = None if unknown else sum(per_structure[number] or 0 for number in hanging)
    if total is None:
        return _without(owned, None, f"no block count is given for the type of {', '.join(unknown[:3])}")
    if owned is None:
        return _without(None, total, f"{total} hang, nobody said how many the job owns; declare blocks_owned")
    if total > owned:
        return _without(owned, total, f"{total} hang, but {owned} are owned; a count or a removal is missing")
    reached = _reached(waiting, per_structure, owned - total)
    plural = "" if len(reached) == 1 else "s"
    return BlockBalance(
        owned=owned,
        hung=total,
        next_structures=reached,
        words=f"blocks: {total} hung of {owned} owned, "
        f"{owned - total} left = {len(reached)} structure{plural}",
    )


def _without(owned: int | None, hung: int | None, reason: str) -> BlockBalance:
    return BlockBalance(
        owned=owned, hung=hung, next_structures=(), words=f"blocks left: not available: {reason}"
    )


def _reached(waiting: Sequence[str], per_structure: Mapping[str, int | None], left: int) -> tuple[str, ...]:
    """Return the structures the blocks last for, in order, up to the first that they do not."""
    reached = []
    for number in waiting:
        need = per_structure.get(number)
        if need is None or need > left:
            break
        left -= need
        reached.append(number)
    return tuple(reached)
