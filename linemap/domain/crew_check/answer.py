"""What a tape check answers: the verdict, what to move, which readings to repeat.

A quick set may only pass; anything else it says is no answer, and the full set is asked for. What fails or
contradicts itself is taped again before a pole is moved: two readings of one distance that agree count by
their mean, else a third one decides (the median).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from linemap.domain.crew_check.frame import CheckVerdict, FrameDesign, Gate, verdict, verdicts
from linemap.domain.crew_check.pole_size import TapeErrors
from linemap.domain.crew_check.tape import Solution, TapeSet, chi_square_limit
from linemap.domain.design.structure import FloatArray

#: A mistake explains contradicting readings if without it they would disagree so much once in a hundred.
EXPLAINS = 0.01
Slip = Literal["long", "short", "side", "far face", "exchanged"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """How far one pole must go, ground units; parts too small to be worth it are 0."""

    letter: str
    ahead: float
    right: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Misread:
    """One mistake that would make readings agree."""

    #: Positions of the readings in their set: one, or the two that were exchanged.
    readings: tuple[int, ...]
    slip: Slip
    #: By how much it would be off; 0 for exchanged readings.
    amount: float
    #: What the readings would still disagree by.
    chi_square: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeAnswer:
    """What a set of readings tells of a frame."""

    verdict: CheckVerdict
    #: True where a fail or a contradiction must be taped again before it counts.
    is_to_repeat: bool
    #: Value and standard uncertainty of each quantity, by its name.
    quantities: dict[str, tuple[float, float]]
    #: Pole centres from left to right, (n, 2).
    poles: FloatArray
    chi_square: float


def combined(values: Sequence[float], agree: float) -> float:
    """Return what readings of one distance count as; nan where a third one must decide.

    >>> combined([24.36], 0.1), round(combined([24.36, 24.4], 0.1), 2), combined([24.36, 25.36, 24.38], 0.1)
    (24.36, 24.38, 24.38)
    """
    if len(values) == 2:
        return (values[0] + values[1]) / 2.0 if abs(values[0] - values[1]) <= agree else math.nan
    return float(np.median(values)) if values else math.nan


def judge(
    tape_set: TapeSet, taped: Sequence[Sequence[float]], radii: Sequence[float], *, quick: bool = False
) -> TapeAnswer:
    """Judge readings by what the set can tell.

    Parameters
    ----------
    taped : sequence of sequence of float
        For each reading of the set every value taped, level distances.
    radii : sequence of float
        Radius of each pole from left to right.
    quick : bool
        True = it may only pass.

    Returns
    -------
    TapeAnswer
        Cannot tell, with nan quantities, where a reading is missing or two of one distance disagree.
    """
    errors = tape_set.errors
    values = np.array([[combined(each, errors.agree) for each in taped]])
    solution = tape_set.solve(np.where(np.isfinite(values), values, tape_set.expected(radii)), radii)
    is_known = bool(np.isfinite(values).all())
    found = solution.quantities[0] if is_known else np.full(len(tape_set.design.names), math.nan)
    said = verdict(found.tolist(), tape_set.gates)
    chi_square = float(solution.chi_square[0])
    if is_known and not quick and tape_set.spare and chi_square > chi_square_limit(tape_set.spare):
        said = CheckVerdict.CONTRADICT
    if said is not CheckVerdict.PASS and (quick or not tape_set.spare):
        said = CheckVerdict.CANNOT_TELL
    is_doubtful = said in {CheckVerdict.FAIL, CheckVerdict.CONTRADICT}
    pairs = zip(found.tolist(), tape_set.sigmas.tolist(), strict=True)
    return TapeAnswer(
        verdict=said,
        is_to_repeat=is_doubtful and min(map(len, taped)) < 2,
        quantities=dict(zip(tape_set.design.names, pairs, strict=True)),
        poles=solution.poles[0],
        chi_square=chi_square,
    )


def judge_many(tape_set: TapeSet, solution: Solution, *, quick: bool = False) -> FloatArray:
    """Judge many frames, as `judge` does: 1 = pass, -1 = fail, 0 = cannot tell, 2 = contradict."""
    said = verdicts(solution.quantities, tape_set.gates)
    if quick or not tape_set.spare:
        return np.where(said == 1.0, 1.0, 0.0)
    return np.where(solution.chi_square > chi_square_limit(tape_set.spare), 2.0, said)


def moves(
    design: FrameDesign, poles: FloatArray, gates: Sequence[Gate], errors: TapeErrors
) -> tuple[Move, ...]:
    """Return the fewest, then shortest moves that put a frame right.

    Some poles stay and the others are squared on them, if the frame then stands where it should with
    confidence; else every pole goes where it belongs. Of ways alike to a third of what is worth saying the
    first one counts: it keeps the poles on the left.
    """
    held = np.array([max(gate.pass_to, 0.0) for gate in gates])
    count = len(poles)
    for moved in range(1, count):
        tried = [_with_kept(design, poles, kept) for kept in combinations(range(count), count - moved)]
        right = [to for to in tried if (np.abs(design.quantities(to)) <= held).all()]
        if right:
            far = [float(np.hypot(*(to - poles).T).sum()) for to in right]
            first = next(
                to for to, way in zip(right, far, strict=True) if way <= min(far) + errors.move / 3.0
            )
            return _as_moves(design, first - poles, errors)
    return _as_moves(design, design.poles - poles, errors)


def _with_kept(design: FrameDesign, poles: FloatArray, kept: tuple[int, ...]) -> FloatArray:
    """Square the others on the poles that are kept."""
    rows = list(kept)
    to = design.poles + (poles[rows] - design.poles[rows]).mean(axis=0)
    to[rows] = poles[rows]
    return np.asarray(to)


def _as_moves(design: FrameDesign, ways: FloatArray, errors: TapeErrors) -> tuple[Move, ...]:
    worth = np.where(np.abs(ways) >= errors.move, ways, 0.0)
    return tuple(
        Move(letter=letter, ahead=float(ahead), right=float(right))
        for letter, (right, ahead) in zip(design.letters, worth, strict=True)
        if right or ahead
    )


def misreads(tape_set: TapeSet, values: Sequence[float], radii: Sequence[float]) -> tuple[Misread, ...]:
    """Return single mistakes, the one after which readings agree best first.

    Those whose chi-square stays under `chi_square_limit(spare, EXPLAINS)` explain a contradiction; the first
    two readings of the list are those to repeat (`to_repeat`).
    """
    last = [tape_set.design.letters.index(end) for _, end in tape_set.readings]
    trials: list[tuple[tuple[int, ...], Slip, float]] = []
    for row, pole in enumerate(last):
        slips = [(("long" if slip > 0 else "short"), slip) for slip in tape_set.errors.slips]
        faces = [("side", radii[pole]), ("far face", 2.0 * radii[pole])]
        trials += [((row,), slip, amount) for slip, amount in (*slips, *faces)]  # type: ignore[misc]
    trials += [(two, "exchanged", 0.0) for two in combinations(range(len(last)), 2)]
    tried = np.repeat(np.array([values], dtype=np.float64), len(trials), axis=0)
    for index, (rows, _, amount) in enumerate(trials):
        tried[index, list(rows)] = tried[index, list(rows)[::-1]] - amount
    solved = tape_set.solve(tried, radii).chi_square
    found = [
        Misread(readings=rows, slip=slip, amount=abs(amount), chi_square=float(left))
        for (rows, slip, amount), left in zip(trials, solved, strict=True)
    ]
    return tuple(sorted(found, key=lambda one: one.chi_square))


def to_repeat(found: Sequence[Misread]) -> tuple[int, ...]:
    """Return the two readings to tape again, by their positions in the set."""
    wanted: list[int] = []
    for one in found:
        wanted += [row for row in one.readings if row not in wanted]
        if len(wanted) >= 2:
            break
    return tuple(wanted[:2])
