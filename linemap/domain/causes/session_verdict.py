"""Verdicts by what the shots of a session share: a pass needs every explanation that stands to agree.

An explanation stands with a probability of 5 % or more. Check-ins prove a correction, frames only confirm it:
a pass also needs what the check-ins say alone. Each frame is judged without what it says itself, and the
uncertainty of a correction is part of its centre's and its arm's, never of its spacing. Nothing is applied
unasked: before a decision a fail stays a fail, and a pass that does not hold cannot be told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from linemap.domain.causes.adjustment import Adjustment, adjust, move_share
from linemap.domain.causes.explanation import ALONE, EXPLANATIONS, LAWS, MOVE, STANDS
from linemap.domain.causes.session_words import odd_check_in
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.design.tolerance import Tolerance, Tolerances
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Block
from linemap.domain.survey.residual import Residual
from linemap.domain.survey.session import NO_CHECK_INS, CheckIns, centre_limits, sessions_of
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import match_shots
from linemap.domain.survey.verdict import Checks, Held, Verdict, held_by

_LAWS = len(LAWS)


class _Judged(NamedTuple):
    """What moves of a session say of the frames it shows; columns over pairs of a frame and a move."""

    #: Which row of `Sessions.shown`, and which move of its session (`explanation.MOVE`).
    shown: IntArray
    move: IntArray
    #: False where the move does not stand: the check-ins alone, asked for a pass all the same.
    stands: BoolArray
    #: True where along, across and arm are inside their tolerances under it, and where one is outside.
    inside: BoolArray
    outside: BoolArray
    #: (k, 2) centre along and across under it.
    centre: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """What the explanations that stand say of every frame of a survey as observed; columns over rows."""

    #: True where all of them, and the check-ins alone, put the frame inside its tolerances.
    agreed: BoolArray
    #: True where every one of them puts it outside one.
    refused: BoolArray
    #: True where all sessions that shot the structure have check-ins.
    controlled: BoolArray
    #: The move that speaks strongest against a pass of each row, -1 = none, and its session or any.
    against: IntArray
    session: IntArray
    #: (n, 2) centre of the frame under that move.
    centre: FloatArray


def standing(observed: Checks, adjustment: Adjustment, tolerances: Tolerances) -> Standing:
    """Judge every frame under every explanation that stands in its sessions.

    `observed` is the check of the shots without any correction of whole sessions.
    """
    shown = adjustment.sessions.shown
    shown = shown[np.isfinite(observed.along[shown[:, 1]])]
    session, row = shown[:, 0], shown[:, 1]
    checked = adjustment.check_ins[session] > 0
    determined = adjustment.determined[session, _alone(adjustment)[session]]
    judged = _judge(observed, adjustment, tolerances, shown, asked=checked & determined)
    agreed, refused, controlled = (np.ones(len(observed.verdict), dtype=np.bool_) for _ in range(3))
    agreed[row[judged.shown[~judged.inside]]] = False
    agreed[row[checked & ~determined]] = False
    refused[row[judged.shown[judged.stands & ~judged.outside]]] = False
    controlled[row[~checked]] = False
    against, whose, centre = _strongest(adjustment, shown, judged, len(agreed))
    return Standing(
        agreed=agreed,
        refused=refused,
        controlled=controlled,
        against=against,
        session=whose,
        centre=centre,
    )


def _alone(adjustment: Adjustment) -> IntArray:
    """Return the law that the check-ins of each session must give alone: a shift, or the best that stands."""
    joint = adjustment.share[:, 1 + _LAWS : 1 + 2 * _LAWS]
    return np.where(joint.max(axis=1) >= STANDS, ALONE[joint.argmax(axis=1)], 0)


def _judge(
    observed: Checks, adjustment: Adjustment, tolerances: Tolerances, shown: IntArray, *, asked: BoolArray
) -> _Judged:
    """Judge the frames under every move that stands, and those `asked` under what check-ins say alone."""
    at, move = np.nonzero(adjustment.standing[shown[:, 0]])
    more = np.flatnonzero(asked)
    stands = np.arange(len(at) + len(more)) < len(at)
    at = np.concatenate([at, more])
    move = np.concatenate([move, 1 + _LAWS + _alone(adjustment)[shown[more, 0]]])
    row = shown[at, 1]
    centre = np.column_stack([observed.along[row], observed.across[row]])
    turn, turn_variance = observed.rotation_deg[row].copy(), observed.rotation_sigma_deg[row] ** 2
    variance = np.repeat(observed.along_sigma[row, np.newaxis] ** 2, 2, axis=1)
    moved = np.flatnonzero(move > 0)
    if moved.size:
        moves = adjustment.moves(shown[at[moved], 0], move[moved], row[moved])
        centre[moved] -= moves.centre
        # what the shots share is what was found of the session, no longer what it was taken to be
        variance[moved] += moves.centre_variance - tolerances.common_sigma**2
        turn[moved] -= moves.turn_deg
        turn_variance[moved] += moves.turn_variance
    limit = centre_limits(adjustment.figures, row, tolerances)
    kinds = [_kind(turn, np.sqrt(turn_variance), tolerances.rotation_deg, tolerances.confidence)]
    for axis, tolerance in enumerate((tolerances.along_tangent, tolerances.across)):
        sigma = np.sqrt(np.maximum(variance[:, axis], 0.0))
        kinds.append(_kind(centre[:, axis], sigma, tolerance, tolerances.confidence, limit[:, axis]))
    return _Judged(
        shown=at,
        move=move,
        stands=stands,
        inside=np.logical_and.reduce([kind.inside(tolerances.confidence) for kind in kinds]),
        outside=np.logical_or.reduce([kind.outside for kind in kinds]),
        centre=centre,
    )


def _kind(
    value: FloatArray,
    sigma: FloatArray,
    tolerance: Tolerance,
    confidence: float,
    limit: FloatArray | None = None,
) -> Residual:
    known = np.isfinite(value)
    return Residual.judge(
        "", value, sigma, applies=known, tolerance=tolerance, confidence=confidence, limit=limit
    )


def _strongest(
    adjustment: Adjustment, shown: IntArray, judged: _Judged, size: int
) -> tuple[IntArray, IntArray, FloatArray]:
    """Return by row the likeliest move that does not let the frame pass, a session, and the centre then."""
    move, session = np.full(size, -1), np.full(size, -1)
    session[shown[:, 1]] = shown[:, 0]
    centre = np.full((size, 2), np.nan)
    against = np.flatnonzero(~judged.inside)
    share = move_share(adjustment)[shown[judged.shown[against], 0], judged.move[against]]
    against = against[np.argsort(share, kind="stable")]
    row = shown[judged.shown[against], 1]
    move[row], session[row] = judged.move[against], shown[judged.shown[against], 0]
    centre[row] = judged.centre[against]
    return move, session, centre


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
        sessions = sessions_of(matched, figures, tolerances, check_ins)
        return cls(
            shots=tuple(shots),
            adjustment=adjust(sessions, figures, tolerances),
            observed=observed,
            tolerances=tolerances,
            corrections=tuple(corrections),
        )

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
    spacing = _kind(checks.spacing_error, checks.spacing_sigma, tolerances.spacing, tolerances.confidence)
    bow = _kind(
        checks.collinearity, checks.collinearity_sigma, tolerances.collinearity, tolerances.confidence
    )
    return spacing.outside | bow.outside


def _in_doubt(
    adjustment: Adjustment, found: Standing, at: IntArray, decided: BoolArray, unit: str, *, refused: bool
) -> Block:
    share, keys = move_share(adjustment), adjustment.sessions.keys
    session, move = found.session[at], found.against[at]
    words = [_words(adjustment, one, each) for one, each in zip(session.tolist(), move.tolist(), strict=True)]
    named = [keys[each].words if each >= 0 else "" for each in session.tolist()]
    return Block(
        code="session in doubt",
        rows=at,
        values={
            "file": np.array(named, dtype=object),
            "explanation": np.array(words, dtype=object),
            "share": share[session, np.maximum(move, 0)],
            "along": found.centre[at, 0],
            "across": found.centre[at, 1],
            "unit": unit,
            "check_ins": adjustment.check_ins[session],
            "accepted": decided,
            "refused": refused,
            "odd": np.array([odd_check_in(adjustment, each) for each in session.tolist()], dtype=object),
        },
        weight=Severity.WRONG if refused else None,
    )


def _words(adjustment: Adjustment, session: int, move: int) -> str:
    """Say the likeliest explanation with this move of the survey; "" = the check-ins do not determine it."""
    if move < 0:
        return ""
    able = np.flatnonzero(move == MOVE)
    return EXPLANATIONS[int(able[adjustment.share[session, able].argmax()])].words
