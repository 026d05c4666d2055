"""Compute the figures of every structure from lines and lists, as columns over a whole network of lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.figures import (
    Figures,
    line_index_of,
    network_of,
    refuse_doubling_back,
    refuse_wrong_place,
)
from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.near_pi import Evidence, take_pis
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.design.structure import (
    BoolArray,
    FloatArray,
    IntArray,
    ObjectArray,
    Structures,
)
from linemap.geometry.batches import Columns, batches, in_batches, in_place
from linemap.geometry.bearing import azimuth_deg, deflection_deg
from linemap.geometry.frame import ArmRule, arm_azimuth_deg, design_poles, structure_azimuth_deg
from linemap.geometry.locate import Located, Locator
from linemap.geometry.projection import Projection, combined_factor, elevation_factor
from linemap.geometry.segments import Points
from linemap.geometry.span import ruling_spans, sections, spans, wind_spans
from linemap.geometry.station import Stationing


def figures(lines: Sequence[Line], structures: Structures, *, projection: Projection) -> Figures:
    """Compute all figures of all structures of one or many lines, all in the CRS of `projection`.

    Structures may stand in any order; each names one of the lines. There may be none of either.

    Raises
    ------
    InputRefused
        If a structure names an unknown line, or stands more than `Limits.wrong_place_m` from it, or a
        centreline doubles back on itself.
    """
    if not lines and not len(structures):
        return replace(figures([some_line(projection)], structures, projection=projection), lines=())
    line_index = line_index_of(lines, structures)
    refuse_wrong_place(lines, structures, line_index)
    network = network_of(lines)
    refuse_doubling_back(lines, network)
    in_order = bool(np.all(line_index[1:] >= line_index[:-1]))
    rows = np.arange(len(structures)) if in_order else np.argsort(line_index, kind="stable")
    work = _Work(
        lines=tuple(lines),
        structures=structures,
        rows=rows,
        line_index=line_index,
        factor=np.array([line.combined_factor for line in lines]),
        a_left=np.array([line.pole_a == "left" for line in lines]),
        locator=network.locator(
            pi_snap=max(line.ground(line.limits.pi_snap_m) * line.combined_factor for line in lines),
            competing_within=max(
                line.ground(line.limits.competing_m) * line.combined_factor for line in lines
            ),
        ),
        projection=projection,
    )
    found = Columns(size=len(structures))
    by_line = np.searchsorted(line_index[rows], np.arange(len(lines) + 1))
    in_batches(lambda part: found.put(part, work.columns(part)), batches(by_line))
    order = found.whole["order"]
    ordered = structures.take(order) if isinstance(in_place(order), np.ndarray) else structures
    return Figures(lines=work.lines, structures=ordered, pole_words=PoleWords(), **found.whole)


def some_line(projection: Projection) -> Line:
    """Return some line: columns of no rows are the same whatever it is."""
    return Line(
        name="",
        crs=projection.text,
        unit=projection.unit,
        centreline=Centreline.from_points(np.array([[0.0, 0.0], [1.0, 0.0]])),
        stationing=Stationing.from_pairs(0.0, []),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Work:
    """What is the same for every batch of whole lines, and what is computed of one."""

    lines: tuple[Line, ...]
    #: As given, like `line_index`.
    structures: Structures
    line_index: IntArray
    #: The rows of `structures` with those of a line together, lines as given.
    rows: IntArray
    #: Of each line.
    factor: FloatArray
    a_left: BoolArray
    locator: Locator
    projection: Projection

    def columns(self, part: slice) -> dict[str, NDArray[Any]]:
        """Return the columns of `Figures` of the lines that have the `part` of `rows`, in line order."""
        rows = in_place(self.rows[part])
        line = self.line_index[rows]
        points = Points(
            easting=self.structures.easting[rows], northing=self.structures.northing[rows], route=line
        )
        globe = self.projection.lonlat_and_factors(points.easting, points.northing)
        located = self.locator.locate(points)
        order = in_place(_line_order(line, located.distance))
        longitude, latitude, scale, convergence = (column[order] for column in globe)
        return {
            "longitude": longitude,
            "latitude": latitude,
            "grid_scale": scale,
            "convergence_deg": convergence,
            **self._assembled(self.rows[part][order], line, located.take(order), points.at(order)),
        }

    def _assembled(
        self, order: IntArray, line: IntArray, located: Located, points: Points
    ) -> dict[str, NDArray[Any]]:
        """Return all but the columns of the globe; `line` is the same in line order."""
        given = _Given.of(self.structures, in_place(order))
        factor, a_left = self.factor[line], self.a_left[line]
        back, ahead = spans(given.easting, given.northing, line, combined_factor=factor)
        span_turn = _span_deflection(given, line)
        known = Evidence(
            back_span=back * factor,
            ahead_span=ahead * factor,
            span_turn_deg=span_turn,
            listed=given.given_deflection,
            explicit=given.rule == ArmRule.AZIMUTH,
        )
        near = take_pis(self.locator, points, located, known)
        true_distance = located.distance / factor
        station, region = _post(self.lines, line, true_distance)
        azimuth = structure_azimuth_deg(
            located.azimuth_back_deg,
            located.azimuth_ahead_deg,
            rule=given.rule,
            explicit=given.explicit_azimuth,
        )
        return {
            "order": order,
            "line_index": line,
            "true_distance": true_distance,
            "station": station,
            "station_region": region,
            "offset": located.offset / factor,
            "along_from_pi": located.along_from_pi / factor,
            "back_span": back,
            "ahead_span": ahead,
            "wind_span": wind_spans(back, ahead),
            "ruling_span": ruling_spans(ahead, given.section_break, line),
            "section": sections(given.section_break, line),
            "deflection_deg": _deflection(located),
            "span_deflection_deg": span_turn,
            "azimuth_back_deg": located.azimuth_back_deg,
            "azimuth_ahead_deg": located.azimuth_ahead_deg,
            "structure_azimuth_deg": azimuth,
            "arm_azimuth_deg": arm_azimuth_deg(azimuth, a_left),
            "combined_factor": factor,
            "a_left": a_left,
            "poles": design_poles(
                given.easting,
                given.northing,
                structure_azimuth_deg=azimuth,
                spacing=given.spacing * factor,
                pole_count=given.pole_count,
                a_left=a_left,
            ),
            "at_pi": located.at_pi,
            "pi_vertex": located.pi_vertex,
            "near_pi_vertex": near.vertex,
            "near_pi_apart": near.apart / factor,
            "near_pi_turn_deg": near.turn_deg,
            "pi_in_question": near.in_question,
            "before_start": located.before_start,
            "past_end": located.past_end,
            "competing_distance": located.competing_distance / factor,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Given:
    """Some rows of the columns of `Structures` that figures are computed from."""

    easting: FloatArray
    northing: FloatArray
    spacing: FloatArray
    pole_count: IntArray
    rule: IntArray
    explicit_azimuth: FloatArray
    section_break: BoolArray
    given_deflection: ObjectArray

    @classmethod
    def of(cls, structures: Structures, rows: IntArray | slice) -> _Given:
        return cls(**{field.name: getattr(structures, field.name)[rows] for field in fields(cls)})


def _line_order(line: IntArray, distance: FloatArray) -> IntArray:
    """Return the order of rows, already together by line, by distance along their line."""
    if np.all((line[1:] > line[:-1]) | (distance[1:] >= distance[:-1])):
        return np.arange(len(line))
    return np.lexsort((distance, line))


def _deflection(located: Located) -> FloatArray:
    """Turn of the centreline at the structures that stand at a PI; 0 elsewhere."""
    turn = np.zeros(len(located.at_pi))
    rows = np.flatnonzero(located.at_pi)
    turn[rows] = deflection_deg(located.azimuth_back_deg[rows], located.azimuth_ahead_deg[rows])
    return turn


def _post(
    lines: tuple[Line, ...], line_index: IntArray, true_distance: FloatArray
) -> tuple[FloatArray, IntArray]:
    """Post stations line by line; rows are in line order, so each line is one slice."""
    station = np.empty_like(true_distance)
    region = np.empty(len(true_distance), dtype=np.int64)
    heads = np.flatnonzero(np.diff(line_index, prepend=-1)).tolist()
    for begin, end in pairwise([*heads, len(line_index)]):
        posted = lines[line_index[begin]].stationing.post(true_distance[begin:end])
        station[begin:end], region[begin:end] = posted
    return station, region


def _span_deflection(given: _Given, line_index: IntArray) -> FloatArray:
    """Turn at each centre between the directions from the back and to the ahead centre; nan at line ends."""
    turn = np.full(len(line_index), np.nan)
    if len(line_index) < 3:
        return turn
    azimuth = azimuth_deg(np.diff(given.easting), np.diff(given.northing))
    inner = (line_index[2:] == line_index[1:-1]) & (line_index[:-2] == line_index[1:-1])
    turn[1:-1] = np.where(inner, deflection_deg(azimuth[:-1], azimuth[1:]), np.nan)
    return turn


def mean_factor(name: str, structures: Structures, projection: Projection) -> float | None:
    """Return the mean of grid scale times elevation factor over a line's structures with an elevation.

    Elevations are taken as heights above the ellipsoid: a geoid height of -60 ft left out changes the factor
    by 3 parts in a million, which is why a vertical datum must be declared with it. None = the line has no
    structure with an elevation.
    """
    mine = np.array([line.casefold() == name.casefold() for line in structures.line], dtype=np.bool_)
    known = mine & np.isfinite(structures.elevation)
    if not known.any():
        return None
    scale, _ = projection.factors_at(structures.easting[known], structures.northing[known])
    height = elevation_factor(structures.elevation[known], projection.unit)
    return float(np.mean(combined_factor(scale, height)))
