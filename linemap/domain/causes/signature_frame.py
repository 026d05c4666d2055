"""Signatures of single frames: what the residuals of one structure look like, by likelihood.

Each explanation says what it expects of each residual: as designed, at a value, between two values, or
anywhere. Expectations are smeared by the sigma of the survey and by setting scatter, a third of the
tolerance. The explanations compete with the share of faults each is taken to cause (common practice, no
source); one is named when it has four fifths of the probability.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Any, NamedTuple

import numpy as np

from linemap.domain.causes.cause import Suspicion
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.causes.frame_idea import FAULTS, RESIDUALS, Idea, Interval, ideas_of
from linemap.domain.causes.pole_view import Seen, as_labelled, offsets, per_pole, pole_scatter, pole_words
from linemap.domain.design.structure import POLE_LETTERS, FloatArray, IntArray
from linemap.domain.survey.orientation import residual_texts
from linemap.domain.survey.verdict import Verdict
from linemap.geometry.uncertainty import log_normal_between

#: An explanation is named when it has this share of the probability.
_NAMED = 0.8
#: What is so much less likely than the best, as a log, is not looked at.
_NOTHING = 12.0
#: A pole off its stake stands within this of it, either way (6 ft).
_OFF_STAKE_M = 1.83


class _Ranked(NamedTuple):
    """One code a frame may have, its likeliest idea, and its probability."""

    code: str
    idea: Idea
    part: float


def misset_frames(survey: CheckedSurvey, rows: IntArray) -> list[Suspicion]:
    """Explain frames that failed, each by itself; rows that did not are passed over.

    Returns
    -------
    list of Suspicion
        "offset stake", "square to one tangent", "parallel to the line", "inner faces shot", "one side's
        faces shot", "wrong brace set", "neighbour's bisector", "one pole off its stake", "pole letters
        exchanged" with a correction, "poor survey" (it failed by chance: this survey could prove nothing
        there), "two causes at once", or "no single cause found". One a row, in the order of the rows.
    """
    failed = rows[[survey.checks.verdict[row] is Verdict.FAIL for row in rows.tolist()]]
    if not len(failed):
        return []
    ideas = list(ideas_of(survey, failed))
    log = _log_probabilities(survey, failed, ideas)
    found = []
    for i, row in enumerate(failed.tolist()):
        ranked = _ranked(ideas, log[:, i])
        if len(_outside(survey, row)) > 1:
            ranked = [*_two_at_once(survey, row, ideas, log[:, i]), *ranked]
        found.append(_suspicion(survey, row, ranked))
    return found


def _outside(survey: CheckedSurvey, row: int) -> list[str]:
    """Return the residuals of a frame that lie beyond their tolerance."""
    seen = survey.residuals(np.array([row]))
    return [name for name, (value, _, limit) in seen.items() if abs(value[0]) > limit[0]]


def _two_at_once(survey: CheckedSurvey, row: int, ideas: list[Idea], log: FloatArray) -> list[_Ranked]:
    """Try two ideas about different residuals at once; none unless they have enough of the probability.

    Residuals are independent, so what each idea gains over a frame as designed adds up.
    """
    plain = next(i for i, idea in enumerate(ideas) if idea.code == "poor survey")
    as_designed = float(_as_expected(survey.residuals(np.array([row])), ideas[plain])[0])
    named = [i for i, idea in enumerate(ideas) if idea.expects and idea.code != "no single cause found"]
    pairs = {
        (i, j): float(log[i] + log[j]) - as_designed
        for i, j in combinations(named, 2)
        if np.isfinite(log[i] + log[j]) and ideas[i].expects.keys().isdisjoint(ideas[j].expects)
    }
    if not pairs:
        return []
    every = np.array([*log, *pairs.values()])
    total = float(np.exp(every - every.max()).sum())
    shares: dict[str, float] = {}
    for pair, likely in pairs.items():
        if likely < every.max() - _NOTHING:
            continue
        said = _said(survey, row, [ideas[i] for i in pair])
        shares[said] = shares.get(said, 0.0) + math.exp(likely - every.max()) / total
    if not shares:
        return []
    best = max(shares, key=shares.__getitem__)
    both = Idea(code="two causes at once", detail=best, prior=0.0)
    return [_Ranked(both.code, both, shares[best])] if shares[best] >= _NAMED else []


def _said(survey: CheckedSurvey, row: int, ideas: list[Idea]) -> str:
    """Name ideas with what they are of in particular."""
    details = [_detail(survey, row, idea) for idea in ideas]
    return " and ".join(
        f"{idea.code} ({detail})" if detail else idea.code
        for idea, detail in zip(ideas, details, strict=True)
    )


def _ranked(ideas: list[Idea], log: FloatArray) -> list[_Ranked]:
    """Gather probabilities by code, best first, each with the detail of its best idea.

    Ideas that leave a residual free all have the code "no single cause found"; it comes first too when no
    code has enough of the probability to be named.
    """
    share = np.exp(log - log.max())
    share /= share.sum()
    total: dict[str, float] = {}
    best: dict[str, tuple[float, Idea]] = {}
    for idea, part in zip(ideas, share.tolist(), strict=True):
        total[idea.code] = total.get(idea.code, 0.0) + part
        if idea.code not in best or best[idea.code][0] < part:
            best[idea.code] = (part, idea)
    order = sorted(total, key=lambda code: -total[code])
    if total[order[0]] < _NAMED:
        order.sort(key=lambda code: code != "no single cause found")
    return [_Ranked(code, best[code][1], total[code]) for code in order]


def _log_probabilities(survey: CheckedSurvey, rows: IntArray, ideas: list[Idea]) -> FloatArray:
    """Return (ideas, rows) log of prior times likelihood, up to a constant of each row."""
    seen = survey.residuals(rows)
    exchanged = {idea.labels: as_labelled(survey, rows, idea.labels) for idea in ideas if idea.labels}
    log = np.empty((len(ideas), len(rows)))
    poles = _Poles.of(survey, rows, seen)
    for i, idea in enumerate(ideas):
        if idea.free_pole is not None:
            likely = poles.log_density(idea.free_pole, idea.free_ways)
        elif idea.labels:
            likely = _as_expected(exchanged[idea.labels], idea)
            likely[np.isnan(exchanged[idea.labels]["along"][0])] = -np.inf
        else:
            likely = _as_expected(seen, idea)
        log[i] = math.log(idea.prior) + likely
        if idea.code == "poor survey":
            log[i, survey.checks.provable[rows]] = -np.inf
    return np.where(np.isnan(log), -np.inf, log)


def _as_expected(seen: Seen, idea: Idea) -> FloatArray:
    """Return the log-likelihood of the residuals of each row under an idea."""
    log = np.zeros(len(seen["along"][0]))
    for name in RESIDUALS:
        value, sigma, limit = seen[name]
        expected = idea.expects.get(name, (0.0, 0.0))
        part = _log_density(value, np.hypot(sigma, limit / 3.0), expected, turns=name == "rotation")
        # an idea about a residual that a row does not have is ruled out; all others lose nothing
        unknown = -np.inf if idea.expects.keys() == {name} else 0.0
        log += np.where(np.isfinite(value), part, unknown)
    return log


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Poles:
    """Offsets of the poles of frames from their places, as likelihoods of the frames' residuals."""

    #: (m, 3, 2) log density of each pole ahead and right if it stands as designed; nan = no such pole.
    stands: FloatArray
    #: The same if it stands anywhere.
    anywhere: float
    #: (m,) log by which it becomes a density of residuals.
    per_pole: FloatArray

    @classmethod
    def of(cls, survey: CheckedSurvey, rows: IntArray, seen: Seen) -> _Poles:
        off = offsets(survey, rows)
        sigma = np.stack(pole_scatter(survey, rows, seen), axis=1)[:, np.newaxis, :]
        wide = survey.line(int(rows[0])).ground(_OFF_STAKE_M)
        stands = -0.5 * (off / sigma) ** 2 - np.log(sigma * math.sqrt(2.0 * math.pi))
        stands[np.isfinite(off) & (np.abs(off) > wide)] = -np.inf
        return cls(stands=stands, anywhere=-math.log(2.0 * wide), per_pole=per_pole(survey, rows, seen))

    def log_density(self, free: int, ways: tuple[int, ...]) -> FloatArray:
        """Return the log-likelihood of each row if one pole stands anywhere one way, or both ways."""
        log = self.stands.copy()
        log[:, free, list(ways)] = np.where(np.isfinite(log[:, free, list(ways)]), self.anywhere, -np.inf)
        there = np.isfinite(self.stands[:, :2]).any(axis=(1, 2)) & ~np.isnan(self.stands[:, free, 0])
        total = np.where(np.isnan(log), 0.0, log).sum(axis=(1, 2)) + self.per_pole
        return np.where(there, total, -np.inf)


