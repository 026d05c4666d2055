"""Signatures of single frames: what the residuals of one structure look like, by likelihood.

Each explanation says what it expects of each residual: as designed, at a value, between two values, or
anywhere. Expectations are smeared by the sigma of the survey and by setting scatter, a third of the
tolerance. The explanations compete with the share of faults each is taken to cause (common practice, no
source); one is named when it has four fifths of the probability.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from linemap.domain.causes.cause import Suspicion
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.causes.frame_words import frame_suspicion
from linemap.domain.design.structure import FloatArray, IntArray
from linemap.domain.survey.verdict import Verdict
from linemap.geometry.bearing import wrap180
from linemap.geometry.uncertainty import log_normal_below, normal_below
from linemap.units import LengthUnit

#: Round distances at which reference stakes stand, in feet and on metric lines in metres. No source.
_STAKES_FT = (5.0, 10.0, 15.0, 25.0, 50.0)
_STAKES_M = (2.0, 5.0, 10.0, 15.0, 20.0)
#: Faces instead of centres: one diameter short, or half of one to one side; and another brace set. In feet.
_INNER_FT, _ONE_SIDE_FT, _BRACE_FT = (-1.5, -1.1), (0.5, 0.75), (0.3, 0.6)
_FOOT_M = 0.3048
#: An explanation is named when it has this share of the probability.
_NAMED = 0.8
#: Weight of chance against all faults together (1) where the survey is too coarse to prove anything: most
#: frames stand right.
_CHANCE = 5.0
_RESIDUALS = ("rotation", "along", "across", "spacing", "bow")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Interval:
    """A residual between two values, one of them for each row; both the same = at that value."""

    low: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class _Idea:
    """One explanation; a residual it does not name is expected as designed."""

    code: str
    #: What it is in particular: "10 ft right", "the back tangent"; "" = nothing more to say.
    detail: str
    prior: float
    expects: dict[str, _Interval] = field(default_factory=dict)


def misset_frames(survey: CheckedSurvey, rows: IntArray) -> list[Suspicion]:
    """Explain frames that failed, each by itself; rows that did not are passed over.

    Returns
    -------
    list of Suspicion
        "offset stake", "square to one tangent", "parallel to the line", "inner faces shot", "one side's
        faces shot", "wrong brace set", "poor survey" (it failed by chance: this survey could prove nothing
        there), or "no single cause found". One a row, in the order of the rows.
    """
    failed = rows[[survey.checks.verdict[row] is Verdict.FAIL for row in rows.tolist()]]
    if not len(failed):
        return []
    ideas = list(_ideas(survey, failed))
    log = _log_probabilities(survey, failed, ideas)
    return [frame_suspicion(survey, int(row), _ranked(ideas, log[:, i])) for i, row in enumerate(failed)]


def _ranked(ideas: list[_Idea], log: FloatArray) -> list[tuple[str, str, float]]:
    """Gather probabilities by code, best first, each with the detail of its best idea.

    Ideas that leave a residual free all have the code "no single cause found"; it comes first too when no
    code has enough of the probability to be named.
    """
    share = np.exp(log - log.max())
    share /= share.sum()
    total: dict[str, float] = {}
    best: dict[str, tuple[float, str]] = {}
    for idea, part in zip(ideas, share.tolist(), strict=True):
        total[idea.code] = total.get(idea.code, 0.0) + part
        best[idea.code] = max(best.get(idea.code, (-1.0, "")), (part, idea.detail))
    order = sorted(total, key=lambda code: -total[code])
    if total[order[0]] < _NAMED:
        order.sort(key=lambda code: code != "no single cause found")
    return [(code, best[code][1], total[code]) for code in order]


def _ideas(survey: CheckedSurvey, rows: IntArray) -> Iterator[_Idea]:
    yield from _stakes(survey, rows)
    yield from _tangents(survey, rows)
    yield from _faces_and_braces(survey, rows)
    yield from _free(survey, rows)
    yield _Idea(code="poor survey", detail="", prior=_CHANCE)


def _stakes(survey: CheckedSurvey, rows: IntArray) -> Iterator[_Idea]:
    metric = survey.line(int(rows[0])).unit is LengthUnit.METRE
    for size in _STAKES_M if metric else _STAKES_FT:
        for name, words in (("along", ("ahead", "back")), ("across", ("right", "left"))):
            for sign, side in zip((1.0, -1.0), words, strict=True):
                detail = f"{size:g} {survey.unit} {side}"
                expects = {name: _same(rows, sign * size, sign * size)}
                yield _Idea(code="offset stake", detail=detail, prior=0.01, expects=expects)


def _tangents(survey: CheckedSurvey, rows: IntArray) -> Iterator[_Idea]:
    """Square to the back or the ahead tangent, or along the line, where that is not the design."""
    figures = survey.figures
    faces = figures.structure_azimuth_deg[rows]
    for words, azimuth in (
        ("back", figures.azimuth_back_deg[rows]),
        ("ahead", figures.azimuth_ahead_deg[rows]),
    ):
        turn = np.asarray(wrap180(azimuth - faces), dtype=np.float64)
        turn = np.where(np.abs(turn) < 0.01, np.nan, turn)
        interval = {"rotation": _Interval(low=turn, high=turn)}
        detail = f"the {words} tangent"
        yield _Idea(code="square to one tangent", detail=detail, prior=0.05, expects=interval)
    for quarter in (90.0, -90.0):
        interval = {"rotation": _same(rows, quarter, quarter)}
        yield _Idea(code="parallel to the line", detail="", prior=0.01, expects=interval)


def _faces_and_braces(survey: CheckedSurvey, rows: IntArray) -> Iterator[_Idea]:
    foot = survey.line(int(rows[0])).ground(_FOOT_M)
    low, high = (foot * value for value in _INNER_FT)
    interval = {"spacing": _same(rows, low, high)}
    yield _Idea(code="inner faces shot", detail="", prior=0.1, expects=interval)
    for sign, side in ((1.0, "ahead"), (-1.0, "back")):
        low, high = sorted(sign * foot * value for value in _ONE_SIDE_FT)
        interval = {"along": _same(rows, low, high)}
        yield _Idea(code="one side's faces shot", detail=side, prior=0.025, expects=interval)
    for sign, side in ((1.0, "long"), (-1.0, "short")):
        low, high = sorted(sign * foot * value for value in _BRACE_FT)
        interval = {"spacing": _same(rows, low, high)}
        yield _Idea(code="wrong brace set", detail=side, prior=0.05, expects=interval)


def _free(survey: CheckedSurvey, rows: IntArray) -> Iterator[_Idea]:
    """One residual anywhere, the centre anywhere, or everything anywhere: no single cause."""
    foot = survey.line(int(rows[0])).ground(_FOOT_M)
    wide = {
        "rotation": _same(rows, -90.0, 90.0),
        "along": _same(rows, -100.0 * foot, 100.0 * foot),
        "across": _same(rows, -100.0 * foot, 100.0 * foot),
        "spacing": _same(rows, -5.0 * foot, 5.0 * foot),
        "bow": _same(rows, -10.0 * foot, 10.0 * foot),
    }
    for names, detail, prior in (
        (("rotation",), "arm turned", 0.15),
        (("along",), "moved along the line", 0.08),
        (("across",), "moved across the line", 0.08),
        (("along", "across"), "moved", 0.05),
        (("spacing",), "spacing", 0.08),
        (("bow",), "middle pole out of line", 0.03),
        (_RESIDUALS, "several residuals at once", 0.02),
    ):
        expects = {name: wide[name] for name in names}
        yield _Idea(code="no single cause found", detail=detail, prior=prior, expects=expects)


def _same(rows: IntArray, low: float, high: float) -> _Interval:
    return _Interval(low=np.full(len(rows), low), high=np.full(len(rows), high))


def _log_probabilities(survey: CheckedSurvey, rows: IntArray, ideas: list[_Idea]) -> FloatArray:
    """Return (ideas, rows) log of prior times likelihood, up to a constant of each row."""
    seen = survey.residuals(rows)
    log = np.empty((len(ideas), len(rows)))
    for i, idea in enumerate(ideas):
        log[i] = math.log(idea.prior)
        for name in _RESIDUALS:
            expected = idea.expects.get(name) or _same(rows, 0.0, 0.0)
            value, sigma, limit = seen[name]
            part = _log_density(value, np.hypot(sigma, limit / 3.0), expected, turns=name == "rotation")
            log[i] += np.where(np.isfinite(value), part, _unknown(name, idea))
        if idea.code == "poor survey":
            log[i, survey.checks.provable[rows]] = -np.inf
    return np.where(np.isnan(log), -np.inf, log)


def _unknown(name: str, idea: _Idea) -> float:
    """Rule out an idea about a residual that a row does not have; all others lose nothing."""
    return -np.inf if idea.expects.keys() == {name} else 0.0


def _log_density(value: FloatArray, sigma: FloatArray, expected: _Interval, *, turns: bool) -> FloatArray:
    """Log density of a value that lies evenly between two values, smeared by its sigma.

    A rotation is only known up to half a turn (a reversal is taken out of it), so it is compared so.
    """
    if turns and np.array_equal(expected.low, expected.high, equal_nan=True):
        value = (value - expected.low + 90.0) % 180.0 - 90.0 + expected.low
    width = expected.high - expected.low
    low, high = (value - expected.high) / sigma, (value - expected.low) / sigma
    with np.errstate(divide="ignore", invalid="ignore"):
        between = _log_between(low, high) - np.log(width)
    at = -0.5 * low**2 - np.log(sigma * math.sqrt(2.0 * math.pi))
    return np.asarray(np.where(width > 0.0, between, at), dtype=np.float64)


def _log_between(low: FloatArray, high: FloatArray) -> FloatArray:
    """Return log(Phi(high) - Phi(low)) without losing the tails: turned to the lower one first."""
    upper = low + high > 0.0
    low, high = np.where(upper, -high, low), np.where(upper, -low, high)
    near = normal_below(high) - normal_below(low)
    upto, below = log_normal_below(high), log_normal_below(low)
    tail = upto + np.log1p(-np.exp(np.minimum(below - upto, 0.0)))
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(near > 1e-6, np.log(near), tail), dtype=np.float64)
