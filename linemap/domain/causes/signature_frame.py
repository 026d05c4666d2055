"""Signatures of single frames: what the residuals of one structure look like, by likelihood.

Each explanation says what it expects of each residual: as designed, at a value, between two values, or
anywhere. Expectations are smeared by the sigma of the survey and by setting scatter, a third of the
tolerance. The explanations compete with the share of faults each is taken to cause (common practice, no
source); one is named when it has four fifths of the probability.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from linemap.domain.causes.cause import Suspicion
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.design.structure import FloatArray, IntArray
from linemap.domain.survey.orientation import residual_texts
from linemap.domain.survey.verdict import Verdict
from linemap.geometry.bearing import wrap180
from linemap.geometry.uncertainty import log_normal_between
from linemap.units import LengthUnit

#: Round distances at which reference stakes stand, in feet and on metric lines in metres. No source.
_STAKES_FT = (5.0, 10.0, 15.0, 25.0, 50.0)
_STAKES_M = (2.0, 5.0, 10.0, 15.0, 20.0)
#: Faces instead of centres: one diameter short, or half of one to one side; and another brace set. In feet.
_INNER_FT, _ONE_SIDE_FT, _BRACE_FT = (-1.5, -1.1), (0.5, 0.75), (0.3, 0.6)
_FOOT_M = 0.3048
_RESIDUALS = ("rotation", "along", "across", "spacing", "bow")
#: Half width in feet of anywhere, and what may be free: one residual, the centre, or everything.
_WIDE_FT = {"along": 100.0, "across": 100.0, "spacing": 5.0, "bow": 10.0}
_FREE: tuple[tuple[tuple[str, ...], str, float], ...] = (
    (("rotation",), "arm turned", 0.15),
    (("along",), "moved along the line", 0.08),
    (("across",), "moved across the line", 0.08),
    (("along", "across"), "moved", 0.05),
    (("spacing",), "spacing", 0.08),
    (("bow",), "middle pole out of line", 0.03),
    (_RESIDUALS, "several residuals at once", 0.02),
)
#: An explanation is named when it has this share of the probability.
_NAMED = 0.8
#: Weight of chance against all faults together (1) where the survey is too coarse to prove anything: most
#: frames stand right.
_CHANCE = 5.0
_Interval = tuple[float, float] | tuple[FloatArray, FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """What a fault is called, what it costs, and what to look at."""

    cost_rank: int
    #: What it claims; {detail} says what in particular.
    claim: str
    asks_for: str
    on_paper: bool = False
    #: Residuals that show it; () = those outside their tolerance.
    tells: tuple[str, ...] = ()


_KINDS: Mapping[str, _Kind] = MappingProxyType(
    {
        "offset stake": _Kind(
            cost_rank=1,
            claim="a round number: built on the offset stake {detail}?",
            asks_for="a photo of the lath and the stake report: which hub it was",
            tells=("along", "across"),
        ),
        "square to one tangent": _Kind(
            cost_rank=1,
            claim="set square to {detail}",
            asks_for="the crew: which structure they lined up with; a photo along the line",
            tells=("rotation",),
        ),
        "parallel to the line": _Kind(
            cost_rank=1,
            claim="the frame stands along the line",
            asks_for="a photo from the back side",
            tells=("rotation",),
        ),
        "inner faces shot": _Kind(
            cost_rank=5,
            claim="short by about one pole diameter with the centre good: inner faces shot?",
            asks_for="the shot method, face or centre; shoot again by offset",
            on_paper=True,
            tells=("spacing",),
        ),
        "one side's faces shot": _Kind(
            cost_rank=5,
            claim="both poles {detail} by half a diameter with the spacing good: faces of one side shot?",
            asks_for="the shot method, face or centre; shoot again by offset",
            on_paper=True,
            tells=("along",),
        ),
        "wrong brace set": _Kind(
            cost_rank=3,
            claim="too {detail} by about what another brace set makes: wrong brace set?",
            asks_for="the tag of the brace set, and a tape at brace height",
            tells=("spacing",),
        ),
        "poor survey": _Kind(
            cost_rank=5,
            claim="a survey this coarse reads that by chance",
            asks_for="better shots: fixed solution, longer occupation, or a total station",
            on_paper=True,
        ),
        "no single cause found": _Kind(
            cost_rank=2,
            claim="no single cause found",
            asks_for="a second shot of the frame, and what the setting crew says",
        ),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Idea:
    """One explanation; a residual it does not name is expected as designed."""

    code: str
    #: What it is in particular: "10 ft right", "the back tangent"; "" = nothing more to say.
    detail: str
    prior: float
    #: Residual -> the two values it lies between, of all rows or of each; both the same = at that value.
    expects: Mapping[str, _Interval]


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
    return [_suspicion(survey, int(row), _ranked(ideas, log[:, i])) for i, row in enumerate(failed)]


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


def _idea(code: str, prior: float, detail: str = "", **expects: _Interval) -> _Idea:
    return _Idea(code=code, detail=detail, prior=prior, expects=expects)


def _ideas(survey: CheckedSurvey, rows: IntArray) -> Iterator[_Idea]:
    yield from _stakes(survey, rows)
    yield from _tangents(survey, rows)
    foot = survey.line(int(rows[0])).ground(_FOOT_M)
    yield _idea("inner faces shot", 0.1, spacing=_between(_INNER_FT, foot))
    for way, side in ((foot, "ahead"), (-foot, "back")):
        yield _idea("one side's faces shot", 0.025, side, along=_between(_ONE_SIDE_FT, way))
    for way, side in ((foot, "long"), (-foot, "short")):
        yield _idea("wrong brace set", 0.05, side, spacing=_between(_BRACE_FT, way))
    wide = {name: _between((-width, width), foot) for name, width in _WIDE_FT.items()}
    wide["rotation"] = (-90.0, 90.0)
    for names, detail, prior in _FREE:
        yield _idea("no single cause found", prior, detail, **{name: wide[name] for name in names})
    yield _idea("poor survey", _CHANCE)


def _between(feet: tuple[float, float], foot: float) -> tuple[float, float]:
    """Return two values in feet in the unit of the line, the smaller first; `foot` < 0 turns them round."""
    low, high = sorted(foot * value for value in feet)
    return low, high


def _stakes(survey: CheckedSurvey, rows: IntArray) -> Iterator[_Idea]:
    metric = survey.line(int(rows[0])).unit is LengthUnit.METRE
    for size in _STAKES_M if metric else _STAKES_FT:
        for name, words in (("along", ("ahead", "back")), ("across", ("right", "left"))):
            for at, side in zip((size, -size), words, strict=True):
                yield _idea("offset stake", 0.01, f"{size:g} {survey.unit} {side}", **{name: (at, at)})


def _tangents(survey: CheckedSurvey, rows: IntArray) -> Iterator[_Idea]:
    """Square to the back or the ahead tangent, or along the line, where that is not the design."""
    figures = survey.figures
    for words, azimuth in (("back", figures.azimuth_back_deg), ("ahead", figures.azimuth_ahead_deg)):
        turn = np.asarray(wrap180(azimuth[rows] - figures.structure_azimuth_deg[rows]), dtype=np.float64)
        turn = np.where(np.abs(turn) < 0.01, np.nan, turn)
        yield _idea("square to one tangent", 0.05, f"the {words} tangent", rotation=(turn, turn))
    for quarter in (90.0, -90.0):
        yield _idea("parallel to the line", 0.01, rotation=(quarter, quarter))


def _log_probabilities(survey: CheckedSurvey, rows: IntArray, ideas: list[_Idea]) -> FloatArray:
    """Return (ideas, rows) log of prior times likelihood, up to a constant of each row."""
    seen = survey.residuals(rows)
    log = np.empty((len(ideas), len(rows)))
    for i, idea in enumerate(ideas):
        log[i] = math.log(idea.prior)
        for name in _RESIDUALS:
            value, sigma, limit = seen[name]
            expected = idea.expects.get(name, (0.0, 0.0))
            part = _log_density(value, np.hypot(sigma, limit / 3.0), expected, turns=name == "rotation")
            # an idea about a residual that a row does not have is ruled out; all others lose nothing
            unknown = -np.inf if idea.expects.keys() == {name} else 0.0
            log[i] += np.where(np.isfinite(value), part, unknown)
        if idea.code == "poor survey":
            log[i, survey.checks.provable[rows]] = -np.inf
    return np.where(np.isnan(log), -np.inf, log)


def _log_density(value: FloatArray, sigma: FloatArray, expected: _Interval, *, turns: bool) -> FloatArray:
    """Log density of a value that lies evenly between two values, smeared by its sigma.

    A rotation is only known up to half a turn (a reversal is taken out of it), so it is compared so.
    """
    least, most = (np.broadcast_to(end, value.shape) for end in expected)
    if turns and np.array_equal(least, most, equal_nan=True):
        value = (value - least + 90.0) % 180.0 - 90.0 + least
    width = most - least
    low, high = (value - most) / sigma, (value - least) / sigma
    with np.errstate(divide="ignore", invalid="ignore"):
        between = log_normal_between(low, high) - np.log(width)
    at = -0.5 * low**2 - np.log(sigma * math.sqrt(2.0 * math.pi))
    return np.asarray(np.where(width > 0.0, between, at), dtype=np.float64)


def _suspicion(survey: CheckedSurvey, row: int, ranked: list[tuple[str, str, float]]) -> Suspicion:
    """Put the explanation of one frame in words.

    `ranked` has code, detail and probability of what it may be; the first is what it is called.
    """
    code, detail, _ = ranked[0]
    kind = _KINDS[code]
    seen = survey.residuals(np.array([row]))
    outside = [name for name, (value, _, limit) in seen.items() if abs(value[0]) > limit[0]]
    telling = [name for name in kind.tells if name in outside] or outside
    also = survey.checks.reversed[row] and code != "parallel to the line"
    turned = "; the poles also stand the other way round" if also else ""
    texts = residual_texts(survey.checks, row, survey.unit, survey.figures.called(row))
    others = ", ".join(texts[name] for name in outside if name not in telling)
    return Suspicion(
        code=code,
        subject=survey.subject(row),
        rows=(row,),
        words=f"{', '.join(texts[name] for name in telling)}: {kind.claim.format(detail=detail)}{turned}",
        evidence=(
            *_deflection(survey, row, code),
            *([f"also: {others}"] if others else []),
            _considered(ranked),
        ),
        cost_rank=kind.cost_rank,
        asks_for=kind.asks_for,
        on_paper=kind.on_paper,
    )


def _deflection(survey: CheckedSurvey, row: int, code: str) -> list[str]:
    turn = float(survey.figures.deflection_deg[row])
    if code != "square to one tangent" or not np.isfinite(turn):
        return []
    side = "right" if turn > 0 else "left"
    return [f"the line turns {abs(turn):.2f}° {side} here; half of it is {abs(turn) / 2.0:.2f}°"]


def _considered(ranked: list[tuple[str, str, float]]) -> str:
    ranking = [
        f"{code}{f' ({detail})' if detail else ''} {_percent(part)}" for code, detail, part in ranked[:3]
    ]
    return f"considered, by likelihood: {'; '.join(ranking)}"


def _percent(part: float) -> str:
    if part < 0.001:
        return "under 0.1 %"
    return f"{part * 100.0:.1f} %" if part < 0.999 else "over 99.9 %"
