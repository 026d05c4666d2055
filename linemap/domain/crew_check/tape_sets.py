"""Which readings square a frame, from the stakes that still stand.

Stakes are those of the staking plan that stand outside the holes. For whatever is left of them there is a
quick set, as few readings as place the poles, and a full set in which a mistake shows. Both poles are read
from one stake where that can be: its error then cancels in the turn. A tape that would run through another
pole is never asked for, and one stake alone proves nothing: the frame can swing about it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from itertools import combinations

import numpy as np

from linemap.domain.crew_check.frame import FrameDesign
from linemap.domain.crew_check.pole_size import TapeErrors
from linemap.domain.crew_check.tape import Reading, Stake, StakeWay, TapeSet
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.staking.stakeout import StakePoint

#: Longest tape asked for, ft: beyond it hangs and swings.
REACH_FT = 60.0
#: How far a tape must pass another pole, ft: its radius and a hand.
CLEAR_FT = 1.1
#: Around the middle of a hole no stake survives, ft: hole, spoil and feet. Common practice, no source.
HOLE_FT = 5.0
_FOOT_M = 0.3048
#: Readings beyond those that place the poles in a full set.
_SPARE = 3
#: So much of a tolerance makes a set no better than another: of one group of stakes, and of others.
_ALIKE = 0.02
_PROVES_ALIKE = 0.1
#: Redundancy from which a mistake shows well enough, asked for where the set proves the frame well.
_CONTROLLED = 0.25
_PROVES_WELL = 0.6
#: Stakes in the order in which a crew is asked for them.
_ORDER: Sequence[StakeWay] = ("AH", "R", "BK", "L")
#: So many readings more are worth taping if they leave no more than this of what is uncertain.
_EXTRA = 2
_WORTH = 0.95
_WAYS: Mapping[str, StakeWay] = {"BK": "BK", "AH": "AH", "L": "L", "R": "R"}


def feet(length: float, unit: str) -> float:
    """Return a length in feet in "ft" or "m"."""
    return length * (_FOOT_M if unit == "m" else 1.0)


def stakes_outside(figures: Figures, row: int, points: Iterable[StakePoint]) -> tuple[Stake, ...]:
    """Return the offset stakes among the points of a structure that stand outside its holes."""
    mine = [point for point in points if point.row == row]
    offsets = [point for point in mine if point.kind == "offset"]
    if not offsets:
        return ()
    places = np.array([(point.easting, point.northing) for point in offsets])
    anchors = [(point.easting, point.northing) for point in mine if point.kind == "anchor"]
    outside = _outside_holes(figures, row, places, anchors)
    ahead, right = figures.in_frame(row, places)
    return tuple(
        _stake(point, float(x), float(y))
        for point, kept, x, y in zip(offsets, outside, right, ahead, strict=True)
        if kept
    )


def _outside_holes(
    figures: Figures, row: int, places: FloatArray, anchors: Sequence[tuple[float, float]]
) -> BoolArray:
    """Say which grid points (n, 2) lie outside the holes of a structure's poles and anchors."""
    poles = (figures.pole_of(row, letter) for letter in figures.letters_of(row))
    holes = np.array([*poles, *anchors]).reshape(-1, 2)
    reach = feet(HOLE_FT, figures.line_of(row).unit.symbol) * float(figures.combined_factor[row])
    apart = places[:, None] - holes[None, np.isfinite(holes).all(axis=1)]
    outside: BoolArray = (np.hypot(apart[..., 0], apart[..., 1]) >= reach).all(axis=1)
    return outside


def _stake(point: StakePoint, right: float, ahead: float) -> Stake:
    *_, pole, offset = point.description.split(" ")
    way = offset.lstrip("OS.0123456789")
    return Stake(
        name=f"{pole} {offset}",
        pole=point.pole,
        way=_WAYS[way],
        distance=float(offset.removeprefix("OS").removesuffix(way)),
        right=round(right, 3) + 0.0,
        ahead=round(ahead, 3) + 0.0,
    )


def to_tape_from(stakes: Sequence[Stake], unit: str) -> tuple[Stake, ...]:
    """Return one stake for each place: of several distances the one nearest to 25 ft."""
    usual = feet(25.0, unit)
    best: dict[tuple[str, str], Stake] = {}
    for stake in sorted(stakes, key=lambda one: (abs(one.distance - usual), one.distance)):
        best.setdefault((stake.pole, stake.way), stake)
    return tuple(stake for stake in stakes if best[stake.pole, stake.way] is stake)


