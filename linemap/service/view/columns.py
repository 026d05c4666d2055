"""The result table: one row a structure, with the names and signs that scripts may rely on.

Signs: deflection right +, offset and across right +, along ahead +, rotation clockwise + (after a reversal
is taken out). An empty cell means not available; it is never 0 for unknown.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import FloatArray, ObjectArray
from linemap.domain.finding.ledger import Ledger
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.verdict import Checks
from linemap.geometry.bearing import format_deflection
from linemap.geometry.projection import Projection
from linemap.geometry.station import format_stations
from linemap.io.output.table import Points

Column = NDArray[np.generic]


def result_columns(
    figures: Figures,
    set_poles: SetPoles,
    checks: Checks,
    ledger: Ledger,
    *,
    weight_span: FloatArray | None = None,
) -> dict[str, Column]:
    """Return the result table as named columns in their order.

    Columns of pole C are left out when no structure has three poles, and the weight span when it is None: no
    catenary constant is declared then. Findings are joined by "; " into the row of their structure; those
    about a whole line stay out of the table.
    """
    structures = figures.structures
    columns: dict[str, Column] = {
        "line": np.array([figures.lines[index].name for index in figures.line_index], dtype=object),
        "structure": structures.number,
        "station": figures.station,
        "station_text": station_texts(figures),
        "station_region": figures.station_region,
        "offset": figures.offset,
        "back_span": figures.back_span,
        "ahead_span": figures.ahead_span,
        "wind_span": figures.wind_span,
        **({} if weight_span is None else {"weight_span": weight_span}),
        "ruling_span": figures.ruling_span,
        "deflection_deg": figures.deflection_deg,
        "deflection_text": _deflection_texts(figures),
        "span_deflection_deg": figures.span_deflection_deg,
        "structure_azimuth_deg": figures.structure_azimuth_deg,
        "arm_azimuth_deg": figures.arm_azimuth_deg,
        "convergence_deg": figures.convergence_deg,
        "grid_scale": figures.grid_scale,
        "easting": structures.easting,
        "northing": structures.northing,
        "longitude": figures.longitude,
        "latitude": figures.latitude,
        "pole_spacing": structures.spacing,
        **pole_columns("pole", figures.poles),
        **pole_columns("set", set_poles.position),
        "verdict": np.array([str(verdict) for verdict in checks.verdict], dtype=object),
        "reversed": checks.reversed,
        "swapped": checks.reversed,
        "rotation_deg": checks.rotation_deg,
        "rotation_sigma_deg": checks.rotation_sigma_deg,
        "along": checks.along,
        "across": checks.across,
        "spacing_error": checks.spacing_error,
        "probability_in_tolerance": checks.probability_in_tolerance,
        "findings": _finding_texts(figures, ledger),
    }
    return without_third(columns, figures)


def without_third(columns: dict[str, Column], figures: Figures) -> dict[str, Column]:
    """Return columns without those of pole C, where no structure has three poles."""
    if (figures.structures.pole_count == 3).any():
        return columns
    return {name: column for name, column in columns.items() if "_c_" not in name}


def result_points(figures: Figures, projection: Projection) -> Points:
    """Return where the rows of the result table stand, for the formats with geometry."""
    return Points(
        easting=figures.structures.easting,
        northing=figures.structures.northing,
        longitude=figures.longitude,
        latitude=figures.latitude,
        crs=projection.text,
    )


def station_texts(figures: Figures) -> ObjectArray:
    """Return the posted stations as text, in the format of each structure's line."""
    texts = np.empty(len(figures), dtype=object)
    for index, line in enumerate(figures.lines):
        rows = np.flatnonzero(figures.line_index == index)
        texts[rows] = format_stations(
            figures.station[rows], per_plus=line.unit.per_plus, decimals=line.station_decimals
        )
    return texts


def _deflection_texts(figures: Figures) -> ObjectArray:
    texts = np.full(len(figures), "", dtype=object)
    for row in np.flatnonzero(figures.at_pi):
        texts[row] = format_deflection(float(figures.deflection_deg[row]))
    return texts


def pole_columns(prefix: str, positions: NDArray[np.float64]) -> dict[str, Column]:
    """Return easting and northing of poles A, B and C as columns, from (n, 3, 2) positions."""
    return {
        f"{prefix}_{letter}_{axis}": positions[:, pole, coordinate]
        for pole, letter in enumerate("abc")
        for coordinate, axis in enumerate(("easting", "northing"))
    }


def _finding_texts(figures: Figures, ledger: Ledger) -> ObjectArray:
    texts = np.full(len(figures), "", dtype=object)
    for row in ledger.rows_on("export").tolist():
        texts[row] = "; ".join(finding.words for finding in ledger.on("export", row))
    return texts
