"""The ways to the structures: roads and rights of way as one network, the shortest of them, their words."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from rustworkx import PyDiGraph, dijkstra_shortest_path_lengths
from shapely import LineString

from linemap.domain.design.figures import Figures
from linemap.domain.design.lengths import length_words
from linemap.domain.design.structure import FloatArray, IntArray
from linemap.units import LengthUnit

#: A place is reached from the roads and the right of way no farther than this. Common practice, no source.
_REACH_M = 1000.0
#: Shorter pieces of a way are not told.
_LEAST_M = 1e-5
#: No piece is taken for shorter, so that whatever comes before a node is nearer than it.
_STEP_M = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A stretch of a right of way that no vehicle crosses."""

    #: Index of the line.
    line: int
    #: Grid distances along its centreline.
    low: float
    high: float
    #: What is in the way: "river".
    what: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strand:
    """One road, or the right of way of one line, in grid coordinates."""

    #: "right of way", or the road's name; "unnamed road" when it has none.
    name: str
    shape: LineString
    #: Index of the line whose right of way it is; -1 = a road.
    line: int = -1
    #: Gate it leads through, "" = none known.
    gate: str = ""
    #: What limits it: "20-ton ford"; "" = nothing known.
    limit: str = ""
    #: Grid distances along it that cannot be driven.
    cuts: tuple[tuple[float, float], ...] = ()

    def driven(self, one: float, other: float) -> bool:
        """Say whether the stretch between two distances along it touches no cut."""
        low, high = min(one, other), max(one, other)
        return not any(start < high and low < end for start, end in self.cuts)


@dataclass(frozen=True, kw_only=True, eq=False)
class AccessNetwork:
    """Nodes, and the driven pieces between them, both ways. Lengths are horizontal ground metres."""

    strands: tuple[Strand, ...]
    #: Strand of each node and its grid distance along it.
    node_strand: IntArray
    node_along: FloatArray
    #: Node of each structure, by row of the figures.
    structure_node: IntArray
    #: Pieces: their ends, ground length, and strand (-1 = a join off any road).
    tail: IntArray
    head: IntArray
    length: FloatArray
    piece_strand: IntArray
    breaks: tuple[Break, ...]
    #: Ground metres of one grid unit.
    ground_m: float
    #: What cannot be crossed off the roads either.
    barrier: shapely.Geometry = field(repr=False)

    @cached_property
    def graph(self) -> PyDiGraph[int, int]:
        """The nodes, and the pieces by their numbers; whoever adds to it takes a copy."""
        graph: PyDiGraph[int, int] = PyDiGraph()
        graph.add_nodes_from(range(len(self.node_strand)))
        pieces = zip(self.tail.tolist(), self.head.tolist(), range(len(self.tail)), strict=True)
        graph.add_edges_from(list(pieces))
        return graph

    @property
    def has_roads(self) -> bool:
        """True when the job has any road; without, there is only the line to go along."""
        return any(strand.line < 0 for strand in self.strands)

    def attach(self, easting: float, northing: float) -> list[tuple[int, float]]:
        """Return nodes that a grid point reaches by a straight leg, with ground metres: (node, metres).

        The leg goes to the nearest road and the nearest right of way within 1,000 m and then along it to
        its nodes on both sides; a leg through a barrier is none.
        """
        here = shapely.Point(easting, northing)
        found: list[tuple[int, float]] = []
        for is_road in (True, False):
            near = nearest_strand(self.strands, range(len(self.strands)), here, is_road=is_road)
            if near is None or near[1] * self.ground_m > _REACH_M:
                continue
            strand = self.strands[near[0]]
            foot = strand.shape.project(here)
            if LineString([here, strand.shape.interpolate(foot)]).intersects(self.barrier):
                continue
            found += [
                (node, (near[1] + abs(self.node_along[node] - foot)) * self.ground_m)
                for node in self._beside(near[0], foot)
                if strand.driven(foot, float(self.node_along[node]))
            ]
        return found

    def _beside(self, strand: int, along: float) -> list[int]:
        """Nodes of a strand on both sides of a distance along it."""
        nodes = np.flatnonzero(self.node_strand == strand)
        nodes = nodes[np.argsort(self.node_along[nodes], kind="stable")]
        place = int(np.searchsorted(self.node_along[nodes], along))
        return [int(node) for node in nodes[max(0, place - 1) : place + 1]]


