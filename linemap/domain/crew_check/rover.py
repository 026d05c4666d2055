"""A check by rover: positions taken beside stakes and poles, one after the other, and what they tell.

Stakes occupied first and last carry what the base is off, which is solved for and taken out. All is one
linear generalised least squares (`Solution`), whose twin in the field page is
`static/js/field/rover_solve.js`. Axes are those of `frame.FrameDesign`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from linemap.domain.crew_check.frame import CheckVerdict, FrameDesign, Gate, verdict
from linemap.domain.crew_check.rover_fix import (
    FACES,
    Centre,
    RoverFix,
    RoverRule,
    means_covariance,
)
from linemap.domain.crew_check.tape import chi_square_limit
from linemap.domain.design.structure import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """How poles follow from positions, and how well: what depends on where and when, not on what was told.

    Unknown are what the base is off, and the centre of each pole from left to right: right and ahead each.
    """

    design: FrameDesign
    #: (2 m,) what the positions would be with the base right and the poles at nought.
    known: FloatArray
    #: (2 m, unknowns) what each position gains by each unknown.
    model: FloatArray
    #: (2 m, 2 m) inverse of the covariance of the positions.
    weight: FloatArray
    #: (unknowns, unknowns)
    covariance: FloatArray
    gates: tuple[Gate, ...]

    @classmethod
    def of(
        cls,
        design: FrameDesign,
        rule: RoverRule,
        stakes: Mapping[str, tuple[float, float]],
        radii: Sequence[float],
        fixes: Sequence[RoverFix],
    ) -> Solution:
        """Say what fixes at these places and times can tell; each pole and a stake must be among them.

        `radii` are of the poles from left to right.
        """
        known, model = np.zeros((len(fixes), 2)), np.zeros((len(fixes), 2, 2 + 2 * len(design.letters)))
        model[:, :, :2] = np.eye(2)
        for i, fix in enumerate(fixes):
            if not fix.face:
                known[i] = stakes[fix.at]
                continue
            place = design.letters.index(fix.at)
            known[i] = (radii[place] + rule.rod) * np.array(FACES[fix.face])
            model[i, :, 2 + 2 * place : 4 + 2 * place] = np.eye(2)
        flat = model.reshape(known.size, -1)
        weight = np.linalg.inv(_covariance(design, rule, radii, fixes)).astype(np.float64)
        solved = np.linalg.inv(flat.T @ weight @ flat).astype(np.float64)
        of_poles = design.jacobian @ solved[2:, 2:] @ design.jacobian.T
        return cls(
            design=design,
            known=known.ravel(),
            model=flat,
            weight=weight,
            covariance=solved,
            gates=design.gates(np.sqrt(np.diag(of_poles))),
        )

    @property
    def degrees(self) -> int:
        """Positions beyond what the unknowns need: by so many may they disagree."""
        return int(self.known.size - self.model.shape[1])

    def solve(self, places: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return unknowns and residuals of positions, (..., m, 2); the last axis counts both."""
        seen = places.reshape(*places.shape[:-2], -1) - self.known
        unknowns = seen @ (self.covariance @ self.model.T @ self.weight).T
        return unknowns, seen - unknowns @ self.model.T

    def chi_square(self, residuals: FloatArray) -> FloatArray:
        """Return by how much positions disagree, in units of what is expected of each."""
        return np.asarray(((residuals @ self.weight) * residuals).sum(axis=-1))

    def poles(self, unknowns: FloatArray) -> FloatArray:
        """Return the centres of the poles from left to right, (..., n, 2)."""
        return unknowns[..., 2:].reshape(*unknowns.shape[:-1], -1, 2)

    def oddest(self, residuals: FloatArray) -> int:
        """Return the place without which all others would disagree least, by its index.

        Leaving a place out takes r' (W Q W)^-1 r from the chi-square, r its share of W v: the test of one
        mistake after Baarda (1968), for two coordinates at once. Of two that say the same, as stakes do, the
        last.
        """
        pulled = self.weight @ residuals
        spare = self.weight - self.weight @ self.model @ self.covariance @ self.model.T @ self.weight
        gains = []
        for at in range(0, len(pulled), 2):
            own = spare[at : at + 2, at : at + 2]
            pull = pulled[at : at + 2]
            held = np.linalg.det(own) > 1e-9 * np.trace(own) ** 2
            gains.append(float(pull @ np.linalg.solve(own, pull)) if held else 0.0)
        return max(i for i, gain in enumerate(gains) if gain >= (1.0 - 1e-6) * max(gains))


