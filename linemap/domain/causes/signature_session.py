"""Sessions whose coordinates are right in shape and wrong in place: foot, factor, base, rotation, staking.

What all frames and check-ins of a session share is adjusted once (`linemap.domain.sessions.adjustment`); here
the laws that stand become causes, with what would correct the shots. Nothing is fitted again.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from linemap.domain.causes.cause import DecisionKey, Suspicion
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.session_words import law_words
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.sessions.adjustment import Adjustment
from linemap.domain.sessions.explanation import EXPLANATIONS, FOOT, LAWS, STANDS

#: Least share of a session's frames that a law of the whole session must explain.
_MOST = 0.6
#: A law so much more likely than another is named; else no single one is (3 to 1).
_CLEARLY = math.log(3.0)
#: Weight under which a frame stands out of a fit.
_STANDS_OUT = 0.5
_BY_SURVEY = np.array([[each.survey is law for law in LAWS] for each in EXPLANATIONS])
_BY_STAKES = np.array([[each.staked is law and each.survey is None for law in LAWS] for each in EXPLANATIONS])
_CODES: Mapping[str, str] = {
    "shift": "base or datum shifted",
    "rotation": "rotation of the survey",
    "similarity": "no single cause found",
    "foot small": "foot definition",
    "foot large": "foot definition",
    "ground": "grid taken as ground",
    "twice": "grid taken as ground",
}
_STAKED_OFF = "line staked off"


def moved_sessions(
    survey: CheckedSurvey, adjustment: Adjustment, *, rejected: Collection[DecisionKey] = ()
) -> list[Suspicion]:
    """Find sessions whose frames are off by one law, none a person `rejected`.

    A law is told where it no longer stands that nothing is shared, most frames follow it, and two of them
    are exceptions or check-ins speak of it.

    Returns
    -------
    list of Suspicion
        "foot definition", "grid taken as ground", "base or datum shifted", "rotation of the survey", "line
        staked off"; "no single cause found" when two of them explain a session about equally well.
    """
    found: list[Suspicion] = []
    for index in np.flatnonzero(adjustment.frames).tolist():
        if adjustment.share[index, 0] < STANDS:
            suspicion = _suspicion(survey, adjustment, index, rejected)
            if suspicion is not None:
                found.append(suspicion)
                found += _staked_too(adjustment, index, suspicion)
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Laws:
    """How likely the laws move one session, those a person rejected left out."""

    #: (laws,) probability that the survey is moved by each, and that only the stakes are.
    survey: FloatArray
    stakes: FloatArray
    #: (laws,) code a cause by each would have.
    codes: tuple[str, ...]
    #: Probability that nothing is shared.
    nothing: float

    @property
    def total(self) -> FloatArray:
        return self.survey + self.stakes

    @property
    def first(self) -> int:
        """The likeliest law."""
        return int(self.total.argmax())

    @property
    def staked_only(self) -> bool:
        """True where check-ins tell that the survey is not moved by the likeliest law."""
        return bool(self.survey[self.first] < STANDS)

    @property
    def others(self) -> list[tuple[int, float]]:
        """The other laws with their log-odds against the likeliest, likely ones first."""
        odds = math.log(max(float(self.total[self.first]), 1e-300)) - np.log(np.maximum(self.total, 1e-300))
        order = np.argsort(odds, kind="stable").tolist()
        return [(law, float(odds[law])) for law in order if self.codes[law] != self.codes[self.first]]


def _suspicion(
    survey: CheckedSurvey, adjustment: Adjustment, index: int, rejected: Collection[DecisionKey]
) -> Suspicion | None:
    sessions = adjustment.sessions
    here = np.flatnonzero(sessions.session == index)
    rows = sessions.row[here]
    key, line = sessions.keys[index], survey.line_name(rows.tolist())
    subject = file_subject(key.file) if len(sessions.days_of(key.file)) == 1 else key.words
    laws = _laws(
        survey, adjustment, index, rejected={code for code, *where in rejected if where == [subject, line]}
    )
    if laws.nothing >= STANDS:
        return None
    law = laws.first
    follows = _follows(adjustment, laws, index, here)
    if not _is_of_most(survey, adjustment, index, rows, follows, free=any(LAWS[law].free)):
        return None
    tied = [other for other, odds in laws.others if odds < _CLEARLY]
    code = "no single cause found" if tied else _STAKED_OFF if laws.staked_only else laws.codes[law]
    said = law_words(
        survey,
        adjustment,
        index,
        law=law,
        follows=follows,
        here=here,
        tied=tied,
        others=laws.others,
        staked_only=laws.staked_only,
    )
    open_ = not tied and not laws.staked_only
    return Suspicion(
        code=code,
        subject=subject,
        rows=tuple(np.sort(rows[follows]).tolist()),
        words=f"{code}: {said.words}" if code == "no single cause found" else said.words,
        evidence=said.evidence,
        correction=_correction(adjustment, index, law) if open_ else None,
        cost_rank=2,
        asks_for=said.asks_for,
        on_paper=not laws.staked_only,
    )


def _staked_too(adjustment: Adjustment, index: int, moved: Suspicion) -> Iterator[Suspicion]:
    """Say of a survey that is moved that the stakes are off too, where check-ins tell that."""
    likeliest = EXPLANATIONS[int(adjustment.share[index].argmax())]
    if moved.correction is not None and (likeliest.same_base or likeliest.staked):
        yield replace(
            moved,
            code=_STAKED_OFF,
            words=f"with the survey put right the line is staked off: {likeliest.words}",
            evidence=(f"seen as if {moved.subject} ({moved.code}) were put right",),
            correction=None,
            asks_for="where the stakes were set from, before frames are moved",
            on_paper=False,
        )


def _laws(survey: CheckedSurvey, adjustment: Adjustment, index: int, *, rejected: set[str]) -> _Laws:
    share = adjustment.share[index]
    row = int(adjustment.sessions.row[adjustment.sessions.session == index][0])
    scale = "no single cause found" if survey.line(row).combined_factor_declared else "grid taken as ground"
    codes = tuple(_CODES.get(law.name, scale) for law in LAWS)
    kept = np.array([code not in rejected for code in codes])
    by_survey, by_stakes = share @ _BY_SURVEY * kept, share @ _BY_STAKES * kept
    whole = float(share[0] + by_survey.sum() + by_stakes.sum()) or 1.0
    return _Laws(
        survey=by_survey / whole, stakes=by_stakes / whole, codes=codes, nothing=float(share[0]) / whole
    )


def _follows(adjustment: Adjustment, laws: _Laws, index: int, here: IntArray) -> BoolArray:
    """Return which frames of a session follow its likeliest law; all where only check-ins tell it."""
    solved = adjustment.of_frames if laws.staked_only else adjustment.together
    if not math.isfinite(solved.cost[index, laws.first]):
        return np.ones(len(here), dtype=np.bool_)
    return np.asarray(solved.weights[index, laws.first, adjustment.slot[here]] >= _STANDS_OUT)


def _is_of_most(
    survey: CheckedSurvey,
    adjustment: Adjustment,
    index: int,
    rows: IntArray,
    follows: BoolArray,
    *,
    free: bool,
) -> bool:
    """Tell whether most frames follow, and either two of them are exceptions or check-ins speak of it."""
    enough = follows.sum() >= max(3 if free else 2, _MOST * len(follows))
    by_check_in = adjustment.check_ins[index] > 0
    return bool(enough and (by_check_in or survey.exception[rows[follows]].sum() >= 2))


def _correction(adjustment: Adjustment, index: int, law: int) -> Mapping[str, Any]:
    """Return what undoes a law: its numbers, with their covariance where they were found."""
    session, name = adjustment.sessions.keys[index], LAWS[law].name
    days = adjustment.sessions.days_of(session.file)
    of = {"file": session.file} | ({"day": session.day} if len(days) > 1 else {})
    found = adjustment.found_of(index, law)
    if name.startswith("foot"):
        return {"kind": "foot", **of, "factor": 1.0 / (1.0 + (FOOT if name == "foot large" else -FOOT))}
    far = np.array([1.0, 1.0, adjustment.far[index], adjustment.far[index]])
    covariance = found.covariance / np.outer(far, far)
    shift, (grow, turn) = found.numbers[:2], found.numbers[2:] / adjustment.far[index]
    about = adjustment.middle[index]
    if name in {"ground", "twice"}:
        point = about - shift / grow
        about_point = {"factor": 1.0 / (1.0 + grow), "about": point.tolist()}
        return {"kind": "foot", **of, **about_point, "covariance": _listed(covariance[:2, :2])}
    moved = {"east": round(-float(shift[0]), 4), "north": round(-float(shift[1]), 4)}
    if name == "shift":
        return {"kind": "translate", **of, **moved, "covariance": _listed(covariance[:2, :2])}
    return {
        "kind": "similarity",
        **of,
        **moved,
        "factor": 1.0 / math.hypot(1.0 + grow, turn),
        "turn_deg": -math.degrees(math.atan2(turn, 1.0 + grow)),
        "about": [round(float(value), 3) for value in about],
        "covariance": _listed(covariance),
    }


def _listed(covariance: FloatArray) -> list[list[float]]:
    return [[float(f"{value:.6g}") for value in row] for row in covariance.tolist()]
