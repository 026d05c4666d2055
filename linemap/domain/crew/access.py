"""Build the access network of a job from what is drawn around its lines.

A *strand* is one road, or the right of way of one line. Roads drawn by different hands rarely meet exactly,
so a loose end of a road is joined to the nearest other road, and to the right of way, where these are near.
What a vehicle cannot cross cuts the right of way, and every road that is drawn through it and is not said to
have a bridge or ford there, or is not named as the detour of the crossing: a drawing is no bridge.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely import LineString, MultiLineString, STRtree

from linemap.domain.crew.travel import AccessNetwork, Break, Strand, nearest_strand
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import FloatArray, IntArray
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.geometry.projection import Projection

_ROADS = frozenset({"road", "roads", "street", "highway", "access", "access road", "access roads", "track"})
_BARRIERS = frozenset({"river", "stream", "creek", "water", "lake", "reservoir", "canal"})
_NO_CROSSING = "no crossing on the right of way"
#: A loose end of a road is joined to what is no farther than this. Common practice, no source.
_JOIN_M = 300.0
#: Two places of one strand nearer than this are one.
_SAME = 1e-3


def build_access(
    figures: Figures,
    features: Iterable[ContextFeature],
    crossings: Iterable[Crossing],
    *,
    projection: Projection,
) -> AccessNetwork:
    """Build the network of a job, all lines in one coordinate reference.

    Roads are lines of the layers road, access and the like, barriers shapes of the layers river, water and
    the like; restricted features are not used: what they are named must not be printed. A crossing whose rule
    begins "no crossing on the right of way" cuts it at its place. A road with a property `bridge` that is not
    "no", or a `ford...` property, may be driven through a barrier; so may one that the rule of such a
    crossing names as its detour.
    """
    open_ones = [feature for feature in features if not feature.restricted]
    barriers = [
        (feature.layer.casefold(), _to_grid(feature.geometry, projection))
        for feature in open_ones
        if feature.layer.casefold() in _BARRIERS and not isinstance(feature.geometry, shapely.Point)
    ]
    barrier = shapely.union_all([shape for _, shape in barriers])
    factors = [line.combined_factor for line in figures.lines]
    ground_m = projection.unit.metres / (float(np.mean(factors)) if factors else 1.0)
    barred = [one for one in crossings if one.rule.casefold().startswith(_NO_CROSSING)]
    breaks = tuple(_breaks(figures, barriers, barred))
    detours = " ".join(crossing.rule.casefold() for crossing in barred)
    strands = [*_rights_of_way(figures, breaks), *_roads(open_ones, projection, barrier, detours=detours)]
    web = _Web(strands, ground_m=ground_m, barrier=barrier)
    nodes = web.add_structures(figures)
    web.join()
    return web.network(nodes, breaks)


def _to_grid(shape: shapely.Geometry, projection: Projection) -> shapely.Geometry:
    def moved(xy: FloatArray) -> FloatArray:
        return np.column_stack(projection.from_lonlat(xy[:, 0], xy[:, 1]))

    return shapely.transform(shape, moved)


def _rights_of_way(figures: Figures, breaks: Sequence[Break]) -> list[Strand]:
    return [
        Strand(
            name="right of way",
            shape=LineString(np.column_stack([line.centreline.easting, line.centreline.northing])),
            line=index,
            cuts=tuple((one.low, one.high) for one in breaks if one.line == index),
        )
        for index, line in enumerate(figures.lines)
    ]


def _roads(
    features: Iterable[ContextFeature], projection: Projection, barrier: shapely.Geometry, *, detours: str
) -> list[Strand]:
    return [
        Strand(
            name=feature.name or "unnamed road",
            shape=part,
            gate=feature.properties.get("gate", ""),
            limit=_limit(feature),
            cuts=() if _bridged(feature, detours) else tuple(_inside(part, barrier)),
        )
        for feature in features
        if feature.layer.casefold() in _ROADS and isinstance(feature.geometry, LineString | MultiLineString)
        for part in shapely.get_parts(_to_grid(feature.geometry, projection)).tolist()
        if part.length > _SAME
    ]


def _bridged(feature: ContextFeature, detours: str) -> bool:
    bridge = feature.properties.get("bridge", "").casefold()
    named = bool(feature.name.strip()) and feature.name.casefold() in detours
    forded = any(name.startswith("ford") for name, text in feature.properties.items() if text)
    return named or forded or bridge not in {"", "no", "false", "0"}


def _limit(feature: ContextFeature) -> str:
    tons = feature.properties.get("ford_tons", "")
    return f"{tons}-ton ford" if tons else feature.properties.get("limit", "")


def _inside(shape: LineString, barrier: shapely.Geometry) -> Iterable[tuple[float, float]]:
    """Stretches of a line that lie in, or cross, a barrier, as distances along it."""
    common = shape.intersection(barrier)
    for part in shapely.get_parts(common).tolist():
        ends = [shape.project(shapely.Point(point)) for point in shapely.get_coordinates(part)]
        if ends:
            yield min(ends) - _SAME, max(ends) + _SAME


def _breaks(
    figures: Figures, barriers: Sequence[tuple[str, shapely.Geometry]], barred: Sequence[Crossing]
) -> Iterable[Break]:
    for index, line in enumerate(figures.lines):
        route = LineString(np.column_stack([line.centreline.easting, line.centreline.northing]))
        drawn = [
            Break(line=index, low=low, high=high, what=layer)
            for layer, shape in barriers
            for low, high in _inside(route, shape)
        ]
        yield from drawn
        for crossing in barred:
            place = _place(figures, index, crossing)
            # a shape of the same thing knows better where it lies
            if place and not any(one.low <= place[1] and place[0] <= one.high for one in drawn):
                yield Break(line=index, low=place[0], high=place[1], what=crossing.what)


def _place(figures: Figures, index: int, crossing: Crossing) -> tuple[float, float] | None:
    """Grid distances a crossing lies between: at its true distance, else somewhere in its span."""
    line = figures.lines[index]
    if crossing.line.casefold() not in {"", line.name.casefold()}:
        return None
    if crossing.true_distance is not None:
        at = crossing.true_distance * line.combined_factor
        return at - _SAME, at + _SAME
    ends = [
        float(figures.true_distance[row]) * line.combined_factor
        for row in np.flatnonzero(figures.line_index == index).tolist()
        if figures.structures.number[row] in {crossing.back_structure, crossing.ahead_structure}
    ]
    return (min(ends) + _SAME, max(ends) - _SAME) if len(ends) == 2 else None


class _Web:
    """Gathers nodes and joins while a network is built."""

    def __init__(self, strands: Sequence[Strand], *, ground_m: float, barrier: shapely.Geometry) -> None:
        self.strands = tuple(strands)
        self.ground_m = ground_m
        self.barrier = barrier
        self.strand: list[IntArray] = []
        self.along: list[FloatArray] = []
        self.joins: list[tuple[int, int, float]] = []
        self.count = 0

    def add_structures(self, figures: Figures) -> IntArray:
        """Give each structure a node on the right of way of its line."""
        factor = figures.of_lines(lambda line: line.combined_factor)
        self._extend(figures.line_index, figures.true_distance * factor)
        return np.arange(len(figures), dtype=np.int64)

    def join(self) -> None:
        """Join roads where they cross, and their loose ends to what is near."""
        shapes = np.array([strand.shape for strand in self.strands], dtype=object)
        tree = STRtree(shapes)
        roads = [index for index, strand in enumerate(self.strands) if strand.line < 0]
        for index in roads:
            for other in tree.query(shapes[index], predicate="intersects").tolist():
                if other < index:
                    self._cross(index, other)
            for end in (0.0, float(shapes[index].length)):
                self._join_end(tree, index, end)

    def network(self, structure_node: IntArray, breaks: tuple[Break, ...]) -> AccessNetwork:
        """Return what was gathered, both ways."""
        strand = np.concatenate(self.strand)
        along = np.concatenate(self.along)
        tail, head, length, piece = self._pieces(strand, along)
        return AccessNetwork(
            strands=self.strands,
            node_strand=strand,
            node_along=along,
            structure_node=structure_node,
            tail=np.concatenate([tail, head]),
            head=np.concatenate([head, tail]),
            length=np.concatenate([length, length]),
            piece_strand=np.concatenate([piece, piece]),
            breaks=breaks,
            ground_m=self.ground_m,
            barrier=self.barrier,
        )

    def _extend(self, strand: IntArray, along: FloatArray) -> None:
        self.strand.append(np.asarray(strand, dtype=np.int64))
        self.along.append(np.asarray(along, dtype=np.float64))
        self.count += len(along)

    def _node(self, strand: int, along: float) -> int:
        self._extend(np.array([strand]), np.array([along]))
        return self.count - 1

    def _cross(self, one: int, other: int) -> None:
        common = self.strands[one].shape.intersection(self.strands[other].shape)
        for point in shapely.get_coordinates(common):
            at = shapely.Point(point)
            nodes = [self._node(index, self.strands[index].shape.project(at)) for index in (one, other)]
            self.joins.append((nodes[0], nodes[1], 0.0))

    def _join_end(self, tree: STRtree, index: int, end: float) -> None:
        place = self.strands[index].shape.interpolate(end)
        found = tree.query(place, predicate="dwithin", distance=_JOIN_M / self.ground_m).tolist()
        others = [other for other in found if other != index]
        node = self._node(index, end)
        for is_road in (True, False):
            chosen = nearest_strand(self.strands, others, place, is_road=is_road)
            if chosen is not None:
                self._leg(node, place, chosen)

    def _leg(self, node: int, place: shapely.Point, chosen: tuple[int, float]) -> None:
        shape = self.strands[chosen[0]].shape
        foot = shape.project(place)
        if not LineString([place, shape.interpolate(foot)]).intersects(self.barrier):
            self.joins.append((node, self._node(chosen[0], foot), chosen[1] * self.ground_m))

    def _pieces(self, strand: IntArray, along: FloatArray) -> tuple[IntArray, IntArray, FloatArray, IntArray]:
        """Pieces between neighbouring nodes of each strand that touch no cut, and the joins."""
        order = np.lexsort((along, strand))
        tail, head = order[:-1], order[1:]
        driven = strand[tail] == strand[head]
        for index, each in enumerate(self.strands):
            for low, high in each.cuts:
                driven &= ~((strand[tail] == index) & (along[tail] < high) & (low < along[head]))
        tail, head = tail[driven], head[driven]
        joins = np.array(self.joins, dtype=np.float64).reshape(-1, 3)
        return (
            np.concatenate([tail, joins[:, 0].astype(np.int64)]),
            np.concatenate([head, joins[:, 1].astype(np.int64)]),
            np.concatenate([(along[head] - along[tail]) * self.ground_m, joins[:, 2]]),
            np.concatenate([strand[tail], np.full(len(joins), -1, dtype=np.int64)]),
        )