def _covariance(
    design: FrameDesign, rule: RoverRule, radii: Sequence[float], fixes: Sequence[RoverFix]
) -> FloatArray:
    """Return the covariance of positions, (2 m, 2 m): the noise, stakes, radii, and where one stood."""
    noise = means_covariance([each.start for each in fixes], [each.seconds for each in fixes], rule.noise)
    sigma = np.array([each.sigma_m for each in fixes]) * rule.metre
    same = np.array([[float(one.at == other.at) for other in fixes] for one in fixes])
    hub = np.array([float(not each.face) for each in fixes])
    whole = np.kron(noise * np.outer(sigma, sigma) + rule.stake**2 * same * np.outer(hub, hub), np.eye(2))
    outward = np.array([FACES[each.face] if each.face else (0.0, 0.0) for each in fixes])
    turned = outward @ outward.T  # an oval pole is thick on opposite faces and thin between them
    radial = same * (rule.radius**2 + rule.oval**2 * (2.0 * turned**2 - 1.0))
    whole += np.kron(radial, np.ones((2, 2))) * np.outer(outward, outward)
    for i, fix in enumerate(fixes):
        if not fix.face:
            continue
        reach = radii[design.letters.index(fix.at)] + rule.rod
        beside = np.array([-outward[i, 1], outward[i, 0]])
        own = (reach * math.radians(rule.stance_deg)) ** 2 * np.outer(beside, beside)
        whole[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] += own
    return np.asarray(whole, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoverResult:
    """What a check by rover came to."""

    verdict: CheckVerdict
    #: Of `FrameDesign.names`; () = the poles do not follow.
    values: tuple[float, ...] = ()
    sigmas: tuple[float, ...] = ()
    #: Centres of the poles from left to right: right and ahead of the design centre.
    poles: tuple[tuple[float, float], ...] = ()
    #: What the base is off by the stakes: right, ahead.
    shift: tuple[float, float] = (0.0, 0.0)
    #: What keeps it from a verdict: what is not there yet, or does not count; "" = nothing.
    why: str = ""
    #: Place that disagrees most with the others, when they contradict each other: its index.
    odd: int | None = None


def lacking(design: FrameDesign, rule: RoverRule, fixes: Sequence[RoverFix]) -> str:
    """Say what a check lacks before it can tell anything; "" = nothing.

    >>> two = FrameDesign(letters="AB", spacing=12.0, unit="ft", limits=())
    >>> lacking(two, RoverRule.of("ft"), ())
    'no stake first'
    """
    if not fixes or fixes[0].face:
        return "no stake first"
    for letter in design.letters:
        seen = {each.face for each in fixes if each.at == letter and each.face}
        if len(seen) < rule.faces:
            return f"{len(seen)} of at least {rule.faces} faces of pole {letter}"
    if fixes[-1].face or len(fixes) < 2 or not any(each.face for each in fixes):
        return "no stake last"
    worst = max(fixes, key=lambda each: each.accuracy_m)
    if worst.accuracy_m > rule.gate_m:
        return f"a position good to {worst.accuracy_m:.3f} m by its own words, at {worst.at}"
    short = min(fixes, key=lambda each: (each.epochs, each.seconds))
    if short.epochs < rule.epochs or short.seconds < rule.seconds - 1.0:
        return f"only {short.epochs} positions in {short.seconds:.0f} s, at {short.at}"
    return ""


def judge_rover(
    design: FrameDesign,
    rule: RoverRule,
    *,
    centre: Centre,
    stakes: Mapping[str, tuple[float, float]],
    radii: Sequence[float],
    fixes: Sequence[RoverFix],
) -> RoverResult:
    """Judge one check by rover, by the same gates as one by tape.

    The stake occupied first shows where the base puts the frame, the one occupied last that it still does.
    Where the two, or the faces of a pole, disagree by more than once in a thousand, they contradict each
    other; a stake that seems to stand elsewhere altogether is another stake or another reference, and tells
    nothing.
    """
    why = lacking(design, rule, fixes)
    if why:
        return RoverResult(verdict=CheckVerdict.CANNOT_TELL, why=why)
    solution = Solution.of(design, rule, stakes, radii, fixes)
    unknowns, residuals = solution.solve(centre.in_frame(fixes, rule.metre))
    shift = (float(unknowns[0]), float(unknowns[1]))
    found, odd = verdict(values := _values(solution, unknowns), solution.gates), None
    if float(solution.chi_square(residuals)) > chi_square_limit(solution.degrees):
        found = CheckVerdict.CONTRADICT
        odd = solution.oddest(residuals)
    elif math.hypot(*shift) > rule.shift:
        found, why = CheckVerdict.CANNOT_TELL, "another stake, or another reference"
    return RoverResult(
        verdict=found,
        values=values,
        sigmas=tuple(gate.sigma for gate in solution.gates),
        poles=tuple((right, ahead) for right, ahead in solution.poles(unknowns).tolist()),
        shift=shift,
        why=why,
        odd=odd,
    )


def _values(solution: Solution, unknowns: FloatArray) -> tuple[float, ...]:
    return tuple(solution.design.quantities(solution.poles(unknowns)).tolist())
