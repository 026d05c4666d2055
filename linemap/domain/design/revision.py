"""What a new revision of a structure list changes, in words, structure by structure.

Positions rule: the station written in a list only repeats them, so a list whose written stations alone
differ changes nothing. The row in the file says nothing about the structure either.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Literal

import numpy as np

from linemap.domain.design.number import number_key
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray, Structures
from linemap.domain.kind.compare import length_text
from linemap.geometry.frame import ArmRule
from linemap.units import LengthUnit

__all__ = ["Change", "compare"]

#: Centres nearer than this print as "moved 0.00": rounding of a list written anew, not a move.
_ROUNDING = {"ft": 0.005, "m": 0.0005}

_Words = Callable[[Any], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One difference at one structure between two revisions."""

    #: Structure number in its one spelling.
    number: str
    change: Literal["added", "removed", "moved", "changed"]
    #: What it is, with numbers and units: "moved 8.00 ft", "pole A length 80 ft -> 85 ft".
    words: str


def compare(
    old: Structures, new: Structures, *, unit: LengthUnit, combined_factor: float = 1.0
) -> tuple[Change, ...]:
    """Return what `new` changes against `old`, in the natural order of the numbers.

    Structures are matched by their number; a number that stands twice in a list by its last row. One
    structure can have several changes: it moved, and its spacing changed. Moves are ground distances.

    Parameters
    ----------
    old, new : Structures
        Two revisions of the list of one line.
    unit : LengthUnit
        Unit of coordinates, elevations and spacings.
    combined_factor : float
        Grid / ground of the line.

    >>> before = Structures.from_columns(number=["1", "2"], easting=[0.0, 600.0], northing=[0.0, 0.0])
    >>> after = Structures.from_columns(number=["1", "3"], easting=[0.0, 608.0], northing=[6.0, 0.0])
    >>> [(change.number, change.words) for change in compare(before, after, unit=LengthUnit.FOOT)]
    [('1', 'moved 6.00 ft'), ('2', 'removed'), ('3', 'added')]
    """
    was = {number: row for row, number in enumerate(old.number)}
    now = {number: row for row, number in enumerate(new.number)}
    both = [number for number in now if number in was]
    before = old.take(np.array([was[number] for number in both], dtype=np.int64))
    after = new.take(np.array([now[number] for number in both], dtype=np.int64))
    found = [
        *(Change(number=number, change="removed", words="removed") for number in was if number not in now),
        *(Change(number=number, change="added", words="added") for number in now if number not in was),
        *_moved(before, after, unit, combined_factor),
        *_changed(before, after, unit),
    ]
    return tuple(sorted(found, key=lambda change: number_key(change.number)))


def _moved(before: Structures, after: Structures, unit: LengthUnit, combined_factor: float) -> list[Change]:
    grid = np.hypot(after.easting - before.easting, after.northing - before.northing)
    distance = grid / combined_factor
    return [
        Change(number=before.number[row], change="moved", words=f"moved {length_text(distance[row], unit)}")
        for row in np.flatnonzero(distance >= _ROUNDING[unit.symbol]).tolist()
    ]


def _changed(before: Structures, after: Structures, unit: LengthUnit) -> list[Change]:
    length = partial(length_text, unit=unit)
    columns: tuple[tuple[str, str, _Words], ...] = (
        ("elevation", "ground elevation", length),
        ("spacing", "pole spacing", length),
        ("pole_count", "number of poles", str),
        ("rule", "arm rule", _rule),
        ("explicit_azimuth", "listed azimuth", lambda value: f"{value:.4f}°"),
        ("section_break", "section break", _yes_no),
        ("type_code", "type", str),
        ("remarks", "remarks", str),
    )
    return [
        Change(number=before.number[row], change="changed", words=f"{words} {was} -> {now}")
        for name, words, written in columns
        for row, was, now in _differences(getattr(before, name), getattr(after, name), written)
    ]


def _differences(
    before: FloatArray | IntArray | BoolArray | Any, after: Any, written: _Words
) -> list[tuple[int, str, str]]:
    """Return (row, old words, new words) where two columns read differently."""
    rows = np.flatnonzero((before != after) & ~((before != before) & (after != after)))
    worded = [(row, _written(before[row], written), _written(after[row], written)) for row in rows.tolist()]
    return [difference for difference in worded if difference[1] != difference[2]]


def _written(value: Any, written: _Words) -> str:
    """Write a value out; None, nan and blank text read "not given"."""
    if value is None or value != value or value == "":
        return "not given"
    return written(value)


def _rule(value: int) -> str:
    return ArmRule(int(value)).name.casefold().replace("_", " ")


def _yes_no(value: bool) -> str:
    return "yes" if value else "no"
