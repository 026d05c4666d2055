"""Material by structure: what schedule, drawing and yard's list ask for, what came, what is missing; blocks.

Only what the yard's list names is judged. A structure that is in no row of it is "not known", never
complete: receipts that name no structure are in the yard, and nobody has said where they go.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Annotated

from linemap.domain.design.structure import Pole
from linemap.domain.kind.kind import Cell, Place
from linemap.domain.kind.words import LINE, REMARKS_WORDS, STRUCTURE_WORDS

_CLASS_LENGTH = re.compile(
    r"(?:(?P<h>H\d|\d{1,2})\s*[-/]\s*(?P<length>\d{2,3}))|(?:(?P<length2>\d{2,3})\s*[-/]\s*(?P<h2>H\d|\d{1,2}))",
    re.IGNORECASE,
)
_LEAST_LENGTH = 20
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
#: Steps that need their material at the structure. Common practice, no source.
_STEPS = frozenset({"spotted", "framed", "set"})
_SHOWN: tuple[Place, ...] = ("panel", "card")
_NO_PIECES: Mapping[str, int] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """One row of the yard's list: what was ordered, what came, or what is still due.

    Raises
    ------
    ValueError
        If the item is blank or a count is negative.
    """

    #: What it is: "H1-75 pole", "brace set 12.5".
    item: Annotated[str, Cell("item material article size what description", on=_SHOWN)]
    line: Annotated[str, LINE] = ""
    #: Structure it is meant for; "" = for the yard.
    structure: Annotated[str, Cell(f"{STRUCTURE_WORDS} forstructure for", way="structure")] = ""
    #: Pieces that were ordered for it; None = not given.
    ordered: Annotated[int | None, Cell("ordered qtyordered orderedqty quantityordered needed required")] = (
        None
    )
    #: Pieces that came.
    received: Annotated[int, Cell("received qtyreceived receivedqty quantityreceived quantity qty count")] = 0
    #: Of these, pieces that cannot be used.
    damaged: Annotated[int, Cell("damaged qtydamaged damagedqty quantitydamaged broken")] = 0
    #: When they came; None = not given.
    received_on: Annotated[date | None, Cell("receivedon date datereceived receiptdate receiveddate")] = None
    #: When the rest is due; None = not given.
    due: Annotated[date | None, Cell("due duedate expected promised eta")] = None
    #: Brand as read from the poles.
    brand: Annotated[str, Cell("brand branddata brandread tag", on=_SHOWN)] = ""
    yard_row: Annotated[str, Cell("yardrow row yard location", on=_SHOWN)] = ""
    #: Who releases the material: the yard, the supplier.
    released_by: Annotated[str, Cell("releasedby releaseby releases supplier", free=True)] = ""
    remarks: Annotated[str, Cell(REMARKS_WORDS, free=True, on=_SHOWN)] = ""
    row: Annotated[int, Cell(way="row")] = 0

    def __post_init__(self) -> None:
        if not self.item.strip():
            raise ValueError("a receipt names no item; write what came")
        if min(self.ordered or 0, self.received, self.damaged) < 0:
            raise ValueError(f"the receipt of {self.item} has a negative count; correct it")

    @property
    def usable(self) -> int:
        """Pieces that came and can be used; never less than none."""
        return max(0, self.received - self.damaged)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """What one structure lacks of one item."""

    item: str
    #: Pieces asked for and usable pieces that came.
    needed: int
    received: int
    #: The latest day a row gives for the rest; None = no day known.
    due: date | None = None
    released_by: str = ""

    @property
    def missing(self) -> int:
        """Pieces still missing."""
        return self.needed - self.received

    @property
    def words(self) -> str:
        """Say what is missing, poles by class and length.

        >>> Shortage(item="H1-75 pole", needed=3, received=1).words
        'two H1-75 poles missing'
        """
        count = _NUMBERS[self.missing] if self.missing < len(_NUMBERS) else str(self.missing)
        plural = "s" if self.missing > 1 and not self.item.endswith("s") else ""
        return f"{count} {self.item}{plural} missing"


def pole_size(length_ft: float | None, pole_class: str) -> str:
    """Name a pole by its size as yards do: length-class, H classes in front; "" when one is not known.

    >>> pole_size(75.0, "2"), pole_size(75.0, "H1"), pole_size(None, "2")
    ('75-2', 'H1-75', '')
    """
    if length_ft is None or not pole_class.strip():
        return ""
    written = pole_class.strip().upper()
    return f"{written}-{length_ft:g}" if written.startswith("H") else f"{length_ft:g}-{written}"


def same_item(text: str) -> str:
    """Bring the names of one item to one spelling; poles are known by class and length either way round.

    >>> same_item("75-H1 poles"), same_item("H1/75"), same_item("2-75 Pole"), same_item("Brace  set")
    ('H1-75 pole', 'H1-75 pole', '75-2 pole', 'brace set')
    """
    match = _CLASS_LENGTH.search(text)
    if match is None:
        return " ".join(text.casefold().split())
    first, second = match["h"] or match["length2"], match["length"] or match["h2"]
    long, strong = (first, second) if first.isdigit() and int(first) >= _LEAST_LENGTH else (second, first)
    return f"{pole_size(float(long), strong)} pole"


def needs_material(step: str) -> bool:
    """Say whether a step cannot be done without the structure's material there."""
    return step in _STEPS


