"""Simulated survey sessions: what passes wrongly, what is passed of the right ones, what is left open.

Every session is a line of its own with its truth: frames set with scatter, some of them badly, all of them
perhaps staked off by a law; the shots perhaps moved by one, with a few check-ins, 3 % of them on a bad mark.
Whatever correction is proposed is accepted. What is made here knows nothing of how it is explained.
"""

from __future__ import annotations

import sys
import time
import zlib
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from linemap.domain.causes.session_verdict import with_sessions
from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray, Structures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.sessions.adjustment import adjust, move_share
from linemap.domain.sessions.explanation import LAWS, STANDS
from linemap.domain.survey.orientation import check
from linemap.domain.survey.session import Session, Sessions
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.verdict import Checks, Verdict
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit

__all__ = ["CELLS", "Cell", "Tally", "main", "tally"]

FACTOR, FOOT = 0.9992, 2e-6
SHOT, COMMON, MARK = 0.03, 0.02, 0.02
BAD_MARK, THREE_POLES, CHUNK = 0.03, 0.2, 250
#: The seed the thresholds were looked at with, and one they were not.
SEEDS = (7, 20_261_130)
TOLERANCES = Tolerances.default(LengthUnit.FOOT)
_SLOPES = {"scale": (1, 0), "rotation": (0, 1), "similarity": (1, 1)}
KINDS = (
    "none", "shift", "scale", "rotation", "similarity", "foot", "factor", "staked", "staked by factor",
    "same base", "same base, foot", "both",
)  # fmt: skip


class Cell(NamedTuple):
    """What is the same in all sessions of one line of the table."""

    kind: str
    frames: int
    check_ins: int
    #: Share of bad frames, and True where those of a session are all bad alike.
    bad: float
    alike: bool


