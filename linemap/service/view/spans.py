"""Spans and directions on each basis they are given on, and the wire each structure carries.

Weight spans take a catenary constant a person declares; without one there are none. Attachments are taken at
the arm bolts as framed, strings of one length; where no structure of the job has a known arm, at the ground
at the centres, which takes attachments of one height. The words say which.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from linemap.domain.design.line import NO_CATENARY
from linemap.domain.design.structure import FloatArray
from linemap.geometry.magnetic import Declination, format_magnetic
from linemap.geometry.projection import grid_to_ground
from linemap.geometry.span import weight_spans
from linemap.service.view.marks import arm_elevation
from linemap.service.view.view import JobView


def ahead_lengths_text(view: JobView, row: int) -> str:
    """Return the span ahead as grid, ground and geodesic length; "" at the end of a line.

    Ground is grid / combined factor of the line; geodesic is the shortest distance on the ellipsoid.
    """
    ahead = view.figures.neighbour(row, 1)
    if ahead is None:
        return ""
    structures = view.figures.structures
    line = view.figures.line_of(row)
    start, end = ((structures.easting[at], structures.northing[at]) for at in (row, ahead))
    grid = np.hypot(*np.subtract(end, start))
    ground = grid_to_ground(grid, line.combined_factor)
    named = (("grid", grid), ("ground", ground), ("geodesic", view.projection.geodesic_length(start, end)))
    decimals, symbol = line.station_decimals, line.unit.symbol
    return ", ".join(f"{name} {float(length):,.{decimals}f} {symbol}" for name, length in named)


def arm_magnetic_text(view: JobView, row: int) -> str:
    """Return the magnetic azimuth of the arm, A to B, on the day shown; "" where the model does not hold.

    Trucks, poles' hardware and energized wires turn a needle: neighbours' names come first.
    """
    figures = view.figures
    try:
        north = Declination.at(float(figures.longitude[row]), float(figures.latitude[row]), on=view.as_of)
    except ValueError:
        return ""
    azimuth = north.magnetic_of_grid_deg(
        float(figures.arm_azimuth_deg[row]), convergence_deg=float(figures.convergence_deg[row])
    )
    return format_magnetic(azimuth, north)


_ARM = "arm bolts as framed, strings of one length"
_GROUND = "ground at the centres, attachments of one height taken"


def weight_spans_of(view: JobView) -> FloatArray | None:
    """Return the weight span of every structure, ground unit; nan = an attachment is not known.

    None when no catenary constant is declared.
    """
    if view.catenary is None:
        return None
    heights, _ = _attachments(view, range(len(view.figures)))
    return weight_spans(view.figures.back_span, view.figures.ahead_span, heights, view.catenary.constant)


def weight_span_text(view: JobView, row: int) -> str:
    """Print the weight span of one structure with what it stands on, or why there is none."""
    if view.catenary is None:
        return NO_CATENARY
    near = [other for step in (-1, 1) if (other := view.figures.neighbour(row, step)) is not None]
    rows = sorted([row, *near])
    heights, words = _attachments(view, rows)
    unknown = [view.key(each)[1] for each in rows if np.isnan(heights[each])]
    if unknown:
        return f"not available: no attachment elevation at {', '.join(unknown)}"
    spans = weight_spans(view.figures.back_span, view.figures.ahead_span, heights, view.catenary.constant)
    unit = view.figures.line_of(row).unit.symbol
    uplift = "; below 0: the wire pulls up" if spans[row] < 0.0 else ""
    return f"{spans[row]:,.2f} {unit} ({words}; {view.catenary.words(unit)}{uplift})"


def _attachments(view: JobView, rows: Iterable[int]) -> tuple[FloatArray, str]:
    """Return the attachment elevations of some rows, nan elsewhere, and what they are."""
    heights = np.full(len(view.figures), np.nan)
    for row in rows:
        heights[row] = arm_elevation(view, row)
    if not view.framing:
        return view.figures.structures.elevation, _GROUND
    return heights, _ARM