def candidates(design: FrameDesign, stakes: Sequence[Stake]) -> tuple[Reading, ...]:
    """Return every reading that can be taped: within reach, and no other pole in the way of the tape.

    >>> two = FrameDesign(letters="AB", spacing=12.5, unit="ft", limits=(1.0, 1.0, 0.25, 0.2))
    >>> candidates(two, [Stake(name="A OS25L", pole="A", way="L", distance=25.0, right=-31.25, ahead=0.0)])
    (('A OS25L', 'A'), ('A', 'B'))
    """
    reach, clear, poles = feet(REACH_FT, design.unit), feet(CLEAR_FT, design.unit), design.poles
    found: list[Reading] = []
    for stake in stakes:
        start = np.array([stake.right, stake.ahead])
        for index, letter in enumerate(design.letters):
            way = poles[index] - start
            length = float(np.hypot(*way))
            others = np.delete(poles, index, axis=0) - start
            beside = np.abs(way[0] * others[:, 1] - way[1] * others[:, 0]) / length
            between = (others @ way > 0.0) & (others @ way < length**2)
            if length <= reach and not (between & (beside < clear)).any():
                found.append((stake.name, letter))
    return (*found, *zip(design.letters, design.letters[1:], strict=False))


@dataclass(frozen=True, eq=False)
class SetsOfStakes:
    """What to tape when certain stakes stand."""

    #: Names of the stakes it needs.
    stakes: tuple[str, ...]
    #: As few readings as prove the frame; None = no few do.
    quick: TapeSet | None
    full: TapeSet
    #: The full set and some readings more, last, for what it cannot tell; None = none tells much more.
    more: TapeSet | None


@lru_cache(maxsize=256)
def sets_of(
    design: FrameDesign, stakes: tuple[Stake, ...], errors: TapeErrors, girths: tuple[bool, ...]
) -> tuple[SetsOfStakes, ...]:
    """Return what to tape for whatever stakes stand, the best first: take the first whose stakes all do.

    () where nothing proves the frame, as with one stake, or with the two along the arm.
    """
    ordered = sorted(stakes, key=lambda stake: _ORDER.index(stake.way))
    whole = TapeSet(design, stakes, candidates(design, ordered), errors, girths)
    found: list[SetsOfStakes] = []
    for names in _groups(stakes):
        readings = tuple(each for each in whole.readings if each[0] in names or each[0] in design.letters)
        full = _best(whole, readings, 2 * len(design.letters) + _SPARE, controlled=True)
        if full.spare < 1 or full.worst > 1.0 or not set(names) <= {start for start, _ in full.readings}:
            continue
        quick = _quick(full)
        first = () if quick is None else quick.readings
        rest = tuple(each for each in full.readings if each not in first)
        full = replace(full, readings=(*first, *rest))
        found.append(SetsOfStakes(stakes=names, quick=quick, full=full, more=None))
    found.sort(key=partial(_rank, stakes={stake.name: stake for stake in stakes}))
    needed = [
        one
        for index, one in enumerate(found)
        if not any(set(earlier.stakes) <= set(one.stakes) for earlier in found[:index])
    ]
    return tuple(replace(one, more=_more(whole, one)) for one in needed)


def _rank(one: SetsOfStakes, stakes: Mapping[str, Stake]) -> tuple[float, ...]:
    """Put first what has a stake on every side, shows mistakes, proves well, and needs short tapes."""
    sides = {stakes[name].way for name in one.stakes}
    hidden = int((one.full.redundancy < _CONTROLLED / 2.0).sum())
    taped = float(one.full.expected(np.zeros(len(one.full.design.letters))).sum())
    return -len(sides), hidden, round(one.full.worst / _PROVES_ALIKE), taped


