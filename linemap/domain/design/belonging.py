"""Do structures and centrelines belong together: whose line is whose, and what is refused at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from linemap.domain.design.line import Line
from linemap.domain.design.structure import FloatArray, IntArray, Structures
from linemap.errors import InputRefused, Problem
from linemap.geometry.alignment import Network
from linemap.geometry.batches import even_batches, in_batches


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
