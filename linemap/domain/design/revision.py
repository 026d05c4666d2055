"""What a new revision of a structure list changes, structure by structure.

Positions rule: the station written in a list only repeats them, so a list whose written stations alone
differ changes nothing. The row in the file says nothing about the structure either.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from itertools import chain
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

from linemap.domain.design.naming import ListedNumbers
from linemap.domain.design.number import number_key
from linemap.domain.design.structure import Structures
from linemap.domain.finding.phrase import BY_LETTER, Called, length_text, pole_names
from linemap.domain.kind.compare import FieldChange, value_text, written_in
from linemap.domain.kind.kind import columns_in
from linemap.geometry.frame import ArmRule
from linemap.units import LengthUnit

#: Centres nearer than this print as "moved 0.00": rounding of a list written anew, not a move.
_ROUNDING = {"ft": 0.005, "m": 0.0005}
#: Columns that say which structure it is, where it is, or nothing of it.
_APART = frozenset({"line", "easting", "northing", "given_station", "given_deflection", "source_row"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One difference at one structure between two revisions: what changed, as values."""

    #: Structure number in its one spelling.
    number: str
    change: Literal["added", "removed", "moved", "changed"]
    #: Of a move "distance" on the ground with its "unit" and "azimuth_deg" on the grid; of a field what
    #: `FieldChange` holds; of a pole its letter as "pole", of another part its name as "part". What version
    #: 0.1.0 kept as a sentence has it as "words".
    values: Mapping[str, Any] = field(default_factory=dict)
    #: What the owner calls the poles of the structure; whoever shows changes sets it.
    called: Called = field(default_factory=lambda: BY_LETTER, compare=False)

    @property
    def words(self) -> str:
        """What it is, with numbers and units: "moved 8.00 ft", "pole A length 80 ft -> 85 ft".

        >>> Change(number="9/2", change="moved", values={"distance": 8.0, "unit": "ft"}).words
        'moved 8.00 ft'
        """
        values = dict(self.values)
        if "words" in values:
            return str(values["words"])
        pole, part = values.pop("pole", ""), values.pop("part", "")
        if self.change == "moved":
            words = f"moved {length_text(values['distance'], values['unit'])}"
        else:
            words = FieldChange(**values).words if "field" in values else self.change
        return f"{pole_names(pole, self.called) if pole else part} {words}".lstrip()

    def reworded(self, change: Callable[[str], str]) -> Change:
        """Return the change with its texts changed, as for readers who may not see some words."""
        values = {
            name: change(value) if isinstance(value, str) else value for name, value in self.values.items()
        }
        return replace(self, values=values)


@dataclass(frozen=True, slots=True, kw_only=True)
class Revised:
    """What one revision changed at one structure."""

    #: "Rev C", or the day it was loaded.
    revision: str
    change: Change

    @property
    def words(self) -> str:
        """Say it for people: "Rev C: moved 8.00 ft"."""
        return f"{self.revision}: {self.change.words}"

    @property
    def is_remark(self) -> bool:
        """True when remarks alone were written anew."""
        return self.change.values.get("field") == "remarks"

    @property
    def is_of_the_place(self) -> bool:
        """True when it says something else of the structure; a new number or a remark does not."""
        told = self.change.values.get("field") not in {"number", "remarks"}
        return told and self.change.change in {"moved", "changed"} and "pole" not in self.change.values

    def reworded(self, change: Callable[[str], str]) -> Revised:
        """Return it with its texts changed, as for readers who may not see some words."""
        return Revised(revision=change(self.revision), change=self.change.reworded(change))


