"""What a job is written as: pages, files and paper. Here are the names of the forms, which load no writer."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal, get_args


class ExportFormat(StrEnum):
    """What a job can be written as."""

    SNAPSHOT = "snapshot"
    CSV = "csv"
    XLSX = "xlsx"
    GEOJSON = "geojson"
    GPKG = "gpkg"
    PARQUET = "parquet"


Sheet = Literal["briefing", "card", "closeout", "exceptions", "marks", "report", "staking", "strip", "wall"]
#: Names of the sheets.
SHEETS: tuple[str, ...] = get_args(Sheet)

Paper = Literal["letter", "a4"]
