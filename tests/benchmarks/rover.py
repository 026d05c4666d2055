"""Simulated checks by rover: what passes wrongly, fails wrongly, and is left open.

Every frame has its truth, every check its own noise, base, stakes, stances, and poles that are thicker and
less round than listed. What is made here knows nothing of how it is judged.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from rich.console import Console
from rich.table import Table

from linemap.domain.crew_check.frame import FrameDesign, verdicts
from linemap.domain.crew_check.rover import Solution
from linemap.domain.crew_check.rover_fix import (
    FACES,
    RoverFix,
    RoverRule,
    means_covariance,
)
from linemap.domain.crew_check.tape import chi_square_limit
from linemap.domain.design.structure import BoolArray, FloatArray

SEED, FRAMES = 20_261_130, 20_000
DESIGN = FrameDesign(letters="AB", spacing=12.5, unit="ft", limits=(1.0, 1.0, 0.25, 0.20))
RULE = RoverRule.of("ft")
RADIUS = 0.64
STAKES = {"A OS25BK": (-6.25, -25.0), "B OS25AH": (6.25, 25.0)}
#: What is done, one after the other: a stake, three faces of each pole, a stake.
PLACES = (
    ("A OS25BK", ""), ("A", "back"), ("A", "left"), ("A", "ahead"),
    ("B", "ahead"), ("B", "right"), ("B", "back"), ("B OS25AH", ""),
)  # fmt: skip
#: What is done then unless that passed: the fourth face of each, and the first stake again.
MORE = (("B", "left"), ("A", "right"), ("A OS25BK", ""))
FOOT_M = 0.3048


@dataclass(frozen=True, kw_only=True)
class Row:
    """What the world does, and what the check is told of it; lengths in ft."""

    words: str
    #: Noise of one position per axis, and what the base is off; each a standard deviation.
    noise: float = 0.03
    base: float = 0.05
    #: Seconds at a place; between places it takes 20.
    span: float = 20.0
    #: What the receiver says of its noise, as a share of it.
    says: float = 1.0
    #: Time in which the slow half of the noise is forgotten; the check takes 900 s.
    slow: float = 900.0
    #: The fourth faces unless it passed, and a fail checked again, all of it, before a pole is moved.
    whole: bool = True
    stakes: bool = True
    same_stake: bool = False
    #: A mean is believed as if its positions had nothing in common.
    root_n: bool = False
    #: Share of the checks in which one stake was kicked by half a foot.
    kicked: float = 0.0
    #: Share of the places at which the receiver was fixed wrongly, by 0.5 to 2 ft.
    misfixed: float = 0.0


ROWS = (
    Row(words="a receiver good to 0.02 m in its words (GST)"),
    Row(words="the same, three faces alone", whole=False),
    Row(words="the same, 60 s at a place", span=60.0),
    Row(words="the same, 10 s at a place", span=10.0),
    Row(words="noise 0.05 ft", noise=0.05),
    Row(words="noise 0.065 ft: the worst that is taken (0.03 m)", noise=0.0657),
    Row(words="noise twice what the receiver says", noise=0.06, says=0.5),
    Row(words="slow half forgotten in 115 s, not in 900", slow=115.0),
    Row(words="base off 0.3 ft, stakes occupied", base=0.3),
    Row(words="base off 0.3 ft, stakes not occupied", base=0.3, stakes=False),
    Row(words="base right, stakes not occupied", base=0.0, stakes=False),
    Row(words="noise 0.05 ft, believed by the root of n", noise=0.05, root_n=True),
    Row(words="noise 0.065 ft, by the root of n, no stakes", noise=0.0657, root_n=True, stakes=False),
    Row(words="one stake in 50 kicked 0.5 ft, two stakes", kicked=0.02),
    Row(words="the same, one stake occupied twice", kicked=0.02, same_stake=True),
    Row(words="one place in 100 fixed wrongly by 0.5 to 2 ft", misfixed=0.01),
    Row(words="good to 0.15 m (68 %), were it taken", noise=0.15 / 1.51 / FOOT_M),
    Row(words="a phone good to 15 ft, were it taken", noise=15.0 / 1.51, base=3.3),
    Row(
        words="the same, by the root of n, no stakes", noise=15.0 / 1.51, base=3.3, root_n=True, stakes=False
    ),
)


def true_frames(rng: np.random.Generator, count: int) -> tuple[FloatArray, BoolArray]:
    """Return poles as crews set them, (count, 2, 2), and which frames stand within all tolerances."""
    limits = np.array(DESIGN.limits)
    values = rng.normal(0.0, [0.5, 0.35, 0.10, 0.07], (count, 4))
    worst = np.stack(
        [rng.uniform(low, high, count) for low, high in ((1.2, 6), (1.1, 3), (0.3, 1), (0.25, 0.6))]
    )
    kind, bad = rng.integers(0, 4, count), rng.random(count) < 0.15
    for each in range(4):
        hit = bad & (kind == each)
        values[hit, each] = (worst[each] * rng.choice([-1.0, 1.0], count))[hit]
    turn, half = np.radians(values[:, 0]), (DESIGN.spacing + values[:, 3]) / 2.0
    arm = np.stack([np.cos(turn), -np.sin(turn)], axis=-1) * half[:, None]
    centre = values[:, [2, 1]]
    return np.stack([centre - arm, centre + arm], axis=1), (np.abs(values) <= limits).all(axis=-1)


def fixes_of(row: Row) -> list[RoverFix]:
    """Return the places of one check with what the receiver says there."""
    places = (*(PLACES[:-1] if row.same_stake else PLACES), *((PLACES[0],) * row.same_stake), *MORE)
    return [
        RoverFix(
            at=at,
            face=face,  # type: ignore[arg-type]
            longitude=0.0,
            latitude=0.0,
            start=i * (row.span + 20.0),
            seconds=row.span,
            epochs=int(row.span),
            accuracy_m=0.02,
            sigma_m=row.noise * row.says * FOOT_M,
        )
        for i, (at, face) in enumerate(places)
    ]


class World:
    """What stays the same while frames are checked: stakes, poles, and what the base is off."""

    def __init__(self, row: Row, count: int, rng: np.random.Generator) -> None:
        self.row, self.rng = row, rng
        self.base = rng.normal(0.0, row.base, (count, 1, 2))
        self.radius = RADIUS + rng.normal(0.0, RULE.radius, (count, 2))
        self.oval = np.abs(rng.normal(0.0, 0.025, (count, 2)))
        self.turn = rng.uniform(0.0, math.pi, (count, 2))
        self.stake = {name: rng.normal(0.0, RULE.stake, (count, 2)) for name in STAKES}
        for shift in self.stake.values():
            shift += 0.5 * (rng.random(count) < row.kicked)[:, None] * self._any_way(count)

    def _any_way(self, *shape: int) -> FloatArray:
        way = self.rng.uniform(0.0, 2.0 * math.pi, shape)
        return np.stack([np.cos(way), np.sin(way)], axis=-1)

    def sees(self, fixes: list[RoverFix], poles: FloatArray) -> FloatArray:
        """Return where the receiver says each place is, (count, places, 2), another time each time."""
        row, rng, count = self.row, self.rng, len(poles)
        noise = ((0.5, 45.0), (0.5, row.slow))
        of_means = means_covariance([each.start for each in fixes], [row.span] * len(fixes), noise)
        drawn = rng.normal(size=(count, len(fixes), 2))
        seen = self.base + row.noise * np.einsum("ij,njk->nik", np.linalg.cholesky(of_means), drawn)
        for i, fix in enumerate(fixes):
            if fix.face:
                seen[:, i] += self._beside(fix, poles)
            else:
                seen[:, i] += np.array(STAKES[fix.at]) + self.stake[fix.at]
        wrong = (rng.random(seen.shape[:2]) < row.misfixed) * rng.uniform(0.5, 2.0, seen.shape[:2])
        return np.asarray(seen + wrong[..., None] * self._any_way(*seen.shape[:2]))

    def _beside(self, fix: RoverFix, poles: FloatArray) -> FloatArray:
        """Return where a rod leans against a pole of the thickness that it has there."""
        i = "AB".index(fix.at)
        stood = math.atan2(*FACES[fix.face]) + np.radians(self.rng.normal(0.0, RULE.stance_deg, len(poles)))
        thick = self.radius[:, i] * (1.0 + self.oval[:, i] * np.cos(2.0 * (stood - self.turn[:, i])))
        return np.asarray(
            poles[:, i] + (thick + RULE.rod)[:, None] * np.stack([np.sin(stood), np.cos(stood)], -1)
        )


def judged(row: Row, fixes: list[RoverFix], seen: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the verdict of each check (1, -1, 0; 2 = contradict) and the sigmas of the quantities."""
    rule = replace(RULE, noise=((1.0, 0.5),)) if row.root_n else RULE  # 0.5 s: as if each second were new
    solution = Solution.of(DESIGN, rule, STAKES, [RADIUS, RADIUS], fixes)
    if not row.stakes:
        there = [i for i, fix in enumerate(fixes) if fix.face]
        solution, seen = without_base(solution, there), seen[:, there]
    unknowns, residuals = solution.solve(seen)
    found = verdicts(DESIGN.quantities(solution.poles(unknowns)), solution.gates)
    limit = chi_square_limit(solution.degrees if row.stakes else solution.degrees + 2)
    contradict = solution.chi_square(residuals) > limit
    return np.where(contradict, 2.0, found), np.array([gate.sigma for gate in solution.gates])


