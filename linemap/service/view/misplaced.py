"""Coordinates that lie where they cannot be: farther from the line than it is long, or beside it as a list.

A list has one cause, however many structures it names: it is refused as one, with the distance and what its
coordinates are likely to mean. Shots that lie far are told with what speaks for them, and nothing is moved.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from linemap.domain.design.figures import Figures, network_of
from linemap.domain.design.line import Line
from linemap.domain.design.structure import BoolArray, FloatArray, Structures
from linemap.domain.survey.shot import Shot
from linemap.errors import Problem, Severity
from linemap.geometry.alignment import Network
from linemap.geometry.locate import FARTHEST
from linemap.geometry.projection import Projection
from linemap.io.cells.table import Loaded, RawTable
from linemap.service.view.coordinate_meaning import TRIED, Meaning, NamedPoint, PlacedFile

#: Shots that all lie farther than this from every line are of another job, metres.
_ANOTHER_JOB_M = 10_000.0
#: Exchanged shots come this near a line when they are of it, metres.
_OF_THE_LINE_M = 500.0
#: A list whose middle structure stands farther than this beside the line may be meant otherwise, metres.
_BESIDE_M = 0.3
#: Distances from here on are said in kilometres.
_KILOMETRES = 10.0
_SHOWN = 12
#: So many structures must be named for shots to be held against them.
_FEWEST = 3
#: Shots are moved alike when half lie within this of their structures then, metres: half a frame and more.
_ALIKE_M = 6.0


def misplaced_list(
    place: PlacedFile, points: FloatArray, lines: Sequence[Line], distance: FloatArray
) -> Iterator[Problem]:
    """Refuse a list of structures that lies beside its line as one: it has one cause."""
    away, words = float(np.median(distance)), (f"{len(points):,} structures", "the line")
    apart, far = partial(distance_from, lines=lines), reach(lines, place.projection)
    yield from _elsewhere(place, points, apart, away, far, words, named_points(lines))


#: So many points of a line are tried to be the one that a list is scaled about.
_NAMED = 50


def named_points(lines: Sequence[Line]) -> list[NamedPoint]:
    """Return the points of the routes that have a name: their ends and PIs."""
    return [
        (f"{line.centreline.name(i)} of {line.name}", east, north)
        for line in lines
        for i, (east, north) in enumerate(
            zip(line.centreline.easting.tolist(), line.centreline.northing.tolist(), strict=True)
        )
    ][:_NAMED]


def _elsewhere(
    place: PlacedFile,
    points: FloatArray,
    apart: Callable[[FloatArray], FloatArray],
    away: float,
    far: float,
    words: tuple[str, str],
    about: Sequence[NamedPoint] = (),
) -> Iterator[Problem]:
    """Refuse points half of which lie so far `away`, when that is `far` or another meaning brings them home.

    `words` are what they are and what they should lie at.
    """
    if away * place.projection.unit.metres < _BESIDE_M:
        return
    meaning = place.meaning(points, apart, about)
    if meaning is not None or away > far:
        yield _one_cause(place, *words, away, meaning)


def beside_line(figures: Figures, loaded: Loaded[Any], file: str, projection: Projection) -> list[Problem]:
    """Say of a list that was computed as it stands that it lies beside its line as one, and why.

    The offsets of its structures are figures; the cause goes before them.
    """
    off = np.abs(figures.offset[np.isfinite(figures.offset)])
    if not len(off) or float(np.median(off)) * projection.unit.metres < _BESIDE_M:
        return []
    points = np.column_stack([figures.structures.easting, figures.structures.northing])
    factors = {line.combined_factor for line in figures.lines}
    factor = factors.pop() if len(factors) == 1 else None
    place = PlacedFile(loaded=loaded, table=RawTable(file=file), projection=projection, factor=factor)
    found = misplaced_list(place, points, figures.lines, distance_from(points, figures.lines))
    remedy = "computed as it stands; correct the list before its figures are used"
    return [replace(each, remedy=remedy, severity=Severity.NOTED) for each in found]


def misplaced_routes(
    place: PlacedFile, lines: Sequence[Line], structures: Callable[[], Structures]
) -> Iterator[Problem]:
    """Refuse a centreline that lies elsewhere than the structures of its line, or than it did before."""
    before = {line.name.casefold(): line for line in lines}
    listed, routes = structures(), place.loaded.value.centrelines
    for name, route in routes.items():
        own = np.array([each.casefold() == name.casefold() for each in listed.line], dtype=np.bool_)
        stand = np.column_stack([listed.easting[own], listed.northing[own]])
        there = before.get(name.casefold())
        vertices = np.column_stack([route.easting, route.northing])
        if len(stand):
            apart, where = partial(_from_route, stand), "its structures"
            far = float(np.hypot(*np.ptp(stand, axis=0)))
        elif there is not None:
            apart, where = partial(distance_from, lines=[there]), "the line there was"
            far = float(network_of([there]).length[0])
        else:
            continue
        words = (f"{len(vertices):,} vertices of the centreline of {name}", where)
        yield from _elsewhere(place, vertices, apart, float(np.median(apart(vertices))), far, words)


def _one_cause(place: PlacedFile, what: str, where: str, away: float, meaning: Meaning | None) -> Problem:
    """Return the refusal of a whole list that lies elsewhere, with the reason that is likely."""
    projection = place.projection
    reason = f"{what}: half of them lie {shown(away, projection)} or more from {where}"
    remedy = "check the zone, the unit and the order of easting and northing of both files"
    if meaning is not None:
        within = shown(meaning.apart, projection)
        reason += f"; {meaning.words}, half lie within {within}"
        right = (
            "" if meaning.as_written else "; if the coordinates are right as they stand, --crs-of-file job"
        )
        remedy = f"{meaning.remedy}{right}"
    return Problem(file=place.table.file, reason=reason, remedy=remedy)


def far_points(place: PlacedFile, distance: FloatArray, what: str) -> Problem:
    """Return the question about context or control that lies far from every line; it is taken as it is."""
    away = shown(float(distance.min()), place.projection)
    return _of_this_job(place, f"every {what} lies {away} or more from every line")


def _of_this_job(place: PlacedFile, reason: str) -> Problem:
    remedy = "find out whether they are of this job"
    return Problem(file=place.table.file, reason=reason, remedy=remedy, severity=Severity.NOTED)


def shown(length: float, projection: Projection) -> str:
    """Return a grid length for people, long ones in kilometres.

    >>> shown(4.52, Projection.from_text("EPSG:6515")), shown(1e8, Projection.from_text("EPSG:6515"))
    ('4.52 ft', '30,480 km')
    """
    kilometres = length * projection.unit.metres / 1000.0
    return f"{kilometres:,.0f} km" if kilometres >= _KILOMETRES else f"{length:,.2f} {projection.unit.symbol}"


def reach(lines: Sequence[Line], projection: Projection) -> float:
    """Return how far from the lines is too far, grid: as far as they are long, more beside a short one."""
    return max(float(network_of(lines).length.max()), _OF_THE_LINE_M / projection.unit.metres)


def distance_from(points: FloatArray, lines: Sequence[Line]) -> FloatArray:
    """Return the distance of each point from the nearest line, grid."""
    return network_of(lines).apart(points)


def _from_route(points: FloatArray, vertices: FloatArray) -> FloatArray:
    if not (np.abs(vertices) < FARTHEST).all():
        return np.full(len(points), np.inf)
    return Network.from_vertices(vertices[:, 0], vertices[:, 1], [0, len(vertices)]).apart(points)


def spread(distance: FloatArray, projection: Projection) -> str:
    """Say from which to which distance points lie."""
    low, high = float(distance.min()), float(distance.max())
    return f"{low:,.1f} to {high:,.1f} {projection.unit.symbol}"


def misplaced_shots(
    place: PlacedFile,
    points: FloatArray,
    lines: Sequence[Line],
    distance: FloatArray,
    structures: Callable[[], Structures],
) -> Iterator[Problem]:
    """Tell shots that lie far from every line, as written or with northing and easting exchanged."""
    shots, projection = place.loaded.value, place.projection
    unit = projection.unit
    far = distance > min(_ANOTHER_JOB_M / unit.metres, reach(lines, projection))
    if not far.any():
        return
    turned = np.full(len(points), np.inf)
    turned[far] = distance_from(points[far][:, ::-1], lines)
    exchanged = far & (turned * unit.metres < _OF_THE_LINE_M)
    if bool(far.all()) and not exchanged.any():
        yield _far_as_one(place, points, lines, distance, turned, structures)
        return
    if exchanged.any():
        yield _exchanged(place, exchanged, distance, turned)
    rest = far & ~exchanged
    if rest.any():
        away = f"at least {distance[rest].min():,.0f} {unit.symbol} from every line"
        yield _of_this_job(place, f"{_rows(shots, rest)} {away}")


def _far_as_one(
    place: PlacedFile,
    points: FloatArray,
    lines: Sequence[Line],
    distance: FloatArray,
    turned: FloatArray,
    structures: Callable[[], Structures],
) -> Problem:
    """Return the refusal of shots that all lie far away, with what explains it and what then remains."""
    named = _labelled(place.loaded.value, points, structures())
    apart: Callable[[FloatArray], FloatArray] = partial(distance_from, lines=lines)
    some, where = points, "the line"
    if named is not None:
        some, where, apart = named.at, "the structures they name", named.apart
    meaning = place.meaning(some, apart) or (named.one_vector(place.projection) if named else None)
    if meaning is not None:
        off = float(np.median(apart(some)))
        return _one_cause(place, f"{len(points):,} shots", where, off, meaning)
    near, other = (shown(float(each.min()), place.projection) for each in (distance, turned))
    return Problem(
        file=place.table.file,
        reason=f"all {len(points):,} shots lie at least {near} from every line, with northing and easting "
        f"exchanged {other}; no unit, ground length or reference used around here explains it",
        remedy="load the shots of this job, or say the column order with --shot-order",
    )


class _Labelled(NamedTuple):
    """Shots that name a structure of the list, `TRIED` of them at most, and where these stand, (n, 2)."""

    at: FloatArray
    stand: FloatArray

    def apart(self, taken: FloatArray) -> FloatArray:
        """Return how far the shots, taken otherwise, lie from the structures they name."""
        return np.asarray(np.hypot(*(taken - self.stand).T))

    def one_vector(self, projection: Projection) -> Meaning | None:
        """Return what it means when all are moved alike; None = they are not."""
        vector = np.median(self.at - self.stand, axis=0)
        there = self.at - vector
        left = float(np.median(self.apart(there)))
        if left * projection.unit.metres > _ALIKE_M:
            return None
        unit = projection.unit.symbol
        return Meaning(
            words=f"all moved alike, dN {vector[1]:+,.1f}, dE {vector[0]:+,.1f} {unit}",
            remedy="check the base as it was typed in and the controller's false easting; export it again",
            points=there,
            apart=left,
        )


def _labelled(shots: Sequence[Shot], points: FloatArray, structures: Structures) -> _Labelled | None:
    """Return shots with the structures they name; None where fewer than three do."""
    count = Counter(structures.number.tolist())
    row = {number: i for i, number in enumerate(structures.number.tolist()) if count[number] == 1}
    pairs = [(i, row[shot.structure]) for i, shot in enumerate(shots) if shot.structure in row]
    if len({there for _, there in pairs}) < _FEWEST:
        return None
    chosen = np.linspace(0, len(pairs) - 1, min(len(pairs), TRIED)).astype(int)
    at, there = np.array(pairs, dtype=np.int64)[chosen].T
    return _Labelled(points[at], np.column_stack([structures.easting[there], structures.northing[there]]))


def _exchanged(place: PlacedFile, exchanged: BoolArray, distance: FloatArray, turned: FloatArray) -> Problem:
    symbol, far = place.projection.unit.symbol, distance[exchanged].min()
    order = " or load the file with --shot-order penzd" if bool(exchanged.all()) else ""
    return Problem(
        file=place.table.file,
        reason=f"{_rows(place.loaded.value, exchanged)} {far:,.0f} {symbol} or more from the line "
        f"as written, and {spread(turned[exchanged], place.projection)} with northing and easting exchanged; "
        "nothing is changed",
        remedy=f"decide it where the survey's causes are listed{order}",
        severity=Severity.NOTED,
    )


def _rows(shots: Sequence[Shot], which: BoolArray) -> str:
    rows = [shots[index].row for index in np.flatnonzero(which).tolist()]
    listed = ", ".join(map(str, rows[:_SHOWN])) + (", ..." if len(rows) > _SHOWN else "")
    return f"{len(rows):,} of {len(shots):,} shots (rows {listed}) lie"
