"""What the explanations that stand in a session say of each of its frames."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.design.tolerance import Tolerance, Tolerances
from linemap.domain.sessions.adjustment import Adjustment, move_share
from linemap.domain.sessions.explanation import ALONE, LAWS, STANDS
from linemap.domain.survey.residual import Residual
from linemap.domain.survey.session import centre_limits
from linemap.domain.survey.verdict import Checks

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
    kinds = [kind_of(turn, np.sqrt(turn_variance), tolerances.rotation_deg, tolerances.confidence)]
    for axis, tolerance in enumerate((tolerances.along_tangent, tolerances.across)):
        sigma = np.sqrt(np.maximum(variance[:, axis], 0.0))
        kinds.append(kind_of(centre[:, axis], sigma, tolerance, tolerances.confidence, limit[:, axis]))
    return _Judged(
        shown=at,
        move=move,
        stands=stands,
        inside=np.logical_and.reduce([kind.inside(tolerances.confidence) for kind in kinds])
        & (~stands | adjustment.checked[shown[at, 0], move]),
        outside=np.logical_or.reduce([kind.outside for kind in kinds]),
        centre=centre,
    )


def kind_of(
    value: FloatArray,
    sigma: FloatArray,
    tolerance: Tolerance,
    confidence: float,
    limit: FloatArray | None = None,
) -> Residual:
    """Judge values against a tolerance, or against a limit of each frame, where they are known."""
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
