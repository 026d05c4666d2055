"""Sessions laid side by side, and every law fitted to their frames, their check-ins, or both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.sessions.explanation import (
    BAD_CHECK_IN,
    BAD_FRAME,
    FOOT,
    FREE,
    INDEX,
    LARGE_FT,
    LAWS,
    SMALL_FT,
)
from linemap.domain.sessions.mixture import Vectors, fit, misfit
from linemap.domain.survey.session import Sessions, centre_limits, own_axes
from linemap.domain.survey.set_poles import centres_of

_LAWS = len(LAWS)
_ROTATION = INDEX["rotation"]
#: A combined factor this near 1 is none.
_WORST_FACTOR = 5e-6
#: Slopes are told in feet at the session's own distance from its middle, at least this.
_NEAREST_FT = 300.0
#: Rounds after which a rotation of a few degrees is exact, and the shortening of its chord that needs them.
_STRAIGHTENED, _SHORTENED_FT = 3, 0.002


#: Sessions are of about one size where one has at most four times the vectors of another.
_OF_ONE_SIZE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """Fits of every law to every session: (s, laws, ...)."""

    #: What a law fixes, and what was found beside it: shift east and north, slopes at `Adjustment.far`, grid.
    fixed: FloatArray
    values: FloatArray
    weights: FloatArray
    normal: FloatArray
    #: -2 ln of the evidence; inf where the law is not one, or not determined.
    cost: FloatArray

    @property
    def numbers(self) -> FloatArray:
        """All four numbers, fixed and found."""
        return self.fixed + self.values


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideBySide:
    """Sessions side by side, padded to the largest: check-ins first, then frames."""

    columns: FloatArray
    observed: FloatArray
    bad: FloatArray
    is_check: BoolArray
    is_frame: BoolArray
    check_ins: IntArray
    middle: FloatArray
    far: FloatArray
    fixed: FloatArray
    possible: BoolArray
    slot: IntArray
    #: One foot in the unit of the lines.
    foot: float

    @property
    def used(self) -> BoolArray:
        """Return which places hold anything."""
        return self.is_check | self.is_frame

    @classmethod
    def of(cls, sessions: Sessions, figures: Figures, tolerances: Tolerances) -> SideBySide:
        """Lay sessions side by side; setting scatter, a third of a tolerance, is part of a frame's sigma."""
        size = len(sessions.keys)
        foot = figures.lines[0].ground(0.3048) if figures.lines else 1.0
        frames = np.bincount(sessions.session, minlength=size)
        checks = np.bincount(sessions.check_session, minlength=size)
        first = int(checks.max(initial=0))
        frame_slot = first + _places(sessions.session, frames)
        check_slot = _places(sessions.check_session, checks)
        wide = first + int(frames.max(initial=0))
        centre = centres_of(figures)[sessions.row]
        middle = _means(sessions.session, centre, frames)
        bare = (frames == 0) & (checks > 0)
        middle[bare] = _means(sessions.check_session, sessions.check_at, checks)[bare]
        square = np.square(centre - middle[sessions.session]).sum(axis=1)
        rms = np.sqrt(np.bincount(sessions.session, weights=square, minlength=size) / np.maximum(frames, 1))
        far = np.maximum(rms, _NEAREST_FT * foot)
        shape = (size, wide)
        columns, observed = np.zeros((*shape, 2, 4)), np.zeros((*shape, 2))
        is_check, is_frame = np.zeros(shape, dtype=np.bool_), np.zeros(shape, dtype=np.bool_)
        scatter = centre_limits(figures, sessions.row, tolerances) / 3.0
        whiten = (
            own_axes(figures, sessions.row)
            / np.hypot(scatter, sessions.sigma[:, np.newaxis])[..., np.newaxis]
        )
        at = sessions.session, frame_slot
        is_frame[at] = True
        columns[at] = whiten @ change_of((centre - middle[at[0]]) / far[at[0], np.newaxis])
        observed[at] = np.einsum("kij,kj->ki", whiten, sessions.off)
        at = sessions.check_session, check_slot
        is_check[at] = True
        place = change_of((sessions.check_at - middle[at[0]]) / far[at[0], np.newaxis])
        columns[at] = place / sessions.check_sigma[:, np.newaxis, np.newaxis]
        observed[at] = sessions.check_off / sessions.check_sigma[:, np.newaxis]
        fixed, possible = _fixed(sessions, figures, middle, far)
        return cls(
            columns=columns,
            observed=observed,
            bad=np.where(is_check, BAD_CHECK_IN, BAD_FRAME),
            is_check=is_check,
            is_frame=is_frame,
            check_ins=checks,
            middle=middle,
            far=far,
            fixed=fixed,
            possible=possible,
            slot=frame_slot,
            foot=foot,
        )

    def solve(
        self,
        sessions: IntArray,
        used: BoolArray,
        *,
        start: Solved | None = None,
        spare: int = 1,
    ) -> Solved:
        """Fit every law to some vectors of some sessions; the others keep `start`, or have no fit.

        A law is fitted where its numbers are determined with `spare` vectors left out.
        """
        size, wide = self.is_check.shape
        if start is None:
            solved = Solved(
                fixed=self.fixed.copy(),
                values=np.zeros((size, _LAWS, 4)),
                weights=np.zeros((size, _LAWS, wide)),
                normal=np.tile(np.eye(4), (size, _LAWS, 1, 1)),
                cost=np.full((size, _LAWS), np.inf),
            )
        else:
            solved = Solved(**{name: getattr(start, name).copy() for name in Solved.__dataclass_fields__})
        enough = used[sessions].sum(axis=1) - spare
        numbers = FREE.sum(axis=1)
        determined = (numbers == 0) | (2 * enough[:, np.newaxis] >= numbers)
        at, law = np.nonzero(self.possible[sessions] & determined)
        solved.cost[sessions] = np.inf
        session = sessions[at]
        bound = FREE[law].any(axis=1)
        self._weigh(solved, session[~bound], law[~bound], used)
        sloped = FREE[law, 2:].any(axis=1)
        for alike in (bound & ~sloped, sloped):
            self._fit(solved, session[alike], law[alike], used)
        turned = bound & (law == _ROTATION)
        session = session[turned]
        for _ in range(_STRAIGHTENED):
            sine = solved.values[session, _ROTATION, 3] / self.far[session]
            shorter = self.far[session] * (np.sqrt(np.maximum(1.0 - sine**2, 0.0)) - 1.0)
            new = np.abs(shorter - solved.fixed[session, _ROTATION, 2]) > _SHORTENED_FT * self.foot
            session = session[new]
            if not session.size:
                break
            solved.fixed[session, _ROTATION, 2] = shorter[new]
            self._fit(solved, session, np.full(len(session), _ROTATION), used)
        return solved

    def _left(self, solved: Solved, session: IntArray, law: IntArray, wide: int | None = None) -> FloatArray:
        """Return the first vectors of sessions less what laws fix."""
        fixed = solved.fixed[session, law][:, np.newaxis, :, np.newaxis]
        return np.asarray(self.observed[session, :wide] - (self.columns[session, :wide] @ fixed)[..., 0])

    def _weigh(self, solved: Solved, session: IntArray, law: IntArray, used: BoolArray) -> None:
        """Weigh laws that leave nothing free."""
        square = np.square(self._left(solved, session, law)).sum(axis=2)
        density, weights = misfit(square, self.bad[session])
        solved.weights[session, law] = weights * used[session]
        solved.cost[session, law] = (density * used[session]).sum(axis=1)

    def _fit(self, solved: Solved, session: IntArray, law: IntArray, used: BoolArray) -> None:
        """Fit laws with free numbers, sessions of about one size at a time: few are the largest."""
        if not session.size:
            return
        reach = used.shape[1] - used[:, ::-1].argmax(axis=1)[session]
        size = np.floor(np.log2(reach) / _OF_ONE_SIZE)
        for each in np.unique(size):
            alike = size == each
            self._fit_alike(solved, session[alike], law[alike], used, int(reach[alike].max()))

    def _fit_alike(
        self, solved: Solved, session: IntArray, law: IntArray, used: BoolArray, wide: int
    ) -> None:
        here, free = used[session, :wide], FREE[law]
        mask = here[..., np.newaxis, np.newaxis]
        found = fit(
            Vectors(
                observed=self._left(solved, session, law, wide) * mask[..., 0],
                columns=self.columns[session, :wide] * free[:, np.newaxis, np.newaxis] * mask,
                bad=self.bad[session, :wide],
                used=here,
                trusted=here & self.is_check[session, :wide],
                free=free,
            ),
            small=SMALL_FT * self.foot,
            large=LARGE_FT * self.foot,
        )
        solved.values[session, law] = found.values
        solved.weights[session, law, :wide] = found.weights
        solved.normal[session, law] = found.normal
        solved.cost[session, law] = found.cost