def _log_density(value: FloatArray, sigma: FloatArray, expected: Interval, *, turns: bool) -> FloatArray:
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


def _suspicion(survey: CheckedSurvey, row: int, ranked: list[_Ranked]) -> Suspicion:
    """Put the explanation of one frame in words.

    The first of what it may be is what it is called.
    """
    code, idea, _ = ranked[0]
    kind = FAULTS[code]
    outside = _outside(survey, row)
    telling = [name for name in kind.tells if name in outside] or outside
    also = survey.checks.reversed[row] and code != "parallel to the line"
    turned = "; the poles also stand the other way round" if also else ""
    said = pole_words(survey, row)
    detail = ", ".join(said) if idea.free_pole is not None else _detail(survey, row, idea)
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
            *([f"pole by pole: {', '.join(said)}"] if said else []),
            _considered(survey, row, ranked),
        ),
        correction=_letters(survey, row, idea.labels) if idea.labels else None,
        cost_rank=kind.cost_rank,
        asks_for=kind.asks_for,
        on_paper=kind.on_paper,
    )


def _detail(survey: CheckedSurvey, row: int, idea: Idea) -> str:
    """Return what an idea is of in particular, at this structure."""
    if idea.labels:
        letters, called = _exchange(idea.labels), survey.figures.called(row)
        return ", ".join(f"the pole labelled {called[old]} is {called[new]}" for old, new in letters.items())
    if not idea.beside:
        return idea.detail
    beside = survey.figures.neighbour(row, idea.beside)
    return "" if beside is None else idea.detail.replace("{beside}", survey.number(beside))


