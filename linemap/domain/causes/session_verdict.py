"""Verdicts by what the shots of a session share: a pass needs every explanation that stands to agree.

An explanation stands with a probability of 5 % or more. Check-ins prove a correction, frames only confirm it:
a pass also needs what the check-ins say alone. Each frame is judged without what it says itself, and the
uncertainty of a correction is part of its centre's and its arm's, never of its spacing. Nothing is applied
unasked: before a decision a fail stays a fail, and a pass that does not hold cannot be told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from linemap.domain.causes.session_words import is_settled, odd_check_in
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import BoolArray, IntArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Block
from linemap.domain.sessions.adjustment import Adjustment, adjusted, uncertainty_of
from linemap.domain.sessions.explanation import EXPLANATIONS, LAWS, MOVE
from linemap.domain.sessions.standing import Standing, kind_of, standing
from linemap.domain.survey.orientation import check
from linemap.domain.survey.session import NO_CHECK_INS, CheckIns
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import match_shots
from linemap.domain.survey.verdict import Checks, Held, Verdict, held_by

_LAWS = len(LAWS)


_UNPROVEN = "survey cannot prove"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """What the sessions of a survey share, and what was decided about it."""

    #: The shots without any correction of whole sessions, what they share, and their check.
    shots: tuple[Shot, ...]
    adjustment: Adjustment
    observed: Checks
    tolerances: Tolerances
    #: Corrections of whole sessions that stand.
    corrections: tuple[Mapping[str, Any], ...] = ()

    @classmethod
    def of(
        cls,
        shots: Sequence[Shot],
        figures: Figures,
        tolerances: Tolerances,
        *,
        observed: Checks,
        check_ins: CheckIns = NO_CHECK_INS,
        corrections: Iterable[Mapping[str, Any]] = (),
    ) -> Solution:
        """Adjust the sessions of shots that no correction of whole sessions has moved, and their check-ins.

        `observed` is the check of these shots, `corrections` are those that stand all the same.
        """
        matched, _ = match_shots([shot for shot in shots if shot.item == "pole"], figures)
        return cls(
            shots=tuple(shots),
            adjustment=adjusted(matched, figures, tolerances, check_ins),
            observed=observed,
            tolerances=tolerances,
            corrections=tuple(corrections),
        )

    def check(self, poles: SetPoles, more: Iterable[Mapping[str, Any]] = ()) -> Checks:
        """Check corrected poles with what corrections that stand, and `more`, leave uncertain of them.

        Whether the survey could prove a tolerance, and by which shots, is said without that.
        """
        figures = self.adjustment.figures
        plain = check(figures, poles, self.tolerances)
        corrections = (*self.corrections, *more)
        if not corrections:
            return plain
        shown = check(figures, self._loosened(poles, corrections), self.tolerances)
        said = [each for each in shown.findings if each.code != _UNPROVEN]
        said += [each for each in plain.findings if each.code == _UNPROVEN]
        return replace(shown, provable=plain.provable, findings=tuple(said))

    def _loosened(self, poles: SetPoles, corrections: Iterable[Mapping[str, Any]]) -> SetPoles:
        """Return poles with their sigmas; a decision without one has that of the session's likeliest law."""
        variance = np.zeros((len(poles.count), 3))
        sessions = self.adjustment.sessions
        for each in corrections:
            for index in sessions.named(each["file"], each.get("day")).tolist():
                rows = sessions.shown[sessions.shown[:, 0] == index, 1]
                variance[rows] += uncertainty_of(each, self.adjustment, index, rows)
        return replace(poles, corrected_sigma=np.sqrt(variance))

    def judge(
        self, shown: Checks, more: Iterable[Mapping[str, Any]] = (), *, observed: Checks | None = None
    ) -> Checks:
        """Return the check of corrected shots with the verdicts that what sessions share leaves.

        `more` are corrections of whole sessions as if they were accepted too, `observed` the check of the
        shots that neither these nor those that stand have moved, where it is another by now.
        """
        moved = [
            self.adjustment.sessions.named(each["file"], each.get("day"))
            for each in (*self.corrections, *more)
        ]
        corrected = np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *moved]))
        return with_sessions(shown, observed or self.observed, self.adjustment, self.tolerances, corrected)


