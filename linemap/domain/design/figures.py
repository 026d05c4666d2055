"""Every figure of every structure, computed once, as columns over a whole network of lines.

Stations, spans and offsets are horizontal ground lengths (grid / combined factor) in the unit of the CRS;
azimuths are grid azimuths. Deflection and arm azimuth come from the centreline at the structure; the turn
between neighbouring spans is computed beside it, and a disagreement is a finding
(`linemap.domain.survey.review`).
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from linemap.domain.design.line import Line
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray, Structures
from linemap.errors import InputRefused, Problem
from linemap.geometry.alignment import Network
from linemap.geometry.bearing import azimuth_deg, deflection_deg
from linemap.geometry.frame import arm_azimuth_deg, design_poles, structure_azimuth_deg
from linemap.geometry.geodesy import Projection
from linemap.geometry.locate import Located
from linemap.geometry.span import ruling_spans, sections, spans, wind_spans

__all__ = ["Figures", "figures", "network_of"]


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
    before_start: BoolArray
    past_end: BoolArray
    #: Ground distance from the first vertex of another leg about as near; nan = none.
    competing_distance: FloatArray

    def __len__(self) -> int:
        return len(self.structures)

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


def figures(lines: Sequence[Line], structures: Structures, *, projection: Projection) -> Figures:
    """Compute all figures of all structures of one or many lines.

    Parameters
    ----------
    lines : sequence of Line
        All in the CRS of `projection`; at least one.
    structures : Structures
        In any order; each names a line of `lines`.
    projection : Projection
        Coordinate reference of all grid coordinates.

    Raises
    ------
    InputRefused
        If a structure names an unknown line, or stands more than `Limits.wrong_place_m` from it, or a
        centreline doubles back on itself.
    """
    line_index = _line_index(lines, structures)
    factor = np.array([line.combined_factor for line in lines])[line_index]
    _refuse_wrong_place(lines, structures, line_index)
    network = network_of(lines)
    _refuse_doubling_back(lines, network)
    # PROJ runs beside the search for feet: each takes about half of the time, and neither holds the other up
    with ThreadPoolExecutor(max_workers=1) as pool:
        globe = pool.submit(projection.lonlat_and_factors, structures.easting, structures.northing)
        located = network.locate(
            structures.easting,
            structures.northing,
            line_index,
            pi_snap=max(line.ground(line.limits.pi_snap_m) * line.combined_factor for line in lines),
            competing_within=max(
                line.ground(line.limits.competing_m) * line.combined_factor for line in lines
            ),
        )
    order = np.lexsort((located.distance, line_index))
    return _assemble(
        tuple(lines),
        structures.take(order),
        order,
        line_index[order],
        factor[order],
        located.take(order),
        tuple(column[order] for column in globe.result()),
    )


def _line_index(lines: Sequence[Line], structures: Structures) -> IntArray:
    position = {line.name.casefold(): index for index, line in enumerate(lines)}
    if len(lines) == 1:
        position[""] = 0
    names = {name: position.get(name.casefold(), -1) for name in dict.fromkeys(structures.line)}
    index = np.fromiter(map(names.__getitem__, structures.line), dtype=np.int64, count=len(structures))
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


def _refuse_wrong_place(lines: Sequence[Line], structures: Structures, line_index: IntArray) -> None:
    """Refuse structures more than the limit outside the bounding box of their own centreline."""
    boxes = np.array([_box(line) for line in lines])[line_index]
    limit = np.array([line.ground(line.limits.wrong_place_m) for line in lines])[line_index]
    east = np.maximum(boxes[:, 0] - structures.easting, structures.easting - boxes[:, 2]).clip(0.0)
    north = np.maximum(boxes[:, 1] - structures.northing, structures.northing - boxes[:, 3]).clip(0.0)
    distance = np.hypot(east, north)
    far = np.flatnonzero(distance > limit)
    if not far.size:
        return
    row = int(far[0])
    line = lines[line_index[row]]
    kilometres = distance[row] * line.unit.metres / 1000
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


def _refuse_doubling_back(lines: Sequence[Line], network: Network) -> None:
    """Refuse a centreline that turns back on itself: its vertices stand in a wrong order."""
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


def _assemble(
    lines: tuple[Line, ...],
    structures: Structures,
    order: IntArray,
    line_index: IntArray,
    factor: FloatArray,
    located: Located,
    globe: tuple[FloatArray, ...],
) -> Figures:
    true_distance = located.distance / factor
    station, region = _post(lines, line_index, true_distance)
    back, ahead = spans(structures.easting, structures.northing, line_index, combined_factor=factor)
    azimuth = structure_azimuth_deg(
        located.azimuth_back_deg,
        located.azimuth_ahead_deg,
        rule=structures.rule,
        explicit=structures.explicit_azimuth,
    )
    a_left = np.array([line.pole_a == "left" for line in lines])[line_index]
    longitude, latitude, scale, convergence = globe
    return Figures(
        lines=lines,
        structures=structures,
        order=order,
        line_index=line_index,
        true_distance=true_distance,
        station=station,
        station_region=region,
        offset=located.offset / factor,
        along_from_pi=located.along_from_pi / factor,
        back_span=back,
        ahead_span=ahead,
        wind_span=wind_spans(back, ahead),
        ruling_span=ruling_spans(ahead, structures.section_break, line_index),
        section=sections(structures.section_break, line_index),
        deflection_deg=np.where(
            located.at_pi, deflection_deg(located.azimuth_back_deg, located.azimuth_ahead_deg), 0.0
        ),
        span_deflection_deg=_span_deflection(structures, line_index),
        azimuth_back_deg=located.azimuth_back_deg,
        azimuth_ahead_deg=located.azimuth_ahead_deg,
        structure_azimuth_deg=azimuth,
        arm_azimuth_deg=arm_azimuth_deg(azimuth, a_left),
        longitude=longitude,
        latitude=latitude,
        grid_scale=scale,
        convergence_deg=convergence,
        combined_factor=factor,
        a_left=a_left,
        poles=design_poles(
            structures.easting,
            structures.northing,
            structure_azimuth_deg=azimuth,
            spacing=structures.spacing * factor,
            pole_count=structures.pole_count,
            a_left=a_left,
        ),
        at_pi=located.at_pi,
        pi_vertex=located.pi_vertex,
        before_start=located.before_start,
        past_end=located.past_end,
        competing_distance=located.competing_distance / factor,
    )


def _post(
    lines: tuple[Line, ...], line_index: IntArray, true_distance: FloatArray
) -> tuple[FloatArray, IntArray]:
    """Post stations line by line; rows are in line order, so each line is one slice."""
    station = np.empty_like(true_distance)
    region = np.empty(len(true_distance), dtype=np.int64)
    bounds = np.searchsorted(line_index, np.arange(len(lines) + 1))
    for index, line in enumerate(lines):
        part = slice(bounds[index], bounds[index + 1])
        station[part], region[part] = line.stationing.post(true_distance[part])
    return station, region


def _span_deflection(structures: Structures, line_index: IntArray) -> FloatArray:
    """Turn at each centre between the directions from the back and to the ahead centre; nan at line ends."""
    turn = np.full(len(structures), np.nan)
    if len(structures) < 3:
        return turn
    azimuth = azimuth_deg(np.diff(structures.easting), np.diff(structures.northing))
    inner = (line_index[2:] == line_index[1:-1]) & (line_index[:-2] == line_index[1:-1])
    turn[1:-1] = np.where(inner, deflection_deg(azimuth[:-1], azimuth[1:]), np.nan)
    return turn