def _exchange(labels: str) -> dict[str, str]:
    """Return label -> pole it is of, where they differ, when poles A, B, C are labelled `labels`."""
    return {old: new for old, new in zip(labels, POLE_LETTERS, strict=True) if old != new}


def _letters(survey: CheckedSurvey, row: int, labels: str) -> Mapping[str, Any]:
    return {"kind": "permute", "structures": [survey.number(row)], "letters": _exchange(labels)}


def _deflection(survey: CheckedSurvey, row: int, code: str) -> list[str]:
    turn = float(survey.figures.deflection_deg[row])
    if code != "square to one tangent" or not np.isfinite(turn):
        return []
    side = "right" if turn > 0 else "left"
    return [f"the line turns {abs(turn):.2f}° {side} here; half of it is {abs(turn) / 2.0:.2f}°"]


def _considered(survey: CheckedSurvey, row: int, ranked: list[_Ranked]) -> str:
    ranking = []
    for code, idea, part in ranked[:3]:
        detail = _detail(survey, row, idea)
        ranking.append(f"{code}{f' ({detail})' if detail else ''} {_percent(part)}")
    return f"considered, by likelihood: {'; '.join(ranking)}"


def _percent(part: float) -> str:
    if part < 0.001:
        return "under 0.1 %"
    return f"{part * 100.0:.1f} %" if part < 0.999 else "over 99.9 %"