CELLS = tuple(
    Cell(kind, frames, check_ins, bad, alike)
    for check_ins in (2, 1, 0, 3)
    for frames in (2, 3, 10, 40, 60)
    for kind in KINDS
    for bad, alike in ((0.1, False), (0.3, True))
    if check_ins < 3 or frames == 10
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many frames, by truth (0 bad, 1 good) and verdict (fail, cannot tell, pass)."""

    counts: IntArray

    def share(self, part: IntArray, whole: IntArray) -> float:
        return 100.0 * float(part.sum()) / max(float(whole.sum()), 1.0)

    @property
    def wrong_passes(self) -> float:
        """Share of passes that are bad frames, percent."""
        return self.share(self.counts[0, 2], self.counts[:, 2])

    @property
    def bad_passed(self) -> float:
        """Share of bad frames that pass, percent."""
        return self.share(self.counts[0, 2], self.counts[0])

    @property
    def power(self) -> float:
        """Share of good frames that pass, percent."""
        return self.share(self.counts[1, 2], self.counts[1])

    @property
    def good_failed(self) -> float:
        """Share of good frames that fail, percent."""
        return self.share(self.counts[1, 0], self.counts[1])

    @property
    def cannot_tell(self) -> float:
        """Share of frames without an answer, percent."""
        return self.share(self.counts[:, 1], self.counts)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Made:
    """Sessions of one size with their truth; places are east + i north, (sessions, frames)."""

    figures: Figures
    #: (sessions, frames, 3) poles A, B, C as shot.
    shot: FloatArray
    check_at: FloatArray
    check_off: FloatArray
    good: BoolArray


def tally(cell: Cell, count: int, seed: int) -> tuple[Tally, Tally]:
    """Judge `count` sessions before anything is decided, and with whatever is proposed accepted."""
    name = zlib.crc32(cell.kind.encode())
    rng = np.random.default_rng([seed, name, cell.frames, cell.check_ins, int(10 * cell.bad)])
    before, after = np.zeros((2, 3), dtype=np.int64), np.zeros((2, 3), dtype=np.int64)
    for first in range(0, count, CHUNK):
        made = _make(rng, cell, min(CHUNK, count - first))
        for counts, checks in zip((before, after), _judge(made), strict=True):
            for truth in (0, 1):
                for column, verdict in enumerate((Verdict.FAIL, Verdict.CANNOT_TELL, Verdict.PASS)):
                    chosen = (made.good.ravel() == bool(truth)) & (checks.verdict == verdict)
                    counts[truth, column] += int(chosen.sum())
    return Tally(counts=before), Tally(counts=after)


def _judge(made: _Made) -> tuple[Checks, Checks]:
    size, frames = made.good.shape
    observed = _check(made.figures, made.shot)
    row = np.arange(size * frames)
    session = row // frames
    last = made.figures.structures.pole_count - 1
    flat = made.shot.reshape(-1, 3)
    centre = (flat[:, 0] + flat[row, last]) / 2.0
    design = made.figures.structures.easting + 1j * made.figures.structures.northing
    check_session = np.repeat(np.arange(size), made.check_at.shape[1])
    sessions = Sessions(
        keys=tuple(Session(f"{i}.csv", "2026-05-04") for i in range(size)),
        session=session,
        row=row,
        off=_plane(centre - design),
        sigma=np.full(len(row), SHOT / 2**0.5),
        shown=np.column_stack([session, row]),
        check_session=check_session,
        check_at=_plane(made.check_at.ravel()),
        check_off=_plane(made.check_off.ravel()),
        check_sigma=np.full(len(check_session), float(np.hypot(SHOT, MARK))),
    )
    adjustment = adjust(sessions, made.figures, TOLERANCES)
    before = with_sessions(observed, observed, adjustment, TOLERANCES, np.zeros(0, dtype=np.int64))
    moved = move_share(adjustment)[:, 1:]
    accepted = np.flatnonzero((adjustment.share[:, 0] < STANDS) & (moved.max(axis=1) >= STANDS))
    law = moved.argmax(axis=1) % len(LAWS)
    numbers = np.array([adjustment.found_of(i, int(each)).numbers for i, each in enumerate(law)])
    middle = adjustment.middle @ np.array([1.0, 1.0j])
    grown = 1.0 + (numbers[:, 2] - 1j * numbers[:, 3]) / adjustment.far
    grown, shift = grown[:, None, None], (numbers[:, 0] + 1j * numbers[:, 1])[:, None, None]
    at = middle[:, None, None]
    put_right = made.shot.copy()
    put_right[accepted] = (at + (made.shot - at - shift) / grown)[accepted]
    shown = _check(made.figures, put_right)
    return before, with_sessions(shown, observed, adjustment, TOLERANCES, accepted)


def _check(computed: Figures, shot: FloatArray) -> Checks:
    flat = shot.reshape(-1, 3)
    known = np.isfinite(flat)
    poles = SetPoles(
        position=np.stack([flat.real, flat.imag], axis=-1),
        elevation=np.full(flat.shape, np.nan),
        sigma=np.where(known, SHOT, np.nan),
        count=known.astype(np.int64),
        conflict=np.zeros(len(flat), dtype=np.bool_),
        unused={},
        findings=(),
    )
    return check(computed, poles, TOLERANCES)


def _plane(at: FloatArray) -> FloatArray:
    return np.stack([at.real, at.imag], axis=-1)


def _way(azimuth: FloatArray) -> FloatArray:
    return np.sin(azimuth) + 1j * np.cos(azimuth)


def _make(rng: np.random.Generator, cell: Cell, size: int) -> _Made:
    shape = (size, cell.frames)
    turns = np.where(rng.random(shape) < 0.15, rng.normal(0.0, 0.3, shape), 0.0)
    turns[:, [0, -1]] = 0.0
    heading = rng.uniform(0.0, 2.0 * np.pi, (size, 1)) + np.cumsum(turns, axis=1)
    start = rng.uniform(1.9e6, 2.4e6, (size, 1)) + 1j * rng.uniform(7e5, 1.1e6, (size, 1))
    step = rng.uniform(600.0, 1000.0, shape) * _way(heading) * FACTOR
    place = start + np.cumsum(np.concatenate([np.zeros((size, 1)), step[:, :-1]], axis=1), axis=1)
    faces = heading - turns / 2.0
    three = rng.random(shape) < THREE_POLES
    wide = np.where(three, 15.0, np.where(rng.random(shape) < 0.2, 26.0, 15.5))
    computed = _figures(place, turns != 0.0, three, wide)
    limit = np.where(turns != 0.0, 0.25, 1.0), np.full(shape, 0.25)
    survey, stakes = _laws(rng, cell.kind, place)
    set_off, spin, gap, bow = _set(rng, cell, limit, wide)
    true = stakes(place + (set_off[0] * _way(faces) + set_off[1] * _way(faces + np.pi / 2.0)) * FACTOR)
    arm = np.angle(stakes(place + 1.0) - stakes(place))
    turned = -arm + np.radians(spin)
    own = (true - place) / FACTOR / _way(faces)
    good = (np.abs(own.real) <= limit[0]) & (np.abs(own.imag) <= limit[1])
    good &= (np.abs(np.degrees(turned)) <= 1.0) & (np.abs(gap) <= 0.2) & (~three | (np.abs(bow) <= 0.25))
    right = _way(faces + np.pi / 2.0 + turned)
    apart = (wide + gap) * np.where(three, 2.0, 1.0) * FACTOR
    ends = true - right * apart / 2.0, true + right * apart / 2.0
    middle = true + right * 1j * bow * FACTOR
    left = computed.a_left.reshape(shape)
    first, last = np.where(left, ends[0], ends[1]), np.where(left, ends[1], ends[0])
    poles = np.stack([first, np.where(three, middle, last), np.where(three, last, np.nan)], axis=-1)
    noise = rng.normal(0.0, SHOT, (*poles.shape, 2)) @ np.array([1.0, 1.0j])
    near = rng.integers(0, cell.frames, cell.check_ins)
    control = place[:, near] + rng.normal(0.0, 1500.0, (size, cell.check_ins, 2)) @ np.array([1.0, 1.0j])
    off = survey(control) - control
    off = off + rng.normal(0.0, np.hypot(SHOT, MARK), (*off.shape, 2)) @ np.array([1.0, 1.0j])
    bad = (rng.random(off.shape) < BAD_MARK) * 10.0 ** rng.uniform(-1.0, 1.5, off.shape)
    off = off + bad * (rng.normal(0.0, 1.0, (*off.shape, 2)) @ np.array([1.0, 1.0j]))
    return _Made(figures=computed, shot=survey(poles) + noise, check_at=control, check_off=off, good=good)


def _figures(place: FloatArray, angle: BoolArray, three: BoolArray, wide: FloatArray) -> Figures:
    size, frames = place.shape
    lines = []
    for index, (at, turned) in enumerate(zip(place, angle, strict=True)):
        corner = turned.copy()
        corner[[0, -1]] = True
        lines.append(
            Line(
                name=f"L{index}",
                crs="EPSG:6515",
                unit=LengthUnit.FOOT,
                centreline=Centreline.from_points(_plane(at[corner])),
                combined_factor=FACTOR,
                stationing=Stationing(),
            )
        )
    structures = Structures.from_columns(
        line=[line.name for line in lines for _ in range(frames)],
        number=[f"1/{i + 1}" for _ in lines for i in range(frames)],
        easting=place.real.ravel(),
        northing=place.imag.ravel(),
        spacing=wide.ravel(),
        pole_count=np.where(three, 3, 2).ravel(),
        section_break=np.zeros(size * frames, dtype=np.bool_),
    )
    return figures(lines, structures, projection=Projection.from_text("EPSG:6515"))


class _Law(NamedTuple):
    """A change of places that all shots, or all stakes, of a session share."""

    about: FloatArray
    grown: FloatArray
    shift: FloatArray

    def __call__(self, at: FloatArray) -> FloatArray:
        about, grown, shift = (
            each.reshape(-1, *[1] * (at.ndim - 1)) for each in (self.about, self.grown, self.shift)
        )
        return about + (at - about) * grown + shift


def _laws(rng: np.random.Generator, kind: str, place: FloatArray) -> tuple[_Law, _Law]:
    """Draw what moved the shots and the stakes of each session, and the little that always does."""
    size = len(place)
    one = np.ones(size, dtype=np.complex128)
    middle = place.mean(axis=1)
    far = np.maximum(np.sqrt((np.abs(place - middle[:, None]) ** 2).mean(axis=1)), 300.0)

    def shift() -> FloatArray:
        return 10.0 ** rng.uniform(-1.0, 1.0, size) * _way(rng.uniform(0.0, 2.0 * np.pi, size))

    def slopes(which: str) -> FloatArray:
        sizes = rng.choice([-1.0, 1.0], (2, size)) * 10.0 ** rng.uniform(-1.0, 1.0, (2, size)) / far
        grow, turn = _SLOPES.get(which, (0, 0))
        return (1.0 + grow * sizes[0]) * np.exp(-1j * turn * sizes[1])

    def drawn(which: str) -> _Law:
        if which == "foot":
            return _Law(0.0 * one, one + rng.choice([-FOOT, FOOT], size), 0.0 * one)
        if which == "factor":
            base = middle + rng.normal(0.0, 5_000.0, (size, 2)) @ np.array([1.0, 1.0j])
            return _Law(base, one * FACTOR ** rng.choice([-1.0, 1.0], size), 0.0 * one)
        if which == "none":
            return _Law(middle, one, 0.0 * one)
        return _Law(middle, one * slopes(which), shift())

    of = {
        "staked": ("none", "shift"),
        "staked by factor": ("none", "factor"),
        "both": ("shift", "shift"),
        "same base": ("shift", ""),
        "same base, foot": ("foot", ""),
    }.get(kind, (kind, "none"))
    survey = drawn(of[0])
    stakes = drawn(of[1]) if of[1] else _inverse(survey)
    return _scattered(rng, survey), _scattered(rng, stakes)


def _inverse(law: _Law) -> _Law:
    return _Law(law.about + law.shift, 1.0 / law.grown, -law.shift)


def _scattered(rng: np.random.Generator, law: _Law) -> _Law:
    little = rng.normal(0.0, COMMON, (len(law.shift), 2)) @ np.array([1.0, 1.0j])
    return law._replace(shift=law.shift + little)


def _set(
    rng: np.random.Generator, cell: Cell, limit: tuple[FloatArray, FloatArray], wide: FloatArray
) -> tuple[tuple[FloatArray, FloatArray], FloatArray, FloatArray, FloatArray]:
    """Draw along and across, arm, spacing and middle pole of frames as set about their stakes."""
    shape = wide.shape
    off = [rng.normal(0.0, each / 3.0) for each in limit]
    spin, gap, bow = (
        rng.normal(0.0, 1.0 / 3.0, shape),
        rng.normal(0.0, 0.2 / 3.0, shape),
        rng.normal(0.0, 0.25 / 3.0, shape),
    )
    wrong = rng.random(shape) < cell.bad
    which, sign, size = rng.integers(0, 5, shape), rng.choice([-1, 1], shape), 10.0 ** rng.random(shape)
    if cell.alike:  # the same face or hub for all: one way, by one amount
        which = np.broadcast_to(rng.integers(1, 3, (shape[0], 1)), shape)
        sign = np.broadcast_to(rng.choice([-1, 1], (shape[0], 1)), shape)
        size = np.broadcast_to(10.0 ** rng.random((shape[0], 1)), shape)
    spin = spin + np.where(wrong & (which == 0), sign * 1.2 * size, 0.0)
    for axis in (0, 1):
        off[axis] = off[axis] + np.where(wrong & (which == axis + 1), sign * 1.2 * size * limit[axis], 0.0)
    one = rng.normal(0.0, 1.0, (*shape, 2))
    one *= (0.3 * size / np.sqrt((one**2).sum(axis=-1)))[..., None]
    one *= (wrong & (which == 3))[..., None]  # one pole off its stake
    spin, gap = spin + np.degrees(one[..., 0] / wide), gap + one[..., 1]
    off = [off[0] + one[..., 0] / 2.0, off[1] + one[..., 1] / 2.0]
    bow = bow + np.where(wrong & (which == 4), sign * 0.3 * size, 0.0)
    return (off[0], off[1]), spin, gap, bow


def row_of(cell: Cell, before: Tally, after: Tally) -> str:
    """Print one cell: shares in percent, with corrections accepted, then before a decision."""
    bad = f"{cell.bad:.0%}{' alike' if cell.alike else ''}"
    shares = [after.wrong_passes, after.bad_passed, after.power, after.cannot_tell, after.good_failed]
    shares += [before.wrong_passes, before.bad_passed, before.power]
    numbers = "".join(f"{each:9.2f}" for each in shares)
    return f"{cell.kind:17}{cell.frames:7}{cell.check_ins:10}{bad:>11}{numbers}"


HEADING = (
    f"{'kind':17}{'frames':>7}{'check-ins':>10}{'bad':>11}{'wrong':>9}{'bad':>9}{'good':>9}{'cannot':>9}"
    f"{'good':>9}{'| before':>9}{'bad':>9}{'good':>9}\n"
    f"{'':45}{'passes':>9}{'passed':>9}{'passed':>9}{'tell':>9}{'failed':>9}{'wrong':>9}{'passed':>9}{'passed':>9}"
)


def main(count: int = 2_000, seeds: tuple[int, ...] = SEEDS) -> None:
    """Print the table, a cell at a time, and the worst of each number of check-ins."""
    for seed in seeds:
        start = time.perf_counter()
        print(f"{count} sessions a cell, seed {seed}; percent\n{HEADING}")
        worst = {cell.check_ins: [0.0, 0.0] for cell in CELLS}
        for cell in CELLS:
            before, after = tally(cell, count, seed)
            known = worst[cell.check_ins]
            known[0] = max(known[0], after.wrong_passes, before.wrong_passes)
            known[1] = max(known[1], after.bad_passed, before.bad_passed)
            print(row_of(cell, before, after), flush=True)
        for check_ins, (wrong, passed) in sorted(worst.items()):
            print(
                f"{check_ins} check-ins: at most {wrong:.2f} % of passes wrong, {passed:.2f} % of bad passed"
            )
        print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:]]
    main(*given[:1], **({"seeds": tuple(given[1:])} if given[1:] else {}))
