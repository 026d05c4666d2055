"""The material one structure takes, from its framing type and its poles, against what came for it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from linemap.domain.crew.material import Receipt, Shortage, pole_size, same_item, shortages
from linemap.domain.design.structure import Pole
from linemap.domain.framing.framing_type import FramingType

__all__ = ["bundle", "bundle_sentences", "bundle_shortages"]


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
