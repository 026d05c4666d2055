"""The combined factor of a line from grid scale and elevations."""

from __future__ import annotations

import numpy as np

from linemap.domain.design.structure import Structures
from linemap.errors import InputRefused, Problem
from linemap.geometry.lengths import combined_factor, elevation_factor
from linemap.geometry.projection import Projection
from linemap.service.job.rules import AUTO

__all__ = ["mean_factor"]


def mean_factor(name: str, structures: Structures, projection: Projection) -> float:
    """Return the mean of grid scale times elevation factor over a line's structures with an elevation.

    Elevations are taken as heights above the ellipsoid: a geoid height of -60 ft left out changes the factor
    by 3 parts in a million, which is why a vertical datum must be declared with it.

    Parameters
    ----------
    name : str
        Line name.
    structures : Structures
        Of all lines.
    projection : Projection

    Raises
    ------
    InputRefused
        If no structure of the line has an elevation.
    """
    mine = np.array([line.casefold() == name.casefold() for line in structures.line], dtype=np.bool_)
    known = mine & np.isfinite(structures.elevation)
    if not known.any():
        raise InputRefused(
            Problem(
                file=structures.source_file,
                column="--combined-factor",
                value=AUTO,
                reason=f"needs the ground elevation of structures, and line {name} has none",
                remedy="add an elevation column, or give the factor as a number",
            )
        )
    scale, _ = projection.factors_at(structures.easting[known], structures.northing[known])
    height = elevation_factor(structures.elevation[known], projection.unit)
    return float(np.mean(combined_factor(scale, height)))
