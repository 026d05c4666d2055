"""Survey sessions: the shots of one file and one day, which share a base, a localisation and its faults.

A session shows frames whole, off their design, and check-ins: shots on control points, off where these are.
What all of them share is found from both (`linemap.domain.sessions.adjustment`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.residual import held_tight
from linemap.domain.survey.set_poles import centres_of
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import MatchedShots
from linemap.geometry.frame import ahead_right

#: A session's shots of one pole that lie farther apart than this (1 ft) tell no single place.
_ONE_PLACE_M = 0.3048
#: Measured and design distance of the outer poles may differ by this (5 ft) in a frame.
_FRAME_M = 1.524
#: A frame farther off its design than this (500 ft) is one read wrongly, not one moved with its session.
_FAR_M = 152.4


class Session(NamedTuple):
    """One survey session: what one base and one localisation shares."""

    file: str
    #: ISO day of the observations, "" = not known.
    day: str

    @classmethod
    def of(cls, shot: Shot) -> Session:
        """Return the session of a shot."""
        return cls(shot.file, shot.observed_on)

    @property
    def words(self) -> str:
        """Name it for people.

        >>> Session("may.csv", "2026-04-29").words, Session("", "").words
        ('file may.csv, 2026-04-29', 'shots without a file')
        """
        name = f"file {self.file}" if self.file else "shots without a file"
        return f"{name}, {self.day}" if self.day else name


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CheckIns:
    """Shots on control points; columns of one length c."""

    #: Session of each.
    session: tuple[Session, ...] = ()
    #: (c, 2) where the control point is, and the shot minus that; grid.
    at: FloatArray
    off: FloatArray
    #: (c,) standard deviation of each difference per axis, of shot and mark together, ground unit.
    sigma: FloatArray


NO_CHECK_INS = CheckIns(at=np.zeros((0, 2)), off=np.zeros((0, 2)), sigma=np.zeros(0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sessions:
    """What the sessions of a survey show of frames and of control points, as columns over each."""

    keys: tuple[Session, ...]
    #: Of each frame that one session shows whole: its session (index into `keys`) and its row of `Figures`.
    session: IntArray
    row: IntArray
    #: (k, 2) frame centre as shot minus as designed, grid.
    off: FloatArray
    #: (k,) standard deviation of that centre by itself, per axis, ground unit.
    sigma: FloatArray
    #: Session and row of every structure of which a session shot a pole, (s, 2) without repeats.
    shown: IntArray
    #: Check-ins: their session, where the control point is and how far off it was shot, (c, 2) grid, sigma.
    check_session: IntArray
    check_at: FloatArray
    check_off: FloatArray
    check_sigma: FloatArray

    def with_frames_at(self, rows: BoolArray) -> Sessions:
        """Return them with the frames only of sessions that show two of some rows or more, or control."""
        shown = np.bincount(self.session[rows[self.row]], minlength=len(self.keys)) >= 2
        shown[self.check_session] = True
        kept = shown[self.session]
        frames = {name: getattr(self, name)[kept] for name in ("session", "row", "off", "sigma")}
        return replace(self, **frames)

    def days_of(self, file: str) -> tuple[str, ...]:
        """Return the days of the sessions of a file."""
        return tuple(each.day for each in self.keys if each.file == file)

    def named(self, file: str, day: str | None = None) -> IntArray:
        """Return the sessions of a file, of one day if one is given."""
        found = [i for i, each in enumerate(self.keys) if each.file == file and day in (None, each.day)]
        return np.array(found, dtype=np.int64)


def sessions_of(
    matched: MatchedShots, figures: Figures, tolerances: Tolerances, check_ins: CheckIns = NO_CHECK_INS
) -> Sessions:
    """Gather the frames each session shows whole, and its check-ins.

    A frame is left out where the session's shots of one pole lie more than 1 ft apart, where its outer poles
    do not stand as far apart as designed, within 5 ft, and more than 500 ft off its design.
    """
    of_shots = [Session.of(shot) for shot in matched.shots]
    keys = tuple(sorted({*of_shots, *check_ins.session}))
    position = {key: index for index, key in enumerate(keys)}
    session = _positions(of_shots, position)
    of_frame, row, at, sigma = _frames(matched, session, figures, tolerances)
    off = at - centres_of(figures)[row]
    near = np.hypot(off[:, 0], off[:, 1]) * figures.grid_metres[row] <= _FAR_M
    pairs = np.unique(np.column_stack([session, matched.row]), axis=0)
    return Sessions(
        keys=keys,
        session=of_frame[near],
        row=row[near],
        off=off[near],
        sigma=sigma[near],
        shown=pairs,
        check_session=_positions(check_ins.session, position),
        check_at=check_ins.at,
        check_off=check_ins.off,
        check_sigma=check_ins.sigma,
    )


def _positions(sessions: Sequence[Session], position: dict[Session, int]) -> IntArray:
    return np.fromiter((position[each] for each in sessions), np.int64, len(sessions))


def _frames(
    matched: MatchedShots, session: IntArray, figures: Figures, tolerances: Tolerances
) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Return session, row, (k, 2) centre and sigma of each frame whose outer poles one session shows."""
    size = len(figures) * 3
    known, of_pole = np.unique(session * size + matched.row * 3 + matched.pole, return_inverse=True)
    if not len(known):
        none = np.zeros(0, dtype=np.int64)
        return none, none, np.zeros((0, 2)), np.zeros(0)
    shots = np.bincount(of_pole)
    at = np.column_stack([np.bincount(of_pole, weights=matched.at[:, axis]) / shots for axis in (0, 1)])
    spread, sigma = np.zeros(len(known)), np.zeros(len(known))
    np.maximum.at(spread, of_pole, np.hypot(*(matched.at - at[of_pole]).T))
    np.maximum.at(sigma, of_pole, _sigmas(matched.shots, tolerances.shot_sigma))
    row = (known % size) // 3
    steady = spread * figures.grid_metres[row] <= _ONE_PLACE_M
    known, at, sigma, row = known[steady], at[steady], sigma[steady], row[steady]
    first = np.flatnonzero(known % 3 == 0)
    outer = known[first] + figures.structures.pole_count[row[first]] - 1
    last = np.minimum(np.searchsorted(known, outer), len(known) - 1)
    both = known[last] == outer
    first, last = first[both], last[both]
    whole = _looks_like_a_frame(figures, row[first], at[last] - at[first])
    first, last = first[whole], last[whole]
    centre, own = (at[first] + at[last]) / 2.0, np.hypot(sigma[first], sigma[last]) / 2.0
    return known[first] // size, row[first], centre, own


