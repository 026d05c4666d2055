"""What a panel says of a structure as it stands: verdict, residuals with tolerances, likely cause."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from linemap.answers import structure as answer
from linemap.domain.survey.words import residual_words
from linemap.service.view.view import JobView

__all__ = ["cause_of", "numbers_of", "verdict_of"]


def verdict_of(view: JobView, row: int) -> dict[str, Any]:
    """Return the verdict of the orientation check with its probability and its residuals in words."""
    probability = float(view.checks.probability_in_tolerance[row])
    return {
        "verdict": str(view.checks.verdict[row]),
        "reversed": bool(view.checks.reversed[row]),
        "probability": None if math.isnan(probability) else round(probability, 4),
        "residuals": list(residual_words(view.figures, view.checks, row)),
    }


def cause_of(view: JobView, row: int) -> answer.PanelCause | None:
    """Return the explanation of the structure's exception, proposed and not applied; None without one."""
    line, number = view.key(row)
    for cause in view.causes:
        if number in cause.structures and cause.line in ("", line):
            return answer.PanelCause(words=cause.words, moment=cause.moment, asks_for=cause.asks_for)
    return None


def numbers_of(view: JobView, row: int) -> list[answer.Number]:
    """List the measured residuals with sigma, tolerance and where the tolerance comes from."""
    checks, tolerances = view.checks, view.tolerances
    line = view.figures.line_of(row)
    angle = bool(view.figures.deflection_deg[row] or view.figures.structures.section_break[row])
    unit = line.unit.symbol
    along = tolerances.along_angle if angle else tolerances.along_tangent
    table = (
        ("rotation", checks.rotation_deg[row], checks.rotation_sigma_deg[row], tolerances.rotation_deg, "°"),
        ("along", checks.along[row], checks.along_sigma[row], along, f" {unit}"),
        ("across", checks.across[row], checks.across_sigma[row], tolerances.across, f" {unit}"),
        ("spacing", checks.spacing_error[row], checks.spacing_sigma[row], tolerances.spacing, f" {unit}"),
        (
            "middle pole off line A-C",
            checks.collinearity[row],
            checks.collinearity_sigma[row],
            tolerances.collinearity,
            f" {unit}",
        ),
    )
    return [
        answer.Number(
            name=name,
            value_text=f"{value:+.2f}{sign}",
            sigma_text="" if np.isnan(sigma) else f"± {sigma:.2f}{sign}",
            tolerance_text=f"± {tolerance.value:.2f}{sign}",
            tolerance_source=tolerance.source,
        )
        for name, value, sigma, tolerance, sign in table
        if not np.isnan(value)
    ]