def with_sessions(
    shown: Checks,
    observed: Checks,
    adjustment: Adjustment,
    tolerances: Tolerances,
    corrected: IntArray,
) -> Checks:
    """Return checks with the verdicts that what the sessions share leaves.

    Parameters
    ----------
    shown, observed : Checks
        The check of the shots as corrected by the decisions that stand, and without any correction of whole
        sessions; the same where there is none.
    corrected : (k,) ndarray
        Sessions with such a correction, indices into `Sessions.keys`.

    Returns
    -------
    Checks
        `Finding.code`: "session in doubt" where a pass is not held, or a correction accepted does not prove
        one.
    """
    found = standing(observed, adjustment, tolerances)
    decided = np.zeros(len(shown.verdict), dtype=np.bool_)
    pairs = adjustment.sessions.shown
    decided[pairs[np.isin(pairs[:, 0], corrected), 1]] = True
    decided &= np.isfinite(observed.along)
    verdict = shown.verdict.copy()
    passed, failed = verdict == Verdict.PASS, verdict == Verdict.FAIL
    fails = (failed & (~decided | _fails_otherwise(shown, tolerances))) | (decided & found.refused)
    fails &= verdict != Verdict.NOT_SURVEYED
    doubt = ((passed & ~found.agreed) | failed) & ~fails
    verdict[doubt] = Verdict.CANNOT_TELL
    # what was corrected and is unsure by itself is told why no correction makes it pass
    doubt |= decided & ~found.agreed & (verdict == Verdict.CANNOT_TELL) & ~shown.reversed & ~shown.withheld
    verdict[fails] = Verdict.FAIL
    held = np.where(found.controlled, Held.CONTROL, Held.OWN_BASE).astype(object)
    said = [
        _in_doubt(adjustment, found, at, decided[at], tolerances.unit, refused=refused)
        for refused, where in ((False, doubt), (True, fails & ~failed))
        if (at := np.flatnonzero(where)).size
    ]
    return replace(shown, verdict=verdict, held=held_by(verdict, held), findings=(*said, *shown.findings))


def _fails_otherwise(checks: Checks, tolerances: Tolerances) -> BoolArray:
    """Return where what no session moves, spacing and the middle pole, lies outside its tolerance."""
    spacing = kind_of(checks.spacing_error, checks.spacing_sigma, tolerances.spacing, tolerances.confidence)
    bow = kind_of(
        checks.collinearity, checks.collinearity_sigma, tolerances.collinearity, tolerances.confidence
    )
    return spacing.outside | bow.outside


def _in_doubt(
    adjustment: Adjustment, found: Standing, at: IntArray, decided: BoolArray, unit: str, *, refused: bool
) -> Block:
    session, move = found.session[at], found.against[at]
    # the likeliest explanation with this move of the survey; none where the check-ins do not determine it
    share = np.where(move[:, np.newaxis] == MOVE, adjustment.share[session], -1.0)
    likeliest = share.argmax(axis=1)
    words = [EXPLANATIONS[i].words if known else "" for i, known in zip(likeliest, move >= 0, strict=True)]
    named = [adjustment.sessions.keys[each].words for each in session.tolist()]
    return Block(
        code="session in doubt",
        rows=at,
        values={
            "file": np.array(named, dtype=object),
            "explanation": np.array(words, dtype=object),
            "share": share.max(axis=1),
            "along": found.centre[at, 0],
            "across": found.centre[at, 1],
            "unit": unit,
            "check_ins": adjustment.check_ins[session],
            "accepted": decided,
            "refused": refused,
            "odd": np.array([odd_check_in(adjustment, each) for each in session.tolist()], dtype=object),
            "settled": np.array([is_settled(adjustment, each) for each in session.tolist()], dtype=object),
        },
        weight=Severity.WRONG if refused else None,
    )