def compare(
    old: Structures,
    new: Structures,
    *,
    unit: LengthUnit,
    combined_factor: float = 1.0,
    stands_as: Mapping[str, str] = MappingProxyType({}),
) -> tuple[Change, ...]:
    """Return what `new` changes against `old`, in the natural order of the numbers.

    Structures are matched by their number, also where the new list writes it another way, which is a change
    of "number"; a number that stands twice in a list by its last row. One structure can have several changes:
    it moved, and its spacing changed. Moves are ground distances. `stands_as` gives old -> new number of
    those that are matched by their place instead (`linemap.domain.design.renumbered`).

    `unit` is that of coordinates, elevations and spacings, `combined_factor` grid / ground of the line.

    >>> before = Structures.from_columns(number=["1", "2"], easting=[0.0, 600.0], northing=[0.0, 0.0])
    >>> after = Structures.from_columns(number=["1", "3"], easting=[0.0, 608.0], northing=[6.0, 0.0])
    >>> [(change.number, change.words) for change in compare(before, after, unit=LengthUnit.FOOT)]
    [('1', 'moved 6.00 ft'), ('2', 'removed'), ('3', 'added')]
    """
    was = {number: row for row, number in enumerate(old.number)}
    now = {number: row for row, number in enumerate(new.number)}
    written = {**written_anew(was, now), **stands_as}
    taken = {*stands_as.values()}
    gone = [each for each in was if each not in stands_as and written.get(each, each) in taken]
    was = {written.get(number, number): row for number, row in was.items() if number not in gone}
    both = [number for number in now if number in was]
    before = old.take(np.array([was[number] for number in both], dtype=np.int64))
    after = new.take(np.array([now[number] for number in both], dtype=np.int64))
    found = [
        *(Change(number=number, change="removed") for number in was if number not in now),
        *(Change(number=number, change="removed") for number in gone),
        *(Change(number=number, change="added") for number in now if number not in was),
        *_moved(before, after, unit, combined_factor),
        *_changed(before, after, unit),
    ]
    return tuple(sorted(found, key=lambda change: number_key(change.number)))


def written_anew(was: Iterable[str], now: Iterable[str]) -> dict[str, str]:
    """Return old -> new spelling of the numbers that are only written another way.

    >>> written_anew(["12/3", "12/4", "7"], ["12-3", "12/4", "8"])
    {'12/3': '12-3'}
    """
    gone, come = dict.fromkeys(was), dict.fromkeys(now)
    both = gone.keys() & come.keys()
    fresh = ListedNumbers({"": {number: 2 for number in come if number not in both}})
    meant = {number: fresh.meant(number) for number in gone if number not in both}
    times = Counter(chain.from_iterable(meant.values()))
    return {number: found[0] for number, found in meant.items() if len(found) == 1 and times[found[0]] == 1}


def _moved(before: Structures, after: Structures, unit: LengthUnit, combined_factor: float) -> list[Change]:
    east, north = after.easting - before.easting, after.northing - before.northing
    distance = np.hypot(east, north) / combined_factor
    azimuth = np.degrees(np.arctan2(east, north)) % 360.0
    return [
        Change(
            number=after.number[row],
            change="moved",
            values={
                "distance": float(distance[row]),
                "unit": unit.symbol,
                "azimuth_deg": round(float(azimuth[row]), 4),
            },
        )
        for row in np.flatnonzero(distance >= _ROUNDING[unit.symbol]).tolist()
    ]


def _changed(before: Structures, after: Structures, unit: LengthUnit) -> list[Change]:
    return [
        Change(number=after.number[row], change="changed", values=asdict(found))
        for column in columns_in(Structures)
        if column.name not in _APART
        for sign, decimals in [written_in(column, unit)]
        for row, was, now in _differences(
            column.name, getattr(before, column.name), getattr(after, column.name)
        )
        if value_text(was, sign, decimals) != value_text(now, sign, decimals)
        for found in [
            FieldChange(field=column.name, label=column.label, old=was, new=now, unit=sign, decimals=decimals)
        ]
    ]


def _differences(name: str, before: Any, after: Any) -> list[tuple[int, Any, Any]]:
    """Return (row, old, new) where two columns differ; None = not given."""
    rows = np.flatnonzero((before != after) & ~((before != before) & (after != after)))
    return [(row, _plain(name, before[row]), _plain(name, after[row])) for row in rows.tolist()]


def _plain(name: str, value: Any) -> Any:
    """Return a cell as a plain value: a rule by its name, nan and blank text as None."""
    if name == "rule":
        return ArmRule(int(value)).name.casefold().replace("_", " ")
    plain = value.item() if isinstance(value, np.generic) else value
    return None if plain is None or plain != plain or plain == "" else plain
