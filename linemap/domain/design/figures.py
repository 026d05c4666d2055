"""Every figure of every structure, computed once, as columns over a whole network of lines.

Stations, spans and offsets are horizontal ground lengths (grid / combined factor) in the unit of the CRS;
azimuths are grid azimuths. Deflection and arm azimuth come from the centreline at the structure; the turn
between neighbouring spans is computed beside it, and a disagreement is a finding
(`linemap.domain.survey.review`). What cannot belong together, structures and centrelines, is refused first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from linemap.domain.design.line import Line
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.design.structure import POLE_LETTERS, BoolArray, FloatArray, IntArray, Structures
from linemap.domain.finding.phrase import Called
from linemap.errors import InputRefused, Problem
from linemap.geometry.alignment import Network
from linemap.geometry.batches import even_batches, in_batches
from linemap.geometry.frame import ahead_right


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Figures:
    """Columns of one length, in line order: lines as given, structures by distance along their line."""

    lines: tuple[Line, ...]
    #: The structures, reordered into line order.
    structures: Structures
    #: Position of each row in the structure list it came from.
    order: IntArray
    #: Index into `lines`.
    line_index: IntArray
    #: Ground distance from the first vertex, signed beyond the ends.
    true_distance: FloatArray
    #: Posted station (start station and equations applied) and its region, counted from 1.
    station: FloatArray
    station_region: IntArray
    #: Ground offset from the centreline, right +; at a PI along the bisector's normal.
    offset: FloatArray
    #: Residual of the centre ahead of its PI along the bisector, ground; nan away from PIs.
    along_from_pi: FloatArray
    #: Ground spans between structure centres; nan at the ends of a line.
    back_span: FloatArray
    ahead_span: FloatArray
    wind_span: FloatArray
    #: Ruling span of the section ahead (of the last section at the last structure).
    ruling_span: FloatArray
    #: Number of the wire section of the span ahead, from 1 on each line.
    section: IntArray
    #: Turn of the centreline at the structure, right +, 0 away from PIs.
    deflection_deg: FloatArray
    #: Turn between the spans to the neighbouring centres, right +; nan at the ends.
    span_deflection_deg: FloatArray
    azimuth_back_deg: FloatArray
    azimuth_ahead_deg: FloatArray
    #: Azimuth the structure faces: bisector, square to a tangent, or explicit.
    structure_azimuth_deg: FloatArray
    #: Azimuth from pole A to pole B (to C on three-pole structures) of the design.
    arm_azimuth_deg: FloatArray
    longitude: FloatArray
    latitude: FloatArray
    grid_scale: FloatArray
    #: True azimuth = grid azimuth + convergence.
    convergence_deg: FloatArray
    combined_factor: FloatArray
    #: True where pole A stands left looking ahead.
    a_left: BoolArray
    #: Design positions of poles A, B, C: (n, 3, 2) grid easting, northing; nan = none or spacing unknown.
    poles: FloatArray
    #: True where the structure stands at a PI of the centreline.
    at_pi: BoolArray
    #: Vertex of that PI, -1 elsewhere.
    pi_vertex: IntArray
    #: Vertex of a PI beyond the usual reach that the structure may belong to, -1 = none; how far from it the
    #: structure stands, ground, and the PI's deflection (nan = none).
    near_pi_vertex: IntArray
    near_pi_apart: FloatArray
    near_pi_turn_deg: FloatArray
    #: True where what is known disagrees about that PI: nobody can tell which way the structure faces.
    pi_in_question: BoolArray
    before_start: BoolArray
    past_end: BoolArray
    #: Ground distance from the first vertex of another leg about as near; nan = none.
    competing_distance: FloatArray
    #: What the owner calls the poles.
    pole_words: PoleWords

    def __len__(self) -> int:
        return len(self.structures)

    @property
    def only_line(self) -> str:
        """Return the name of the line when there is one; "" when a structure needs its line named."""
        return self.lines[0].name if len(self.lines) == 1 else ""

    def line_of(self, row: int) -> Line:
        """Return the line a row stands on."""
        return self.lines[int(self.line_index[row])]

    def key(self, row: int) -> tuple[str, str]:
        """Return (line name, structure number) of a row."""
        return self.line_of(row).name, self.structures.number[row]

    def rows_by_key(self) -> dict[tuple[str, str], int]:
        """Return the row of every (line name, structure number), in line order."""
        return {key: row for row, key in enumerate(self.keys())}

    def letters_of(self, row: int) -> str:
        """Return the poles of a row's structure, "AB" or "ABC"."""
        return POLE_LETTERS[: int(self.structures.pole_count[row])]

    def called(self, row: int) -> Called:
        """Return what the owner calls the poles of a row's structure, by their letters."""
        return self.pole_words.called(int(self.structures.pole_count[row]))

    def outer_poles(self, row: int) -> str:
        """Name the outer poles of a row's structure: "A and B"."""
        letters, called = self.letters_of(row), self.called(row)
        return f"{called[letters[0]]} and {called[letters[-1]]}"

    def letters_by_key(self) -> dict[tuple[str, str], str]:
        """Return the poles of every structure by (line name, structure number)."""
        counts = self.structures.pole_count.tolist()
        return {key: POLE_LETTERS[:count] for key, count in zip(self.keys(), counts, strict=True)}

    def keys(self) -> list[tuple[str, str]]:
        """Return (line name, structure number) of every row, in line order."""
        names = [line.name for line in self.lines]
        return [
            (names[index], number)
            for index, number in zip(self.line_index.tolist(), self.structures.number, strict=True)
        ]

    def left_to_right(self, row: int) -> str:
        """Return the poles of a row's structure from left to right, looking ahead."""
        return self.letters_of(row)[:: 1 if self.a_left[row] else -1]

    def of_lines(self, value: Callable[[Line], float]) -> FloatArray:
        """Return (n,) what is asked of the line of each row."""
        return np.array([value(line) for line in self.lines], dtype=np.float64)[self.line_index]

    def miles(self, rows: slice = slice(None)) -> IntArray:
        """Return (n,) the line mile of rows (kilometre on metric lines) by true distance, from 1."""
        mile = np.array([line.unit.mile for line in self.lines])[self.line_index[rows]]
        whole: FloatArray = np.floor(self.true_distance[rows] / mile + 1e-9)
        return np.maximum(whole, 0.0).astype(np.int64) + 1

    @property
    def grid_metres(self) -> FloatArray:
        """(n,) Ground metres in one grid unit, at each structure."""
        return self.of_lines(lambda line: line.unit.metres) / self.combined_factor

    def centre_of(self, row: int) -> tuple[float, float]:
        """Return design easting and northing of a structure's centre, grid."""
        return float(self.structures.easting[row]), float(self.structures.northing[row])

    def pole_of(self, row: int, letter: str) -> tuple[float, float]:
        """Return design easting and northing of a pole, grid; nan when the structure has no such pole."""
        east, north = self.poles[row, POLE_LETTERS.index(letter)]
        return float(east), float(north)

    def in_frame(self, row: int, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return how far ahead and right of a structure's centre (m, 2) grid points lie, ground units."""
        moved = (points - self.centre_of(row)).T / self.combined_factor[row]
        return ahead_right(moved[0], moved[1], self.structure_azimuth_deg[row])

    def neighbour(self, row: int, step: int) -> int | None:
        """Return the row `step` structures ahead (+) or back (-) on the same line, None beyond its end."""
        other = row + step
        if 0 <= other < len(self) and self.line_index[other] == self.line_index[row]:
            return other
        return None


def network_of(lines: Sequence[Line]) -> Network:
    """Return the centrelines of the lines as one network, route index = position in `lines`."""
    counts = [len(line.centreline.easting) for line in lines]
    return Network.from_vertices(
        np.concatenate([line.centreline.easting for line in lines]),
        np.concatenate([line.centreline.northing for line in lines]),
        np.concatenate([[0], np.cumsum(counts)]),
    )


def line_index_of(lines: Sequence[Line], structures: Structures) -> IntArray:
    """Return the index into `lines` of each structure's line; of a single line, also where none is named.

    Raises
    ------
    InputRefused
        If a structure names a line that is not there.
    """
    position = {line.name.casefold(): index for index, line in enumerate(lines)}
    if len(lines) == 1:
        position[""] = 0
    names = structures.line
    heads = np.flatnonzero(
        np.append(True, names[1:] != names[:-1])[: len(names)]
    )  # lines mostly come in runs
    spelled = names[heads].tolist()
    known = {name: position.get(name.casefold(), -1) for name in set(spelled)}
    line_of_route = np.array([known[name] for name in spelled], dtype=np.int64)
    index = np.repeat(line_of_route, np.diff(heads, append=len(names)))
    unknown = np.flatnonzero(index < 0)
    if unknown.size:
        row = int(unknown[0])
        raise InputRefused(
            Problem(
                file=structures.source_file,
                row=int(structures.source_row[row]) or None,
                column="line",
                value=structures.line[row],
                reason=f"structure {structures.number[row]} names a line that has no centreline",
                remedy="load that line's centreline, or name one of: "
                + ", ".join(line.name for line in lines[:10]),
            )
        )
    return index


def refuse_wrong_place(lines: Sequence[Line], structures: Structures, line_index: IntArray) -> None:
    """Refuse structures more than the limit outside the bounding box of their own centreline.

    Raises
    ------
    InputRefused
        On the first of them; it tells how many there are.
    """
    limit = np.array([line.ground(line.limits.wrong_place_m) for line in lines])
    boxes = np.array([_box(line) for line in lines])

    def far_in(part: slice) -> IntArray:
        line = line_index[part]
        outside = _outside(boxes[line], structures.easting[part], structures.northing[part])
        return np.asarray(part.start + np.flatnonzero(outside > limit[line]))

    far = np.concatenate(in_batches(far_in, even_batches(len(structures))))
    if not far.size:
        return
    row = int(far[0])
    line = lines[line_index[row]]
    distance = _outside(boxes[line_index[row]], structures.easting[row], structures.northing[row])
    kilometres = distance * line.unit.metres / 1000
    raise InputRefused(
        Problem(
            file=structures.source_file,
            row=int(structures.source_row[row]) or None,
            column="easting, northing",
            value=f"{structures.easting[row]:.2f}, {structures.northing[row]:.2f}",
            reason=f"structure {structures.number[row]} stands {kilometres:,.0f} km from the centreline of "
            f"{line.name} ({far.size} of {len(structures)} structures do)",
            remedy="check the zone, the unit and the order of easting and northing of both files",
        )
    )


def refuse_doubling_back(lines: Sequence[Line], network: Network) -> None:
    """Refuse a centreline that turns back on itself: its vertices stand in a wrong order.

    Raises
    ------
    InputRefused
        At the first such vertex of `network`, made of `lines`.
    """
    doubled = network.doubled_back()
    if not doubled.size:
        return
    starts = np.cumsum([0, *(len(line.centreline.easting) for line in lines)])
    index = int(np.searchsorted(starts, doubled[0], side="right")) - 1
    centreline = lines[index].centreline
    vertex = int(doubled[0] - starts[index])
    raise InputRefused(
        Problem(
            file=centreline.source_file,
            value=f"{centreline.easting[vertex]:.2f}, {centreline.northing[vertex]:.2f}",
            reason=f"the centreline of {lines[index].name} doubles back at {centreline.name(vertex)}",
            remedy="put its points in order from the back end to the ahead end, or take the stray one out",
        )
    )


def _box(line: Line) -> tuple[float, float, float, float]:
    east, north = line.centreline.easting, line.centreline.northing
    return float(east.min()), float(north.min()), float(east.max()), float(north.max())


def _outside(box: FloatArray, easting: FloatArray, northing: FloatArray) -> FloatArray:
    """Distance of points outside their boxes (west, south, east, north along the last axis); 0 inside."""
    east = np.maximum(box[..., 0] - easting, easting - box[..., 2]).clip(0.0)
    north = np.maximum(box[..., 1] - northing, northing - box[..., 3]).clip(0.0)
    return np.asarray(np.hypot(east, north))
