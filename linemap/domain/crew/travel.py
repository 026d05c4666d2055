"""The shortest way from one place to every structure, and how it is told: by which roads and gates.

Dijkstra's method over the access network (E. W. Dijkstra, "A note on two problems in connexion with graphs",
Numerische Mathematik 1, 1959).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import pairwise

import numpy as np

from linemap.domain.crew.access import AccessNetwork, Break
from linemap.domain.design.figures import Figures
from linemap.domain.design.lengths import length_words
from linemap.domain.design.structure import FloatArray, IntArray
from linemap.units import LengthUnit

#: Shorter pieces of a way are not told.
_LEAST_M = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where a crew starts from."""

    #: Index of the line it is at, and the grid distance along its centreline.
    line: int
    along: float
    #: Grid position.
    easting: float
    northing: float
    #: Row of the structure it stands at; None = at none.
    row: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One stretch of a way on one road or right of way."""

    name: str
    #: Ground metres.
    metres: float
    gate: str = ""
    limit: str = ""
    #: True on a right of way.
    on_line: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Travel:
    """The ways from one start to every structure."""

    #: Ground metres by row; inf = no way is known.
    metres: FloatArray
    #: Ground metres along the line from the start, by row; inf on other lines.
    along_m: FloatArray
    start: Start
    network: AccessNetwork = field(repr=False)
    figures: Figures = field(repr=False)
    _before: IntArray = field(repr=False)
    _strand_of: dict[tuple[int, int], int] = field(repr=False)

    def legs(self, row: int) -> tuple[Leg, ...]:
        """Return the stretches of the way to a structure, in order; () = none known, or the start itself."""
        path = [int(self.network.structure_node[row])]
        while (before := int(self._before[path[-1]])) >= 0:
            path.append(before)
        merged: list[tuple[int, float]] = []
        for one, other in pairwise(reversed(path)):
            strand = self._strand_of.get((one, other), -1)
            metres = abs(self._length(one, other, strand))
            if strand < 0:
                continue
            if merged and merged[-1][0] == strand:
                metres += merged.pop()[1]
            merged.append((strand, metres))
        return tuple(self._leg(strand, metres) for strand, metres in merged if metres >= _LEAST_M)

    def breaks_to(self, row: int) -> tuple[Break, ...]:
        """Return what cuts the right of way between the start and a structure of the same line."""
        index = int(self.figures.line_index[row])
        if index != self.start.line:
            return ()
        at = float(self.network.node_along[self.network.structure_node[row]])
        low, high = sorted((self.start.along, at))
        return tuple(
            one for one in self.network.breaks if one.line == index and one.low < high and low < one.high
        )

    def _length(self, one: int, other: int, strand: int) -> float:
        if strand < 0 or max(one, other) >= len(self.network.node_along):
            return 0.0
        return float(self.network.node_along[other] - self.network.node_along[one]) * self.network.ground_m

    def _leg(self, strand: int, metres: float) -> Leg:
        road = self.network.strands[strand]
        return Leg(name=road.name, metres=metres, gate=road.gate, limit=road.limit, on_line=road.line >= 0)


def travel_from(
    network: AccessNetwork, figures: Figures, start: Start, *, closed: Collection[int] = ()
) -> Travel:
    """Find the shortest way from a start to every structure.

    Parameters
    ----------
    network : AccessNetwork
    figures : Figures
        The structures the network was built from.
    start : Start
        A structure, or any place that roads or a right of way are near.
    closed : collection of int
        Rows of structures that must not be passed: the right of way is driven up to them, not on from
        them, unless the start is one of them.
    """
    here = len(network.node_strand)
    tail, head, length, strand = network.tail, network.head, network.length, network.piece_strand
    shut = np.zeros(here + 1, dtype=np.bool_)
    shut[network.structure_node[sorted(set(closed) - {start.row})].astype(np.int64)] = True
    if start.row is not None:
        reached: Sequence[tuple[int, float]] = [(int(network.structure_node[start.row]), 0.0)]
    else:
        reached = network.attach(start.easting, start.northing)
    first = np.array([node for node, _ in reached], dtype=np.int64)
    tail = np.concatenate([tail, np.full(len(first), here)])
    head = np.concatenate([head, first])
    length = np.concatenate([length, [metres for _, metres in reached]])
    strand = np.concatenate([strand, np.full(len(first), -1)])
    kept = np.flatnonzero(~shut[tail])
    kept = kept[np.lexsort((length[kept], head[kept], tail[kept]))]
    repeated = (np.diff(tail[kept], prepend=-1) == 0) & (np.diff(head[kept], prepend=-1) == 0)
    kept = kept[~repeated]
    metres, before = _shortest(here, tail[kept], head[kept], length[kept])
    pairs = zip(tail[kept].tolist(), head[kept].tolist(), strict=True)
    at = network.node_along[network.structure_node]
    same_line = figures.line_index == start.line
    return Travel(
        metres=metres[network.structure_node],
        along_m=np.where(same_line, np.abs(at - start.along) * network.ground_m, np.inf),
        start=start,
        network=network,
        figures=figures,
        _before=before,
        _strand_of=dict(zip(pairs, strand[kept].tolist(), strict=True)),
    )


def _shortest(start: int, tail: IntArray, head: IntArray, length: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the length of the shortest way from the last node to each node, and the node before it there.

    The pieces stand in the order of their tails. A node without a way is infinitely far; it and the start
    have -1 before them.
    """
    first = np.searchsorted(tail, np.arange(start + 2)).tolist()
    heads, lengths = head.tolist(), length.tolist()
    reached, before = [math.inf] * (start + 1), [-1] * (start + 1)
    reached[start] = 0.0
    nearest = [(0.0, start)]
    while nearest:
        metres, node = heappop(nearest)
        if metres > reached[node]:
            continue
        for piece in range(first[node], first[node + 1]):
            further = metres + lengths[piece]
            if further < reached[heads[piece]]:
                reached[heads[piece]] = further
                before[heads[piece]] = node
                heappush(nearest, (further, heads[piece]))
    return np.array(reached), np.array(before, dtype=np.int64)