def _poles_by_size(poles: Iterable[Pole]) -> Counter[str]:
    sizes = (pole_size(pole.length_ft, pole.pole_class) for pole in poles)
    return Counter(f"{size} pole" for size in sizes if size)


def bundle(poles: Sequence[Pole], pieces: Mapping[str, int] = _NO_PIECES) -> dict[str, int]:
    """Return item -> pieces of one structure: its poles by size, then what its drawing counts.

    >>> pole = Pole(line="", structure="13/2", letter="A", length_ft=75.0, pole_class="H1")
    >>> bundle([pole, pole], {"arm 40 ft": 2})
    {'H1-75 pole': 2, 'arm 40 ft': 2}
    """
    return {**_poles_by_size(poles), **pieces}


def shortages(
    receipts: Iterable[Receipt], poles: Sequence[Pole], pieces: Mapping[str, int] = _NO_PIECES
) -> tuple[Shortage, ...]:
    """Return what one structure lacks, by item; () also when no receipt names the structure.

    Parameters
    ----------
    receipts : iterable of Receipt
        The rows that name the structure.
    poles : sequence of Pole
        Its poles of the schedule. What it asks for goes before what a row says was ordered.
    pieces : mapping of str to int
        What its drawing counts: it says how many of what the receipts name and nobody ordered. Of other items
        nothing is judged.
    """
    by_item: dict[str, list[Receipt]] = defaultdict(list)
    for row in receipts:
        by_item[same_item(row.item)].append(row)
    if not by_item:
        return ()
    ordered = Counter({item: sum(row.ordered or 0 for row in rows) for item, rows in by_item.items()})
    received = Counter({item: sum(row.usable for row in rows) for item, rows in by_item.items()})
    unordered = {item for item, count in ordered.items() if not count}
    for item, count in pieces.items():
        if same_item(item) in unordered:
            ordered[same_item(item)] += count
    scheduled = _poles_by_size(poles)
    # a schedule that sizes every pole says it all: what else was sent instead is not asked for
    whole = scheduled.total() == len(poles) > 0
    wanted = {item: count for item, count in ordered.items() if not (whole and item.endswith(" pole"))}
    needed = {**wanted, **scheduled}
    return tuple(
        Shortage(
            item=item,
            needed=count,
            received=received[item],
            due=max((row.due for row in by_item[item] if row.due), default=None),
            released_by=next((row.released_by for row in by_item[item] if row.released_by), ""),
        )
        for item, count in sorted(needed.items())
        if received[item] < count
    )


def bundle_sentences(
    receipts: Iterable[Receipt], poles: Sequence[Pole], pieces: Mapping[str, int] = _NO_PIECES
) -> tuple[str, ...]:
    """Say what is short of a structure's bundle, and what of it no receipt names; see `shortages`."""
    rows = list(receipts)
    if not rows:
        return ("material: not available: no receipt shown here names the structure",)
    named = {same_item(row.item) for row in rows}
    short = {same_item(found.item): found for found in shortages(rows, poles, pieces)}
    unlisted = [
        f"{count} × {item}"
        for item, count in bundle(poles, pieces).items()
        if same_item(item) not in named and same_item(item) not in short
    ]
    said = [f"material: {found.words}" for found in short.values()]
    if not short:
        said.append("material: nothing the receipts name is short")
    if unlisted:
        said.append(f"material: not known, no receipt names {', '.join(unlisted)}")
    return tuple(said)


def block_words(
    hung: Iterable[str], waiting: Sequence[str], *, per_structure: Mapping[str, int | None], owned: int
) -> str:
    """Balance the stringing blocks hung against those the job owns, or say why there is no balance.

    Parameters
    ----------
    hung : iterable of str
        Structures on which blocks hang, each once.
    waiting : sequence of str
        Structures that come next, in the order of the work.
    per_structure : mapping of str to int or None
        Blocks each structure takes; None = its type gives no count.

    >>> numbers = [f"1/{i}" for i in range(1, 60)]
    >>> block_words(numbers[:52], numbers[52:], per_structure=dict.fromkeys(numbers, 5), owned=280)
    'blocks: 260 hung of 280 owned, 20 left = 4 structures'
    """
    hanging = list(hung)
    unknown = [number for number in hanging if per_structure.get(number) is None]
    if unknown:
        return f"blocks left: not available: no block count is given for the type of {', '.join(unknown[:3])}"
    total = sum(per_structure[number] or 0 for number in hanging)
    left = owned - total
    if left < 0:
        return (
            f"blocks left: not available: {total} hang, but {owned} are owned; "
            "a count or a removal is missing"
        )
    reached = len(list(_reached(waiting, per_structure, left)))
    plural = "" if reached == 1 else "s"
    return f"blocks: {total} hung of {owned} owned, {left} left = {reached} structure{plural}"


def _reached(waiting: Iterable[str], per_structure: Mapping[str, int | None], left: int) -> Iterator[str]:
    """Give the structures the blocks last for, in order, up to the first that they do not."""
    for number in waiting:
        need = per_structure.get(number)
        if need is None or need > left:
            return
        left -= need
        yield number