def _groups(stakes: Sequence[Stake]) -> list[tuple[str, ...]]:
    """Return which stakes may be used together: two along the line or one, and those along the arm."""
    along = [one for way in ("AH", "BK") for one in stakes if one.way == way]
    arms = [[one.name for one in stakes if one.way == way] for way in ("R", "L")]
    pairs = sorted(
        combinations(along, 2), key=lambda two: (two[0].way == two[1].way, two[0].pole != two[1].pole)
    )
    chosen = [*(tuple(one.name for one in two) for two in pairs), *((one.name,) for one in along)]
    right, left = ([(name,) for name in names] + [()] for names in arms)
    return [(*line, *on_right, *on_left) for on_right in right for on_left in left for line in chosen]


def _best(whole: TapeSet, readings: Sequence[Reading], size: int, *, controlled: bool = False) -> TapeSet:
    """Return the best set of that many of the readings, all of them if there are no more.

    `controlled` asks first that a mistake in any reading shows, where the set proves the frame well.
    """
    if len(readings) <= size:
        return replace(whole, readings=tuple(readings))
    rows = [whole.readings.index(each) for each in readings]
    starts = {start for start, _ in readings} if controlled else set()
    chosen = np.array(
        [some for some in combinations(rows, size) if starts <= {whole.readings[row][0] for row in some}]
    )
    worst, control = _judged(whole, chosen)
    if controlled:
        worst = worst - np.where(worst < _PROVES_WELL, control, 0.0)
    first = int(np.argmax(worst <= worst.min() + _ALIKE))
    return replace(whole, readings=tuple(whole.readings[row] for row in chosen[first].tolist()))


def _judged(whole: TapeSet, chosen: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return `TapeSet.worst` of many sets, and how well mistakes show, 0 to 1; by rows of their readings."""
    slopes = whole.slopes[chosen]
    weights = np.linalg.inv(whole.covariance[chosen[:, :, None], chosen[:, None, :]])
    across = np.swapaxes(slopes, 1, 2)
    of_poles = np.linalg.inv(across @ weights @ slopes + np.eye(slopes.shape[2]) / whole.errors.pole**2)
    jacobian = whole.design.jacobian
    variances = np.einsum("qi,sij,qj->sq", jacobian, of_poles, jacobian)
    worst = (1.96 * np.sqrt(variances) / np.array(whole.design.limits)).max(axis=1)
    shown = 1.0 - np.einsum("sri,sij,skj,skr->sr", slopes, of_poles, slopes, weights)
    return np.asarray(worst), np.minimum(shown / _CONTROLLED, 1.0).mean(axis=1)


def _quick(full: TapeSet) -> TapeSet | None:
    """Return the fewest readings of a full set that prove the frame, if these are fewer by two at least."""
    for size in range(2 * len(full.design.letters), len(full.readings) - 1):
        found = _best(full, full.readings, size)
        if found.worst <= 1.0:
            return found
    return None


def _more(whole: TapeSet, one: SetsOfStakes) -> TapeSet | None:
    """Return the full set with the readings more that tell most of it; None = none tell much.

    From stakes on the sides that the set has: had another side one, another set would be taped.
    """
    ways = {stake.name: stake.way for stake in whole.stakes}
    sides = {ways[name] for name in one.stakes}
    others = [each for each in whole.readings if ways.get(each[0]) in sides and each not in one.full.readings]
    limits, found = np.array(whole.design.limits), one.full

    def unknown(some: TapeSet) -> float:
        return float((some.sigmas / limits).sum())

    for _ in range(_EXTRA):
        larger = [
            replace(found, readings=(*found.readings, each)) for each in others if each not in found.readings
        ]
        found = min(larger, key=unknown, default=found)
    return found if unknown(found) <= _WORTH * unknown(one.full) else None


def unguarded(figures: Figures, points: Sequence[StakePoint]) -> dict[int, tuple[str, ...]]:
    """Return the stakes that survive the digging, by row, of structures that keep not one back and one ahead.

    Parameters
    ----------
    points : sequence of StakePoint
        All that is staked of the structures, anchors included.
    """
    rows: dict[int, list[StakePoint]] = {}
    for point in points:
        rows.setdefault(point.row, []).append(point)
    left = {
        row: stakes_outside(figures, row, mine)
        for row, mine in rows.items()
        if not figures.pi_in_question[row] and any(point.kind == "pole" for point in mine)
    }
    return {
        row: tuple(stake.name for stake in stakes)
        for row, stakes in left.items()
        if not {"BK", "AH"} <= {stake.way for stake in stakes}
    }
