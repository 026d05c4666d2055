"""The ways to the structures: access roads, public roads and the right of way, as one network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from rustworkx import PyDiGraph
from shapely import LineString

from linemap.domain.design.structure import FloatArray, IntArray

#: A place is reached from the roads and the right of way no farther than this. Common practice, no source.
_REACH_M = 1000.0


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
            near = nearest_strand([s if (s.line < 0) == is_road else None for s in self.strands], here)
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


def nearest_strand(strands: Sequence[Strand | None], place: shapely.Geometry) -> tuple[int, float] | None:
    """Return index and grid distance of the nearest of some strands; None when there is none.

    >>> road = Strand(name="Mill Road", shape=LineString([(0, 0), (0, 9)]))
    >>> nearest_strand([None, road], shapely.Point(4, 5))
    (1, 4.0)
    """
    apart = [
        (strand.shape.distance(place), index) for index, strand in enumerate(strands) if strand is not None
    ]
    return (min(apart)[1], min(apart)[0]) if apart else None
