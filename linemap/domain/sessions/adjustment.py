"""One survey, one solution: what every session's shots share, by explanations that compete.

Frames alone never tell a moved survey from a line staked off: both move frames alike. Check-ins do, and they
see a survey moved from the same base as the stakes, whose frames look right.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.sessions.explanation import (
    BOTH,
    EXPLANATIONS,
    FLOOR_FT,
    FREE,
    LAWS,
    MOVE,
    NOTHING,
    PRIOR,
    SAME_BASE,
    STAKED,
    STANDS,
    WIDER,
)
from linemap.domain.sessions.fits import SideBySide, Solved, change_of
from linemap.domain.sessions.mixture import left_out, misfit
from linemap.domain.survey.session import CheckIns, Sessions, own_axes, sessions_of
from linemap.domain.survey.set_poles import centres_of
from linemap.domain.survey.shot_match import MatchedShots

_LAWS = len(LAWS)


class Found(NamedTuple):
    """Numbers of a law in one session: shift east and north, slopes at `Adjustment.far`; grid."""

    numbers: FloatArray
    covariance: FloatArray


class Moves(NamedTuple):
    """What a law tells of frames: how far it moved them, with variances; columns of one length."""

    #: (k, 2) along and across, ground unit.
    centre: FloatArray
    centre_variance: FloatArray
    #: Of the arm, clockwise, degrees.
    turn_deg: FloatArray
    turn_variance: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adjustment:
    """How well each explanation stands in each session, and what it says of frames."""

    sessions: Sessions
    figures: Figures
    #: (s, explanations) probability of each of `EXPLANATIONS`.
    share: FloatArray
    #: (s,) check-ins and whole frames of each session.
    check_ins: IntArray
    frames: IntArray
    #: Slopes are lengths at the distance `far` from `middle`, grid; (s, 2), (s,).
    middle: FloatArray
    far: FloatArray
    #: Laws fitted to the frames alone, to frames and check-ins together, to the check-ins alone.
    of_frames: Solved
    together: Solved
    alone: Solved
    #: (s, m, 2, 4) columns and (s, m, 2) vectors in sigmas: check-ins first, then frames.
    columns: FloatArray
    observed: FloatArray
    #: Place of each frame of `sessions` on that axis.
    slot: IntArray
    #: What staking scatters as a whole beside a correction, ground unit.
    floor: float

    @property
    def standing(self) -> BoolArray:
        """Return which moves of a survey stand in each session: (s, 1 + 2 laws), see `explanation.MOVE`."""
        found = np.zeros((len(self.share), 1 + 2 * _LAWS), dtype=np.bool_)
        session, explanation = np.nonzero(self.share >= STANDS)
        found[session, MOVE[explanation]] = True
        return found

    @property
    def determined(self) -> BoolArray:
        """Return which laws the check-ins of each session determine by themselves, (s, laws)."""
        return np.isfinite(self.alone.cost)

    def found_of(self, session: int, law: int) -> Found:
        """Return the numbers of a law in a session, with the covariance of those it leaves free.

        By frames and check-ins together, or by check-ins alone where that is likelier.
        """
        share = move_share(self)[session]
        solved = self.alone if share[1 + _LAWS + law] > share[1 + law] else self.together
        free = FREE[law]
        covariance = np.linalg.inv(solved.normal[session, law]) * np.outer(free, free)
        return Found(solved.numbers[session, law], covariance)

    @property
    def checked(self) -> BoolArray:
        """Return which moves of each session are not left to a single check-in that may be bad.

        By frames and check-ins together all; by check-ins alone a shift, and slopes that they still
        determine with one left out.
        """
        spare = 2 * (self.check_ins[:, np.newaxis] - 1) >= FREE.sum(axis=1)
        alone = spare | ~FREE[:, 2:].any(axis=1)
        every = np.ones((len(alone), 1 + _LAWS), dtype=np.bool_)
        return np.concatenate([every, alone], axis=1)

    def moves(self, session: IntArray, move: IntArray, row: IntArray) -> Moves:
        """Say how far moves of their sessions moved frames of rows, each frame without what it says itself.

        `move` is above 0: by frames and check-ins together, or by check-ins alone (`explanation.MOVE`).
        """
        alone = move > _LAWS
        law = move - 1 - _LAWS * alone
        slot = self._slot_of(session, row)
        solved = [
            np.where(alone[:, np.newaxis], *pair) for pair in self._both("fixed", "values", session, law)
        ]
        values = solved[1]
        normal = np.where(
            alone[:, np.newaxis, np.newaxis],
            self.alone.normal[session, law],
            self.together.normal[session, law],
        )
        free = FREE[law]
        covariance = np.linalg.inv(normal) * (free[:, :, np.newaxis] & free[:, np.newaxis])
        fitted = np.flatnonzero(~alone & (slot >= 0))
        if fitted.size:
            at = session[fitted], slot[fitted]
            left = self.observed[at] - np.einsum("kap,kp->ka", self.columns[at], (solved[0] + values)[fitted])
            columns = self.columns[at] * free[fitted, np.newaxis]
            weight = self.together.weights[session[fitted], law[fitted], slot[fitted]]
            values[fitted], covariance[fitted] = left_out(
                values[fitted], covariance[fitted], weight, columns, left
            )
        floor = np.where(alone & free.any(axis=1), 0.0, self.floor)
        return self._moved(session, row, solved[0] + values, covariance, floor)

    def _both(
        self, first: str, second: str, session: IntArray, law: IntArray
    ) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
        one, two = (
            (getattr(self.alone, name)[session, law], getattr(self.together, name)[session, law])
            for name in (first, second)
        )
        return one, two

    def _slot_of(self, session: IntArray, row: IntArray) -> IntArray:
        """Return the places of frames that entered the fits, -1 for others."""
        size = len(self.figures)
        known, wanted = self.sessions.session * size + self.sessions.row, session * size + row
        if not len(known):
            return np.full(len(row), -1, dtype=np.int64)
        at = np.minimum(np.searchsorted(known, wanted), len(known) - 1)
        return np.asarray(np.where(known[at] == wanted, self.slot[at], -1))

    def _moved(
        self, session: IntArray, row: IntArray, numbers: FloatArray, covariance: FloatArray, floor: FloatArray
    ) -> Moves:
        far = self.far[session]
        place = (centres_of(self.figures)[row] - self.middle[session]) / far[:, np.newaxis]
        columns = own_axes(self.figures, row) @ change_of(place)
        to_deg = np.degrees(1.0 / far)
        return Moves(
            centre=np.einsum("kap,kp->ka", columns, numbers),
            centre_variance=WIDER**2 * np.einsum("kap,kpq,kaq->ka", columns, covariance, columns)
            + floor[:, np.newaxis] ** 2,
            turn_deg=numbers[:, 3] * to_deg,
            turn_variance=WIDER**2 * covariance[:, 3, 3] * to_deg**2,
        )


def adjust(sessions: Sessions, figures: Figures, tolerances: Tolerances) -> Adjustment:
    """Weigh every explanation of every session; see the module.

    Setting scatter, a third of a tolerance, is part of a frame's sigma. In a session without frames and
    check-ins nothing is shared.
    """
    made = SideBySide.of(sessions, figures, tolerances)
    every = np.flatnonzero(made.is_frame.any(axis=1))
    controlled = np.flatnonzero(made.check_ins)
    of_frames = made.solve(every, made.is_frame)
    together = made.solve(controlled, made.used, start=of_frames)
    alone = made.solve(controlled, made.is_check, spare=0)
    nothing = misfit(np.square(made.observed).sum(axis=2), made.bad)[0]
    none_frames = (nothing * made.is_frame).sum(axis=1)
    none_checks = (nothing * made.is_check).sum(axis=1)
    cost = _costs(of_frames.cost, together.cost, alone.cost, none_frames, none_checks)
    odds = np.exp(-0.5 * (cost - cost.min(axis=1, keepdims=True)))
    return Adjustment(
        sessions=sessions,
        figures=figures,
        share=odds / odds.sum(axis=1, keepdims=True),
        check_ins=made.check_ins,
        frames=made.is_frame.sum(axis=1),
        middle=made.middle,
        far=made.far,
        of_frames=of_frames,
        together=together,
        alone=alone,
        columns=made.columns,
        observed=made.observed,
        slot=made.slot,
        floor=FLOOR_FT * made.foot,
    )


def adjusted(
    matched: MatchedShots,
    figures: Figures,
    tolerances: Tolerances,
    check_ins: CheckIns,
    only: BoolArray | None = None,
) -> Adjustment:
    """Adjust the sessions of pole shots and of check-ins; see `adjust`.

    `only` limits it to sessions that show two frames of some rows or more, or have check-ins.
    """
    sessions = sessions_of(matched, figures, tolerances, check_ins)
    return adjust(sessions if only is None else sessions.with_frames_at(only), figures, tolerances)


def _costs(
    frames: FloatArray,
    together: FloatArray,
    alone: FloatArray,
    none_frames: FloatArray,
    none_checks: FloatArray,
) -> FloatArray:
    """Return the cost of each of `EXPLANATIONS` with its prior, (s, explanations)."""
    prior = -2.0 * np.log(PRIOR)
    both = alone[:, :, np.newaxis] + frames[:, np.newaxis] + prior[:, np.newaxis] - 2.0 * math.log(BOTH)
    cost = np.concatenate(
        [
            (none_frames + none_checks - 2.0 * math.log(NOTHING))[:, np.newaxis],
            frames + none_checks[:, np.newaxis] + prior - 2.0 * math.log(STAKED),
            together + prior,
            alone + none_frames[:, np.newaxis] + prior - 2.0 * math.log(SAME_BASE),
            both.reshape(len(frames), _LAWS**2),
        ],
        axis=1,
    )
    if cost.shape[1] != len(EXPLANATIONS):
        raise AssertionError("every explanation has a cost")
    return cost


def uncertainty_of(
    correction: Mapping[str, Any], adjustment: Adjustment, session: int, rows: IntArray
) -> FloatArray:
    """Return the variances a correction of a session leaves of frames: along, across, of the arm.

    (k, 3), ground unit and degrees. A correction without a covariance has that of the likeliest law.
    """
    spread = np.zeros((4, 4))
    about, far = adjustment.middle[session], 1.0
    if "covariance" in correction:
        given = np.asarray(correction["covariance"], dtype=np.float64)
        spread[: len(given), : len(given)] = given
        about = np.asarray(correction.get("about", about))
    else:
        law = int(move_share(adjustment)[session, 1:].argmax()) % _LAWS
        spread, far = adjustment.found_of(session, law).covariance, float(adjustment.far[session])
    place = (centres_of(adjustment.figures)[rows] - about) / far
    columns = own_axes(adjustment.figures, rows) @ change_of(place)
    centre = np.einsum("kap,pq,kaq->ka", columns, spread, columns)
    turn = np.full(len(rows), spread[3, 3] * np.degrees(1.0 / far) ** 2)
    return np.column_stack([centre + adjustment.floor**2, turn])


def move_share(adjustment: Adjustment) -> FloatArray:
    """Return the probability of each move in each session, whatever moved the stakes; (s, 1 + 2 laws)."""
    return np.asarray(adjustment.share @ (MOVE[:, np.newaxis] == np.arange(1 + 2 * _LAWS)))
