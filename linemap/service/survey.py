"""The surveyor's exception table: what was surveyed and needs a person."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linemap.domain.orientation import Verdict
from linemap.service.columns import station_texts
from linemap.service.view import JobView, build_view
from linemap.store.database import Database

__all__ = ["check_rows", "rows_of_view"]


def check_rows(database: Database, *, today: dt.date, everything: bool = False) -> list[dict[str, Any]]:
    """Return one row for every surveyed structure that needs the surveyor, in line order.

    Parameters
    ----------
    database : Database
    today : datetime.date
        The clock of the caller.
    everything : bool
        List the surveyed structures that passed without a finding too.

    Returns
    -------
    list of dict
        "line", "structure", "station", "verdict", "reversed", "rotation", "along", "across", "spacing",
        "probability", "findings" (list of sentences); residuals as text with their sigma, "" = not available.

    Raises
    ------
    NotFound
        If the job has no structures yet.
    """
    return rows_of_view(build_view(database, today=today), everything=everything)


def rows_of_view(view: JobView, *, everything: bool) -> list[dict[str, Any]]:
    """Return the exception rows of a computed job; see `check_rows`."""
    checks = view.checks
    surveyed = np.array([verdict != Verdict.NOT_SURVEYED for verdict in checks.verdict])
    passed = np.array([verdict == Verdict.PASS for verdict in checks.verdict])
    told = np.isin(np.arange(len(passed)), [*_rows_with_survey_findings(view)])
    wanted = (surveyed | told) if everything else ((surveyed & ~passed) | told)
    stations = station_texts(view.figures)
    return [_row(view, int(row), str(stations[row])) for row in np.flatnonzero(wanted)]


def _rows_with_survey_findings(view: JobView) -> set[int]:
    """Rows that a finding on shots or checks names; findings on the design are not the surveyor's table."""
    found = (*view.set_poles.findings, *view.checks.findings)
    keys = {(finding.line, finding.structure) for finding in found}
    return {row for key, row in view.row_of.items() if key in keys}


def _row(view: JobView, row: int, station: str) -> dict[str, Any]:
    checks = view.checks
    line, number = view.key(row)
    unit = view.figures.lines[view.figures.line_index[row]].unit.symbol
    probability = float(checks.probability_in_tolerance[row])
    keys = {finding.words for finding in (*view.set_poles.findings, *view.checks.findings)}
    words = [finding.words for finding in view.findings_by_row.get(row, []) if finding.words in keys]
    return {
        "line": line,
        "structure": number,
        "station": station,
        "verdict": str(checks.verdict[row]),
        "reversed": bool(checks.reversed[row]),
        "rotation": _text(checks.rotation_deg, checks.rotation_sigma_deg, row, "°"),
        "along": _text(checks.along, checks.along_sigma, row, f" {unit}"),
        "across": _text(checks.across, checks.across_sigma, row, f" {unit}"),
        "spacing": _text(checks.spacing_error, checks.spacing_sigma, row, f" {unit}"),
        "probability": None if np.isnan(probability) else round(probability, 4),
        "findings": words,
    }


def _text(values: NDArray[np.float64], sigmas: NDArray[np.float64], row: int, sign: str) -> str:
    if np.isnan(values[row]):
        return ""
    return f"{values[row]:+.2f} ± {sigmas[row]:.2f}{sign}"
