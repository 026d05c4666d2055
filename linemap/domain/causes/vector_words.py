"""What a law that moves a whole file is called, how it is put in words, and what would correct it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted, odds_text
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.fit import Fit
from linemap.domain.design.structure import FloatArray, IntArray
from linemap.units import LengthUnit

Kind = Literal["none", "foot", "vector", "ground", "twice", "scale", "rotation", "similarity"]

_ASKS: Mapping[str, str] = MappingProxyType(
    {
        "foot": "the unit setting of the controller, and the foot of the control sheet",
        "vector": "check-in residuals on known points, the antenna height point, the base coordinates",
        "ground": "the combined factor and the base point of the survey",
        "twice": "the combined factor and the base point of the survey",
        "scale": "the combined factor and the base point of the survey",
        "rotation": "the basis of bearing: true or grid north, and the backsight",
        "similarity": "the localisation of the survey",
    }
)
_NAMES: Mapping[str, str] = MappingProxyType(
    {
        "foot": "foot definition",
        "vector": "one constant shift",
        "ground": "grid taken as ground",
        "twice": "factor applied twice",
        "scale": "another scale about a point",
        "rotation": "a rotation",
        "similarity": "shift, scale and rotation together",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """The frames one file shows, as vectors off their design."""

    rows: IntArray
    #: (m, 2) design centres and centres as shot minus design, grid.
    design: FloatArray
    off: FloatArray
    #: (m, 2, 2) turns a grid vector into (along, across) in sigmas.
    whiten: FloatArray
    outlier_cost: float
    #: Combined factor of the line; nan = not declared.
    factor: float
    #: One foot in the unit of the line.
    foot: float


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """One explanation: what it fixes, and what it leaves free."""

    code: str
    kind: Kind
    #: (m, 2) vectors it predicts without any free number, grid.
    fixed: FloatArray
    #: (m, 2, p) change of the vectors with its free numbers.
    columns: FloatArray
    #: Width of the interval each free number may lie in.
    ranges: tuple[float, ...]
    prior: float
    #: The slope it fixes (foot, factor), or the angle a rotation starts from, radians; 0 = none.
    number: float = 0.0


def suspicion_of(
    survey: CheckedSurvey,
    file: str,
    group: Group,
    *,
    model: Model,
    fit: Fit,
    before: Fit,
    others: list[tuple[Model, float]],
    tied: list[Model],
) -> Suspicion:
    """Put the winning explanation of a file in words, with its evidence and what it was held against.

    `others` are the explanations it beat with their log-odds; `tied` those of them that it did not beat
    clearly: then no single cause is named and nothing is corrected.
    """
    rows = np.sort(group.rows[fit.explained])
    words = _words(survey, group, model, fit)
    if tied:
        names = " or ".join(dict.fromkeys([_NAMES[model.kind], *(_NAMES[each.kind] for each in tied)]))
        words = f"no single cause found: {names}; {words}"
    elif model.code == "no single cause found":
        words = f"{model.code}: {words}"
    return Suspicion(
        code="no single cause found" if tied else model.code,
        subject=file_subject(file),
        rows=tuple(rows.tolist()),
        words=words,
        evidence=_evidence(survey, group, fit, before, others),
        correction=None if tied else _correction(file, group, model, fit),
        cost_rank=2,
        asks_for=_ASKS[model.kind],
    )


def _words(survey: CheckedSurvey, group: Group, model: Model, fit: Fit) -> str:
    if model.kind == "foot":
        return f"{_feet(survey, group, model)}: {_moved(survey, group, model.fixed, fit)}"
    if model.kind == "vector":
        shift = np.broadcast_to(fit.values, group.off.shape)
        return f"all moved alike, {_moved(survey, group, shift, fit)}"
    if model.kind in {"ground", "twice", "scale"}:
        return _scale_words(survey, group, model, fit)
    turn = math.degrees(model.number + float(fit.values[-1]))
    return (
        f"the file is turned {turn:+.4f}° (clockwise +) about a point against the design, "
        f"{_farthest(survey, group, fit)}"
    )


def _feet(survey: CheckedSurvey, group: Group, model: Model) -> str:
    unit = survey.line(int(group.rows[0])).unit
    if unit is LengthUnit.FOOT and model.number < 0.0:
        return "US survey feet read as international feet"
    if unit is LengthUnit.US_SURVEY_FOOT and model.number > 0.0:
        return "international feet read as US survey feet"
    size = "large" if model.number > 0.0 else "small"
    return f"coordinates 2 ppm too {size}, the difference between the US survey and the international foot"


def _moved(survey: CheckedSurvey, group: Group, vector: FloatArray, fit: Fit) -> str:
    east, north = vector[fit.explained].mean(axis=0)
    words = f"dN {north:+.2f}, dE {east:+.2f} {survey.unit} on {_how_many(fit)}"
    turn = _turn_of_line_deg(survey, group.rows[fit.explained])
    return f"{words} although the line turns {turn:.1f}° between them" if turn >= 2.0 else words


def _turn_of_line_deg(survey: CheckedSurvey, rows: IntArray) -> float:
    """Return the widest angle between the directions of the line at these structures."""
    both = np.concatenate([survey.figures.azimuth_back_deg[rows], survey.figures.azimuth_ahead_deg[rows]])
    azimuth = np.radians(both[np.isfinite(both)])
    apart = np.angle(np.exp(1j * (azimuth[:, np.newaxis] - azimuth)))
    return float(np.degrees(np.abs(apart)).max())


def _scale_words(survey: CheckedSurvey, group: Group, model: Model, fit: Fit) -> str:
    slope = model.number or float(fit.values[2])
    cause = {
        "ground": "ground distances taken as grid",
        "twice": "the combined factor applied twice",
        "scale": "another scale than the design",
    }[model.kind]
    law = f"off by {slope * 1e6:+.0f} ppm of the distance from one point"
    return f"{cause}: {law}, {_farthest(survey, group, fit)}"


def _farthest(survey: CheckedSurvey, group: Group, fit: Fit) -> str:
    size = np.hypot(group.off[:, 0], group.off[:, 1])[fit.explained]
    return f"{size.min():.2f} to {size.max():.2f} {survey.unit} on {_how_many(fit)}"


def _how_many(fit: Fit) -> str:
    kept = int(fit.explained.sum())
    return (
        f"all {kept} structures"
        if kept == len(fit.explained)
        else f"{kept} of {len(fit.explained)} structures"
    )


def _evidence(
    survey: CheckedSurvey, group: Group, fit: Fit, before: Fit, others: list[tuple[Model, float]]
) -> tuple[str, ...]:
    kept = fit.explained
    east, north = group.off[kept].mean(axis=0)
    freedom = max(2 * int(kept.sum()), 1)
    after = fit.per_freedom
    considered = "; ".join(f"{_NAMES[model.kind]} {odds_text(odds)}" for model, odds in others)
    parts = [
        f"{int(kept.sum())} of {counted(len(kept), 'structure')} of the file agree",
        f"mean of these dN {north:+.2f}, dE {east:+.2f} {survey.unit}",
        f"chi-square per degree of freedom {float(before.misfit[kept].sum()) / freedom:,.2f} before, "
        + ("no freedom left after" if math.isnan(after) else f"{after:.2f} after"),
    ]
    return (*parts, f"also considered: {considered}") if considered else tuple(parts)


def _correction(file: str, group: Group, model: Model, fit: Fit) -> Mapping[str, Any] | None:
    if model.kind == "foot":
        return {"kind": "foot", "file": file, "factor": 1.0 / (1.0 + model.number)}
    if model.kind == "vector":
        east, north = (round(-float(value), 4) for value in fit.values)
        return {"kind": "translate", "file": file, "east": east, "north": north}
    if model.kind in {"ground", "twice", "scale"} and model.code != "no single cause found":
        slope = model.number or float(fit.values[2])
        about = group.design.mean(axis=0) - fit.values[:2] / slope
        return {"kind": "foot", "file": file, "factor": 1.0 / (1.0 + slope), "about": about.tolist()}
    return None
