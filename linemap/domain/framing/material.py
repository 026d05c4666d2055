"""The material of structures: the bundle each takes against what came for it, and stringing blocks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from linemap.domain.crew.material import Receipt, Shortage, pole_size, same_item, shortages
from linemap.domain.design.structure import Pole
from linemap.domain.framing.framing_type import FramingType


def bundle(framing: FramingType | None, poles: Sequence[Pole]) -> dict[str, int]:
    """Return item -> pieces of one structure: its poles by size, then what its drawing counts.

    >>> pole = Pole(line="", structure="13/2", letter="A", length_ft=75.0, pole_class="H1")
    >>> bundle(FramingType(code="P3-DE", dimensions={}, pieces={"arm 40 ft": 2}), [pole, pole])
    {'H1-75 pole': 2, 'arm 40 ft': 2}
    """
    sizes = (pole_size(pole.length_ft, pole.pole_class) for pole in poles)
    counted: Counter[str] = Counter(f"{size} pole" for size in sizes if size)
    return {**counted, **(framing.pieces if framing else {})}


def bundle_shortages(
    receipts: Iterable[Receipt], framing: FramingType | None, poles: Sequence[Pole]
) -> tuple[Shortage, ...]:
    """Return what one structure lacks of its bundle; () when no receipt names the structure.

    Only what its receipts name is judged. What a receipt says was ordered of an item goes before the count
    of the drawing, so that an item is never asked for twice.

    Parameters
    ----------
    receipts : iterable of Receipt
        The rows that name the structure.
    framing : FramingType, optional
        None = its type is not in the framing table.
    poles : sequence of Pole
        Its poles of the schedule.
    """
    rows = list(receipts)
    if not rows:
        return ()
    named = {same_item(row.item) for row in rows}
    ordered = {same_item(row.item) for row in rows if row.ordered}
    counted: Mapping[str, int] = framing.pieces if framing else {}
    drawn = [
        Receipt(item=item, ordered=count)
        for item, count in counted.items()
        if same_item(item) in named - ordered
    ]
    return shortages([*rows, *drawn], poles)


def bundle_sentences(
    receipts: Iterable[Receipt], framing: FramingType | None, poles: Sequence[Pole]
) -> tuple[str, ...]:
    """Say what is short of a structure's bundle, and what of it no receipt names.

    Parameters
    ----------
    receipts, framing, poles
        As for `bundle_shortages`.

    >>> bundle_sentences([], FramingType(code="H", dimensions={}), [])
    ('material: not available: no receipt shown here names the structure',)
    """
    rows = list(receipts)
    if not rows:
        return ("material: not available: no receipt shown here names the structure",)
    named = {same_item(row.item) for row in rows}
    short = {same_item(found.item): found for found in bundle_shortages(rows, framing, poles)}
    unlisted = [
        f"{count} × {item}"
        for item, count in bundle(framing, poles).items()
        if same_item(item) not in named and same_item(item) not in short
    ]
    said = [f"material: {found.words}" for found in short.values()]
    if not short:
        said.append("material: nothing the receipts name is short")
    if unlisted:
        said.append(f"material: not known, no receipt names {', '.join(unlisted)}")
    return tuple(said)


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