def nearest_strand(
    strands: Sequence[Strand], among: Iterable[int], place: shapely.Geometry, *, is_road: bool
) -> tuple[int, float] | None:
    """Return index and grid distance of the nearest road, or right of way, among some; None = there is none.

    >>> road = Strand(name="Mill Road", shape=LineString([(0, 0), (0, 9)]))
    >>> nearest_strand([road], [0], shapely.Point(4, 5), is_road=True)
    (0, 4.0)
    """
    apart = [
        (strands[index].shape.distance(place), index)
        for index in among
        if (strands[index].line < 0) == is_road
    ]
    return (min(apart)[1], min(apart)[0]) if apart else None


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
    #: The piece by which each node is reached, -1 = the way begins at it, or none is known.
    _piece: IntArray = field(repr=False)

    def legs(self, row: int) -> tuple[tuple[Strand, float], ...]:
        """Return the stretches of the way to a structure, in order, with their ground metres.

        () = none known, or the start itself.
        """
        net = self.network
        node, pieces = int(net.structure_node[row]), []
        while (piece := int(self._piece[node])) >= 0:
            pieces.append(piece)
            node = int(net.tail[piece])
        merged: list[tuple[int, float]] = []
        for piece in reversed(pieces):
            strand = int(net.piece_strand[piece])
            if strand < 0:
                continue
            along = float(net.node_along[net.head[piece]] - net.node_along[net.tail[piece]])
            metres = abs(along * net.ground_m)
            if merged and merged[-1][0] == strand:
                metres += merged.pop()[1]
            merged.append((strand, metres))
        return tuple((net.strands[strand], metres) for strand, metres in merged if metres >= _LEAST_M)

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


def travel_from(
    network: AccessNetwork, figures: Figures, start: Start, *, closed: Collection[int] = ()
) -> Travel:
    """Find the shortest way from a start to every structure.

    The network is that of the figures. Rows that are `closed` must not be passed: the right of way is driven
    up to them, not on from them, unless the start is one of them.
    """
    graph = network.graph.copy()
    length = np.maximum(network.length, _STEP_M)
    shut = np.zeros(len(network.node_strand), dtype=np.bool_)
    shut[network.structure_node[sorted(set(closed) - {start.row})].astype(np.int64)] = True
    length[shut[network.tail]] = np.inf
    lengths = length.tolist()
    if start.row is not None:
        here = int(network.structure_node[start.row])
    else:
        here = graph.add_node(len(shut))
        for node, metres in network.attach(start.easting, start.northing):
            graph.add_edge(here, node, len(lengths))
            lengths.append(max(metres, _STEP_M))
    found = dijkstra_shortest_path_lengths(graph, here, lengths.__getitem__)
    reached = np.full(len(shut) + 1, np.inf)
    reached[np.fromiter(found.keys(), np.int64, len(found))] = np.fromiter(found.values(), float, len(found))
    reached[here] = 0.0
    piece = np.full(len(shut), -1)
    last = (reached[network.tail] + length == reached[network.head]) & np.isfinite(reached[network.head])
    piece[network.head[last]] = np.flatnonzero(last)
    at = network.node_along[network.structure_node]
    same_line = figures.line_index == start.line
    return Travel(
        metres=reached[network.structure_node],
        along_m=np.where(same_line, np.abs(at - start.along) * network.ground_m, np.inf),
        start=start,
        network=network,
        figures=figures,
        _piece=piece,
    )


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
    roads = [(strand, metres) for strand, metres in legs if strand.line < 0]
    if not roads:
        return f"{length_words(float(travel.metres[row]), unit)} along the right of way", ""
    by_road = ", ".join(
        f"{length_words(metres, unit)} by {road.name}{_notes(road)}" for road, metres in roads
    )
    in_all = length_words(float(travel.metres[row]), unit)
    return f"{barred}{by_road}", f"{in_all} in all with the right of way" if len(legs) > len(roads) else ""


def _notes(road: Strand) -> str:
    by = ", ".join(filter(None, (f"gate {road.gate}" if road.gate else "", road.limit)))
    return f" ({by})" if by else ""


def _without_way(travel: Travel, row: int, unit: LengthUnit) -> str:
    along = float(travel.along_m[row])
    if not np.isfinite(along):
        return "no way is known from the roads of the job"
    roads = "no way is known from the roads of the job" if travel.network.has_roads else "no roads in the job"
    return f"{roads}; {length_words(along, unit)} along the line"