def _places(group: IntArray, size: IntArray) -> IntArray:
    """Return the number of each member within its group, in their order from 0."""
    order = np.argsort(group, kind="stable")
    place = np.empty(len(group), dtype=np.int64)
    place[order] = np.arange(len(group)) - np.repeat(np.cumsum(size) - size, size)
    return place


def _means(group: IntArray, values: FloatArray, size: IntArray) -> FloatArray:
    sums = [np.bincount(group, weights=values[:, axis], minlength=len(size)) for axis in (0, 1)]
    return np.column_stack(sums) / np.maximum(size, 1)[:, np.newaxis]


def _fixed(
    sessions: Sessions, figures: Figures, middle: FloatArray, far: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Return the numbers each law fixes in each session, (s, laws, 4), and which laws can be there at all."""
    fixed = np.zeros((len(far), _LAWS, 4))
    possible = np.ones((len(far), _LAWS), dtype=np.bool_)
    for name, slope in (("foot small", -FOOT), ("foot large", FOOT)):
        fixed[:, INDEX[name], :2] = slope * middle
        fixed[:, INDEX[name], 2] = slope * far
    factor = np.full(len(far), np.nan)
    declared = np.array([each.combined_factor_declared for each in figures.lines], dtype=np.bool_)
    line = figures.line_index[sessions.row[::-1]]
    of_row = figures.combined_factor[sessions.row[::-1]]
    factor[sessions.session[::-1]] = np.where(declared[line], of_row, np.nan) if len(line) else 0.0
    known = np.abs(factor - 1.0) >= _WORST_FACTOR
    slopes = np.where(known, factor, 1.0)
    fixed[:, INDEX["ground"], 2] = (1.0 / slopes - 1.0) * far
    fixed[:, INDEX["twice"], 2] = (slopes - 1.0) * far
    possible[:, [INDEX["ground"], INDEX["twice"]]] = known[:, np.newaxis]
    return fixed, possible


def change_of(place: FloatArray) -> FloatArray:
    """Return (..., 2, 4): change of a grid place with shift east, shift north, scale, clockwise rotation."""
    east, north = place[..., 0], place[..., 1]
    one, none = np.ones_like(east), np.zeros_like(east)
    return np.stack(
        [np.stack([one, none, east, north], axis=-1), np.stack([none, one, north, -east], axis=-1)], axis=-2
    )
