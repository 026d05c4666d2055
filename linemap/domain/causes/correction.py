"""Corrections of survey shots: small tables that say what to do, and the pure functions that do it.

Every correction has a "kind":

- ``exchange``: northing and easting of a file's shots change places; "rows" limits it to some rows.
- ``foot``: coordinates of a file's shots times "factor"; about the point "about" (easting, northing) if one
  is given, about the origin of the grid otherwise.
- ``translate``: "east" and "north" are added to the coordinates of a file's shots, CRS unit.
- ``relabel``: the shots of some "rows" of a file belong to "structure", on "line" if one is given.
- ``swap_labels``: A and B (A and C of three poles) of the shots of some "structures" change places.
- ``drop``: the shots of some "rows" of a file are set aside: not used.
- ``assign``: the shots of some "rows" of a file are of "item", of the "structure" and "pole" that are given,
  on "line" if one is given; whatever was read of them before counts no more.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any, NamedTuple, get_args

from linemap.domain.design.structure import POLE_LETTERS
from linemap.domain.survey.shot import ITEM_WORDS, Shot, ShotItem

_Change = Callable[[Shot], Shot | None]


class Order(NamedTuple):
    """A correction to apply, and on whose word."""

    #: One that `correction_fault` finds nothing wrong with.
    correction: Mapping[str, Any]
    #: Line whose structures `swap_labels` means; "" = any.
    line: str
    #: What the note of each changed shot names.
    by: str


class Applied(NamedTuple):
    """What one correction did."""

    #: How many shots it changed and how; also when it changed none.
    words: str
    #: (line, structure) of each shot it changed, as all corrections leave it; of a dropped one as it was.
    structures: frozenset[tuple[str, str]]
    #: (file, row) of each shot it changed, in their order.
    shots: tuple[tuple[str, int], ...]


def correction_fault(correction: Mapping[str, Any]) -> str:
    """Say why a correction cannot be applied, "" when it can.

    >>> correction_fault({"kind": "drop", "file": "may.csv", "rows": [7]})
    ''
    >>> correction_fault({"kind": "drop", "file": "may.csv", "rows": []})
    'has no usable rows: []'
    """
    kind = correction.get("kind")
    if not isinstance(kind, str) or kind not in _KINDS:
        return f"is of the kind {kind!r}; use one of {', '.join(_KINDS)}"
    needs = _KINDS[kind].needs
    allowed = {"kind", *needs, *_KINDS[kind].may_have}
    unknown = sorted(set(correction) - allowed)
    if unknown:
        return f"names {unknown[0]}, which {kind} does not have"
    for name in sorted(allowed - {"kind"}):
        if (name in needs or name in correction) and not _USABLE[name](correction.get(name)):
            return f"has no usable {name}: {correction.get(name)!r}"
    return ""


def apply_corrections(
    shots: Sequence[Shot], orders: Iterable[Order]
) -> tuple[tuple[Shot, ...], tuple[Applied, ...]]:
    """Apply corrections one after the other.

    Returns
    -------
    tuple of Shot, tuple of Applied
        The shots that are left, in their order, and what each correction did.
    """
    draft = _Draft(shots)
    done = [(order, *draft.apply(order)) for order in orders]
    applied = (
        Applied(
            words,
            frozenset(draft.place(position, shots, order.line) for position in changed),
            tuple((shots[position].file, shots[position].row) for position in changed),
        )
        for order, words, changed in done
    )
    return draft.left(), tuple(applied)


class _Draft:
    """Shots while they are being corrected, found by file and by structure."""

    def __init__(self, shots: Sequence[Shot]) -> None:
        self._shots: list[Shot | None] = list(shots)
        self._by_file: dict[str, list[int]] = defaultdict(list)
        self._by_row: dict[tuple[str, int], list[int]] = defaultdict(list)
        self._by_structure: dict[str, set[int]] = defaultdict(set)
        for position, shot in enumerate(shots):
            self._by_file[shot.file].append(position)
            self._by_row[shot.file, shot.row].append(position)
            self._by_structure[shot.structure].add(position)

    def left(self) -> tuple[Shot, ...]:
        """Return the shots that were not dropped."""
        return tuple(shot for shot in self._shots if shot is not None)

    def place(self, position: int, observed: Sequence[Shot], line: str) -> tuple[str, str]:
        """Return line and structure of a shot as it is now, of a dropped one as observed."""
        shot = self._shots[position] or observed[position]
        return (shot.line or line, shot.structure)

    def apply(self, order: Order) -> tuple[str, list[int]]:
        """Apply one correction; say what it did, and to the shots at which positions."""
        concerned = [
            (position, shot) for position, shot in self._named(order.correction) if _means(order, shot)
        ]
        make = _KINDS[order.correction["kind"]].make
        change, words = make([shot for _, shot in concerned], order.correction)
        changed = []
        for position, shot in concerned:
            after = change(shot)
            if after is not shot:
                changed.append(position)
                self._put(position, shot, None if after is None else _noted(after, f"{words}, {order.by}"))
        whose = order.correction.get("file") or ", ".join(order.correction.get("structures", ()))
        return f"{len(changed)} shot{'' if len(changed) == 1 else 's'} of {whose}: {words}", changed

    def _named(self, correction: Mapping[str, Any]) -> Iterator[tuple[int, Shot]]:
        """Give the shots of the file or the structures a correction names, in their order."""
        if correction["kind"] == "swap_labels":
            positions = sorted(set().union(*(self._by_structure[name] for name in correction["structures"])))
        elif rows := correction.get("rows"):
            # thousands of corrections that name a few rows each must not go through the file each
            positions = sorted(
                at for row in {*rows} for at in self._by_row.get((correction["file"], row), ())
            )
        else:
            positions = self._by_file[correction["file"]]
        for position in positions:
            shot = self._shots[position]
            if shot is not None:
                yield position, shot

    def _put(self, position: int, before: Shot, after: Shot | None) -> None:
        self._shots[position] = after
        self._by_structure[before.structure].discard(position)
        if after is not None:
            self._by_structure[after.structure].add(position)


def _means(order: Order, shot: Shot) -> bool:
    """Tell whether a correction means a shot of its file or structures."""
    if order.correction["kind"] == "swap_labels":
        return not order.line or shot.line in {"", order.line}
    rows = order.correction.get("rows")
    return not rows or shot.row in rows


def _noted(shot: Shot, words: str) -> Shot:
    return replace(shot, note="; ".join(part for part in (shot.note, words) if part))


def _exchange(_shots: Sequence[Shot], _correction: Mapping[str, Any]) -> tuple[_Change, str]:
    return (
        lambda shot: replace(shot, easting=shot.northing, northing=shot.easting),
        "northing and easting exchanged",
    )


def _foot(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[_Change, str]:
    factor = float(correction["factor"])
    east, north = (float(value) for value in correction.get("about", (0.0, 0.0)))

    def scale(shot: Shot) -> Shot:
        return replace(
            shot,
            easting=east + (shot.easting - east) * factor,
            northing=north + (shot.northing - north) * factor,
        )

    about = f" about {east:.1f} E, {north:.1f} N" if "about" in correction else ""
    return scale, f"coordinates times {factor:.12g}{about}"


def _translate(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[_Change, str]:
    east, north = float(correction["east"]), float(correction["north"])
    return (
        lambda shot: replace(shot, easting=shot.easting + east, northing=shot.northing + north),
        f"moved {east:+.3f} east, {north:+.3f} north",
    )


def _relabel(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[_Change, str]:
    structure = correction["structure"]

    def relabel(shot: Shot) -> Shot:
        return replace(shot, structure=structure, line=correction.get("line", shot.line))

    return relabel, f"labelled {structure}"


def _swap_labels(shots: Sequence[Shot], _correction: Mapping[str, Any]) -> tuple[_Change, str]:
    three = {shot.structure for shot in shots if shot.pole == "C"}

    def swap(shot: Shot) -> Shot:
        letters = {"A": "C", "C": "A"} if shot.structure in three else {"A": "B", "B": "A"}
        return replace(shot, pole=letters[shot.pole]) if shot.pole in letters else shot

    return swap, "first and last pole letter exchanged"


def _drop(_shots: Sequence[Shot], _correction: Mapping[str, Any]) -> tuple[_Change, str]:
    return lambda _shot: None, "set aside"


def _assign(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[_Change, str]:
    named = {name: correction.get(name, "") for name in ("structure", "pole")}

    def assign(shot: Shot) -> Shot:
        return replace(shot, item=correction["item"], line=correction.get("line", shot.line), **named)

    of = f" of {named['structure']}" if named["structure"] else ""
    return assign, f"assigned as {ITEM_WORDS[correction['item']]}{of}"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _is_name(value: Any) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _is_list(value: Any, holds: Callable[[Any], bool]) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(map(holds, value))


class _Kind(NamedTuple):
    """One kind of correction: the names it needs and may have, and what makes it."""

    needs: tuple[str, ...]
    make: Callable[[Sequence[Shot], Mapping[str, Any]], tuple[_Change, str]]
    may_have: tuple[str, ...] = ()


_KINDS: Mapping[str, _Kind] = MappingProxyType(
    {
        "exchange": _Kind(("file",), _exchange, ("rows",)),
        "foot": _Kind(("file", "factor"), _foot, ("about",)),
        "translate": _Kind(("file", "east", "north"), _translate),
        "relabel": _Kind(("file", "rows", "structure"), _relabel, ("line",)),
        "swap_labels": _Kind(("structures",), _swap_labels),
        "drop": _Kind(("file", "rows"), _drop),
        "assign": _Kind(("file", "rows", "item"), _assign, ("structure", "pole", "line")),
    }
)
#: Name in a correction -> whether its value can be used.
_USABLE: Mapping[str, Callable[[Any], bool]] = MappingProxyType(
    {
        "file": lambda value: isinstance(value, str),
        "factor": lambda value: _is_number(value) and value > 0.0,
        "about": lambda value: _is_list(value, _is_number) and len(value) == 2,
        "east": _is_number,
        "north": _is_number,
        "rows": lambda value: _is_list(value, lambda row: type(row) is int),
        "structure": _is_name,
        "structures": lambda value: _is_list(value, _is_name),
        "line": _is_name,
        "item": lambda value: value in get_args(ShotItem),
        "pole": lambda value: value in tuple(POLE_LETTERS),
    }
)