def _sigmas(shots: Iterable[Shot], default: float) -> FloatArray:
    return np.array([default if shot.sigma is None else shot.sigma for shot in shots], dtype=np.float64)


def _looks_like_a_frame(figures: Figures, row: IntArray, across: FloatArray) -> BoolArray:
    design = figures.structures.spacing[row] * (figures.structures.pole_count[row] - 1)
    measured = np.hypot(across[:, 0], across[:, 1]) / figures.combined_factor[row]
    metres = figures.of_lines(lambda line: line.unit.metres)[row]
    return np.asarray(np.isnan(design) | (np.abs(measured - design) * metres <= _FRAME_M))


def own_axes(figures: Figures, rows: IntArray) -> FloatArray:
    """Return (m, 2, 2) matrices that turn grid (east, north) into ground (along, across) of each row."""
    azimuth = figures.structure_azimuth_deg[rows]
    east, north = (np.stack(ahead_right(*way, azimuth), axis=1) for way in ((1.0, 0.0), (0.0, 1.0)))
    turn = np.stack([east, north], axis=2)
    return np.asarray(turn / figures.combined_factor[rows][:, np.newaxis, np.newaxis])


def centre_limits(figures: Figures, rows: IntArray, tolerances: Tolerances) -> FloatArray:
    """Return the (m, 2) tolerances of each row's centre along (tight at angles and breaks) and across."""
    loose, tight = tolerances.along_tangent.value, tolerances.along_angle.value
    along = np.where(held_tight(figures, rows), tight, loose)
    return np.column_stack([along, np.full(len(rows), tolerances.across.value)])