def travel_words(travel: Travel, row: int, unit: LengthUnit) -> str:
    """Tell the way to a structure: what blocks the right of way, the roads, the gates and their limits."""
    return ", ".join(part for part in travel_parts(travel, row, unit) if part)


def travel_parts(travel: Travel, row: int, unit: LengthUnit) -> tuple[str, str]:
    """Tell the way in two parts: by which roads, which neighbours often share, and how far it is in all.

    The second is "" where the first says the whole way already.
    """
    blocked = list(dict.fromkeys(one.what for one in travel.breaks_to(row)))
    barred = f"no crossing on the right of way ({', '.join(blocked)}); " if blocked else ""
    if row == travel.start.row:
        return "here", ""
    if not np.isfinite(travel.metres[row]):
        return barred + _without_way(travel, row, unit), ""
    legs = travel.legs(row)
    roads = [leg for leg in legs if not leg.on_line]
    if not roads:
        return f"{length_words(float(travel.metres[row]), unit)} along the right of way", ""
    by_road = ", ".join(f"{length_words(leg.metres, unit)} by {leg.name}{_notes(leg)}" for leg in roads)
    in_all = length_words(float(travel.metres[row]), unit)
    return f"{barred}{by_road}", f"{in_all} in all with the right of way" if len(legs) > len(roads) else ""


def _notes(leg: Leg) -> str:
    notes = [f"gate {leg.gate}" if leg.gate else "", leg.limit]
    by = ", ".join(note for note in notes if note)
    return f" ({by})" if by else ""


def _without_way(travel: Travel, row: int, unit: LengthUnit) -> str:
    along = float(travel.along_m[row])
    if not np.isfinite(along):
        return "no way is known from the roads of the job"
    roads = "no way is known from the roads of the job" if travel.network.has_roads else "no roads in the job"
    return f"{roads}; {length_words(along, unit)} along the line"
