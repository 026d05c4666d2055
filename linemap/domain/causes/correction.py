"""Corrections of survey shots: small tables that say what to do, and the pure functions that do it.

Every correction has a "kind" (`linemap.domain.causes.correction_kind`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any, NamedTuple

from linemap.domain.causes.correction_kind import KINDS, USABLE
from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.survey.shot import Shot, ShotKey, sessions_held

#: Kinds of correction that say otherwise what a shot is of; all others say otherwise where it lies.
_OF_LABELS = frozenset({"relabel", "renumber", "line", "swap_labels", "permute", "drop", "assign"})
#: So many structures of a correction are named.
_NAMED = 8


class Order(NamedTuple):
    """A correction to apply, and on whose word."""

    #: One that `correction_fault` finds nothing wrong with.
    correction: Mapping[str, Any]
    #: Line whose structures are meant where a correction names structures or numbers; "" = any.
    line: str
    #: What the note of each changed shot names.
    by: str
    #: How the job names its structures, for a correction that reads descriptions.
    naming: Naming = UNNAMED
    #: Unit of the coordinates, for a correction that says lengths; "" = not known.
    unit: str = ""


#: A correction that grows a survey by more than this reads its file another way, and moves no session.
_SESSION_SLOPE = 0.005


def moves_sessions(correction: Mapping[str, Any]) -> bool:
    """Tell whether a correction moves whole sessions that were read right: by a base, a factor, a foot."""
    kind = correction.get("kind")
    return kind in {"translate", "similarity"} or (
        kind == "foot" and abs(float(correction["factor"]) - 1.0) <= _SESSION_SLOPE
    )


def depend_on_order(one: Mapping[str, Any] | None, other: Mapping[str, Any] | None) -> bool:
    """Tell whether two corrections of the same shots are not the same in the other order.

    >>> depend_on_order({"kind": "renumber"}, {"kind": "swap_labels"}), depend_on_order(
    ...     {"kind": "renumber"}, {"kind": "foot"})
    (True, False)
    """
    if one is None or other is None:
        return False
    return (one["kind"] in _OF_LABELS) == (other["kind"] in _OF_LABELS)


class Applied(NamedTuple):
    """What one correction did."""

    #: How many shots it changed and how; also when it changed none.
    words: str
    #: (line, structure) of each shot it changed, as all corrections leave it; of a dropped one as it was.
    structures: frozenset[tuple[str, str]]
    #: `Shot.key` of each shot it changed, in their order.
    shots: tuple[ShotKey, ...]


def correction_fault(correction: Mapping[str, Any]) -> str:
    """Say why a correction cannot be applied, "" when it can.

    >>> correction_fault({"kind": "drop", "file": "may.csv", "rows": [7]})
    ''
    >>> correction_fault({"kind": "drop", "file": "may.csv", "rows": []})
    'has no usable rows: []'
    """
    kind = correction.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        return f"is of the kind {kind!r}; use one of {', '.join(KINDS)}"
    needs = KINDS[kind].needs
    allowed = {"kind", *needs, *KINDS[kind].may_have}
    unknown = sorted(set(correction) - allowed)
    if unknown:
        return f"names {unknown[0]}, which {kind} does not have"
    for name in sorted(allowed - {"kind"}):
        if (name in needs or name in correction) and not USABLE[name](correction.get(name)):
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
            tuple(shots[position].key for position in changed),
        )
        for order, words, changed in done
    )
    return draft.left(), tuple(applied)


class _Draft:
    """Shots while they are being corrected, found by file and by structure."""

    def __init__(self, shots: Sequence[Shot]) -> None:
        self._shots: list[Shot | None] = list(shots)
        self._by_file: dict[str, list[int]] = defaultdict(list)
        for position, shot in enumerate(shots):
            self._by_file[shot.file].append(position)
        self._by_row: dict[str, dict[int, list[int]]] = {}

    @cached_property
    def _by_structure(self) -> dict[str, set[int]]:
        positions: dict[str, set[int]] = defaultdict(set)
        for position, shot in enumerate(self._shots):
            if shot is not None:
                positions[shot.structure].add(position)
        return positions

    @cached_property
    def _following(self) -> dict[str, list[int]]:
        """Check-ins in files of their own, by the file whose shots they hold: they follow its corrections."""
        positions: dict[str, list[int]] = defaultdict(list)
        for (own, day), (file, _) in sessions_held(filter(None, self._shots)).items():
            positions[file] += [
                at
                for at in self._by_file[own]
                if (shot := self._shots[at]) is not None and shot.observed_on == day
            ]
        return positions

    def _at_rows(self, file: str, rows: Iterable[int]) -> list[int]:
        """Return positions by rows of a file: thousands of corrections must not go through the file each."""
        if file not in self._by_row:
            of_row: dict[int, list[int]] = defaultdict(list)
            for position in self._by_file[file]:
                shot = self._shots[position]
                if shot is not None:
                    of_row[shot.row].append(position)
            self._by_row[file] = of_row
        return sorted(position for row in {*rows} for position in self._by_row[file].get(row, ()))

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
        kind = KINDS[order.correction["kind"]]
        named: dict[str, Any] = {"naming": order.naming} if kind.reads else {}
        if kind.says_lengths:
            named["unit"] = order.unit
        change, words = kind.make([shot for _, shot in concerned], order.correction, **named)
        changed = []
        for position, shot in concerned:
            after = change(shot)
            if after is not shot:
                changed.append(position)
                self._put(position, shot, None if after is None else _noted(after, f"{words}, {order.by}"))
        names = order.correction.get("structures", ("all files",))
        more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
        whose = order.correction.get("file") or ", ".join(names[:_NAMED]) + more
        return f"{len(changed)} shot{'' if len(changed) == 1 else 's'} of {whose}: {words}", changed

    def _named(self, correction: Mapping[str, Any]) -> Iterator[tuple[int, Shot]]:
        """Give the shots of the file or the structures a correction names, in their order."""
        if "structures" in correction:
            positions = sorted(set().union(*(self._by_structure[name] for name in correction["structures"])))
        elif rows := correction.get("rows"):
            positions = self._at_rows(correction["file"], rows)
        elif "file" in correction:
            positions = [*self._by_file[correction["file"]], *self._following.get(correction["file"], ())]
        else:
            positions = [*range(len(self._shots))]
        for position in positions:
            shot = self._shots[position]
            if shot is not None:
                yield position, shot

    def _put(self, position: int, before: Shot, after: Shot | None) -> None:
        self._shots[position] = after
        if "_by_structure" not in self.__dict__:  # not asked for yet
            return
        self._by_structure[before.structure].discard(position)
        if after is not None:
            self._by_structure[after.structure].add(position)


def _means(order: Order, shot: Shot) -> bool:
    """Tell whether a correction means a shot of its file or structures."""
    if "structures" in order.correction:
        return not order.line or shot.line in {"", order.line}
    if shot.point not in order.correction.get("points", (shot.point,)):
        return False
    rows = order.correction.get("rows")
    if (rows and shot.row not in rows) or order.correction.get("day", shot.observed_on) != shot.observed_on:
        return False
    return "numbers" not in order.correction or not order.line or shot.line in {"", order.line}


def _noted(shot: Shot, words: str) -> Shot:
    return replace(shot, note="; ".join(part for part in (shot.note, words) if part))