def procedure(row: Row, poles: FloatArray, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return the verdicts at the end of all that is done, and the sigmas of the first three faces."""
    fixes, first = fixes_of(row), len(PLACES)
    world = World(row, len(poles), rng)
    seen = world.sees(fixes, poles)
    found, sigmas = judged(row, fixes[:first], seen[:, :first])
    if row.whole:
        all_of_it, _ = judged(row, fixes, seen)
        found = np.where(found == 1.0, 1.0, all_of_it)
        again, _ = judged(row, fixes, world.sees(fixes, poles))
        found = np.where((found == -1.0) & (again != -1.0), 0.0, found)
    return found, sigmas


def without_base(solution: Solution, there: list[int]) -> Solution:
    """Return a solution of some places at poles alone, as if the base were known to be right."""
    rows = np.ravel([(2 * i, 2 * i + 1) for i in there])
    model = solution.model[rows].copy()
    model[:, :2] = 0.0
    weight = np.linalg.inv(np.linalg.inv(solution.weight)[np.ix_(rows, rows)])
    covariance = np.zeros_like(solution.covariance)
    covariance[2:, 2:] = np.linalg.inv(model[:, 2:].T @ weight @ model[:, 2:])
    sigmas = np.sqrt(np.diag(DESIGN.jacobian @ covariance[2:, 2:] @ DESIGN.jacobian.T))
    return replace(
        solution,
        known=solution.known[rows],
        model=model,
        weight=weight,
        covariance=covariance,
        gates=DESIGN.gates(sigmas),
    )


def rates(row: Row, count: int, seed: int = SEED) -> dict[str, float]:
    """Return the rates of one row in percent, with the sigmas of the quantities."""
    rng = np.random.default_rng([seed, *row.words.encode()])
    poles, good = true_frames(rng, count)
    verdict, sigmas = procedure(row, poles, rng)
    passed, failed = verdict == 1.0, verdict == -1.0

    def share(what: BoolArray, among: BoolArray) -> float:
        return 100.0 * float(what.sum()) / max(float(among.sum()), 1.0)

    everything = np.ones(count, dtype=bool)
    return {
        "wrong passes, % of passes": share(passed & ~good, passed),
        "of bad": share(passed & ~good, ~good),
        "wrong fails, % of all": share(failed & good, everything),
        "of good": share(failed & good, good),
        "contradict": share(verdict == 2.0, everything),
        "cannot tell": share(verdict == 0.0, everything),
        "good passed": share(passed & good, good),
        "bad failed": share(failed & ~good, ~good),
        **dict(zip(("rotation", "along", "across", "spacing"), sigmas.tolist(), strict=True)),
    }


def main() -> None:
    """Print the rates of every row."""
    console = Console(width=200)
    table = Table(title=f"checks by rover, {FRAMES:,} frames a row, tolerances 1.0 deg, 1.0, 0.25, 0.20 ft")
    table.add_column("world and check")
    found = {row.words: rates(row, FRAMES) for row in ROWS}
    for name in next(iter(found.values())):
        table.add_column(name, justify="right")
    for words, numbers in found.items():
        table.add_row(
            words,
            *(f"{value:.3f}" if name in DESIGN.names else f"{value:.2f}" for name, value in numbers.items()),
        )
    console.print(table)


if __name__ == "__main__":
    main()
