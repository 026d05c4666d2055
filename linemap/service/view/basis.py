"""The same length and the same direction on each basis they are given on, every one named."""

from __future__ import annotations

from linemap.geometry.lengths import line_lengths
from linemap.geometry.magnetic import Declination, format_magnetic
from linemap.service.view.view import JobView

__all__ = ["ahead_lengths_text", "arm_magnetic_text"]


def ahead_lengths_text(view: JobView, row: int) -> str:
    """Return the span ahead as grid, ground and geodesic length; "" at the end of a line.

    Ground is grid / combined factor of the line; geodesic is the shortest distance on the ellipsoid.
    """
    ahead = view.figures.neighbour(row, 1)
    if ahead is None:
        return ""
    structures = view.figures.structures
    line = view.figures.line_of(row)
    ends = [(structures.easting[at], structures.northing[at]) for at in (row, ahead)]
    found = line_lengths(view.projection, ends[0], ends[1], combined_factor=line.combined_factor)
    named = (("grid", found.grid), ("ground", found.ground), ("geodesic", found.geodesic))
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
