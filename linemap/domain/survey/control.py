"""Control points: monuments whose coordinates the job takes as known, against which a survey is checked."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

from linemap.domain.kind.kind import Cell, FieldError
from linemap.domain.kind.words import HEIGHT_WORDS, PLACE_WORDS, REMARKS_WORDS

#: Headings that only a list of control points has.
CONTROL_WORDS = (
    "controlpoint controlpt control controlname controlpointname controlno controlnumber ctrlpt ctrl cp "
    "cpname cpno monument monumentname mon benchmark benchmarkname bm bmname"
)
DATUM_WORDS = "datum horizontaldatum hdatum referenceframe frame adjustment realization datumepoch epoch"


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlPoint:
    """One monument as the list of control gives it.

    Everybody who reads the job may read it: a monument stands in the open, and whoever surveys the line
    needs its coordinates. What people wrote beside it is left out for the public, as everywhere.
    """

    #: Name in the list, which check-ins name it by: "CP-3".
    name: Annotated[str, Cell(f"{CONTROL_WORDS} pointname pointid pointno pointnumber point pt ptno name id")]
    #: Grid coordinates, CRS unit.
    easting: Annotated[float, Cell(PLACE_WORDS["easting"], way="place")]
    northing: Annotated[float, Cell(PLACE_WORDS["northing"], way="place")]
    #: Elevation, ground unit; None = not given.
    elevation: Annotated[float | None, Cell(HEIGHT_WORDS, unit="ground")] = None
    #: Standard deviation of the monument's own coordinates, per axis, ground unit; None = the job's default.
    sigma: Annotated[
        float | None,
        Cell(
            "sigma sd stdev stddev standarddeviation sigmah sigmaxy accuracy horizontalaccuracy uncertainty",
            unit="ground",
        ),
    ] = None
    #: Datum and epoch its coordinates are in, as written; "" = not given.
    datum: Annotated[str, Cell(DATUM_WORDS)] = ""
    #: Where the coordinates come from: "static session, sheet C-2".
    source: Annotated[str, Cell("source reference origin setby establishedby document sheet")] = ""
    note: Annotated[str, Cell(f"{REMARKS_WORDS} description desc", free=True, public=False)] = ""
    source_row: Annotated[int, Cell(way="row")] = 0

    def __post_init__(self) -> None:
        if self.sigma is not None and not (math.isfinite(self.sigma) and self.sigma > 0.0):
            raise FieldError(
                "sigma", "no standard deviation above 0", "leave the cell blank if none is known"
            )
