"""The frame a crew checks: its axes, the quantities that say how it stands, and the rule of the verdict.

Axes are the structure's own, ground units: x right and y ahead of the design centre (`geometry.frame`; at an
angle ahead is the bisector). Poles stand in them from left to right, for who looks ahead. The quantities and
their tolerances are those of the survey (`domain.survey.residual`), so a frame that a crew passes is held to
what the surveyor will hold it to.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import FloatArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.residual import held_tight
from linemap.geometry.uncertainty import beyond_factor, largest_inside


class CheckVerdict(StrEnum):
    """What a crew's check says about one frame."""

    PASS = "pass"  # noqa: S105 - a verdict, no secret
    """Every quantity is inside its tolerance with the confidence asked for."""
    FAIL = "fail"
    """At least one quantity is outside its tolerance with that confidence."""
    CANNOT_TELL = "cannot tell"
    """Neither."""
    CONTRADICT = "contradict"
    """No place of the poles agrees with all that was read: something was read wrongly."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameDesign:
    """Where the poles of one structure belong and how far off they may stand; equal for equal frames."""

    #: The poles from left to right, looking ahead: "AB", "BA", "ABC" or "CBA".
    letters: str
    #: Distance between neighbouring poles; above 0.
    spacing: float
    #: Sign of the ground unit, "ft" or "m".
    unit: str
    #: Half width of the tolerance of each of `names`; degrees for rotation, ground units else.
    limits: tuple[float, ...]
    #: Probability asked for before anything is called inside or outside a tolerance.
    confidence: float = 0.95

    @classmethod
    def of(cls, figures: Figures, row: int, tolerances: Tolerances) -> FrameDesign | None:
        """Return the frame of a structure; None where its spacing or which way it faces is not known."""
        spacing = round(float(figures.structures.spacing[row]), 3)
        if not spacing > 0.0 or figures.pi_in_question[row]:
            return None
        tight = bool(held_tight(figures, slice(row, row + 1))[0])
        along = tolerances.along_angle if tight else tolerances.along_tangent
        letters = figures.left_to_right(row)
        gaps = [tolerances.spacing] * (len(letters) - 1)
        bow = [tolerances.collinearity] * (len(letters) - 2)
        held = (tolerances.rotation_deg, along, tolerances.across, *gaps, *bow)
        return cls(
            letters=letters,
            spacing=spacing,
            unit=tolerances.unit,
            limits=tuple(each.value for each in held),
            confidence=tolerances.confidence,
        )

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the quantities: rotation, along, across, spacing; of three poles each gap and the bow.

        >>> FrameDesign(letters="CBA", spacing=15.0, unit="ft", limits=()).names
        ('rotation', 'along', 'across', 'spacing CB', 'spacing BA', 'bow')
        """
        if len(self.letters) == 2:
            return "rotation", "along", "across", "spacing"
        gaps = (f"spacing {left}{right}" for left, right in zip(self.letters, self.letters[1:], strict=False))
        return "rotation", "along", "across", *gaps, "bow"

    @property
    def poles(self) -> FloatArray:
        """Design places of the poles from left to right, (n, 2): right and ahead of the centre."""
        count = len(self.letters)
        right = (np.arange(count) - (count - 1) / 2.0) * self.spacing
        return np.stack([right, np.zeros(count)], axis=-1)

    @property
    def jacobian(self) -> FloatArray:
        """What each quantity gains by each coordinate of the poles, at the design; (quantities, 2 n)."""
        return _jacobian_of(self)

    def quantities(self, poles: ArrayLike) -> FloatArray:
        """Say how frames stand against the design.

        Parameters
        ----------
        poles : (..., n, 2) array_like
            Pole centres from left to right in the frame's axes.

        Returns
        -------
        (..., quantities) ndarray
            In the order of `names`: rotation in degrees, clockwise +; centre of the outer poles ahead + and
            right +; each gap, measured less design; middle pole from the line of the outer two, ahead +.

        >>> two = FrameDesign(letters="AB", spacing=12.0, unit="ft", limits=())
        >>> two.quantities([[-6.0, 0.5], [6.5, 0.5]]).tolist()
        [-0.0, 0.5, 0.25, 0.5]
        """
        at = np.asarray(poles, dtype=np.float64)
        left, right = at[..., 0, :], at[..., -1, :]
        arm, centre = right - left, (right + left) / 2.0
        gaps = np.hypot(*np.moveaxis(np.diff(at, axis=-2), -1, 0)) - self.spacing
        turned = np.degrees(np.arctan2(-arm[..., 1], arm[..., 0]))
        columns = [turned, centre[..., 1], centre[..., 0], *np.moveaxis(gaps, -1, 0)]
        if len(self.letters) == 3:
            middle = at[..., 1, :] - left
            cross = arm[..., 0] * middle[..., 1] - arm[..., 1] * middle[..., 0]
            columns.append(cross / np.hypot(arm[..., 0], arm[..., 1]))
        return np.stack(columns, axis=-1)

    def gates(self, sigmas: Sequence[float] | FloatArray) -> tuple[Gate, ...]:
        """Return the gates of the quantities, known with these standard uncertainties."""
        named = zip(self.names, self.limits, sigmas, strict=True)
        return tuple(
            gate_of(name, float(limit), float(sigma), self.confidence) for name, limit, sigma in named
        )


@lru_cache(maxsize=256)
def _jacobian_of(design: FrameDesign) -> FloatArray:
    poles, step = design.poles, 1e-6
    moves = step * np.eye(poles.size).reshape(poles.size, *poles.shape)
    return np.asarray((design.quantities(poles + moves) - design.quantities(poles - moves)).T / (2.0 * step))


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """Between which readings of one quantity, known with one uncertainty, a verdict passes and fails."""

    #: One of `FrameDesign.names`.
    name: str
    #: Half width of the tolerance.
    limit: float
    #: Standard uncertainty of the quantity.
    sigma: float
    #: Inside with confidence up to this size; negative = never, not even a reading of zero proves it.
    pass_to: float
    #: Outside with confidence beyond this size.
    fail_from: float


def gate_of(name: str, limit: float, sigma: float, confidence: float) -> Gate:
    """Turn the survey's rule (`geometry.uncertainty`) for one uncertainty into two sizes to compare with.

    >>> gate = gate_of("rotation", 1.0, 0.25, 0.95)
    >>> round(gate.pass_to, 4), round(gate.fail_from, 4)
    (0.5888, 1.4112)
    """
    pass_to = largest_inside(sigma, limit, confidence)
    beyond = float(beyond_factor(sigma, limit, confidence=confidence))
    return Gate(name=name, limit=limit, sigma=sigma, pass_to=pass_to, fail_from=limit + beyond * sigma)


def verdict(values: Iterable[float], gates: Sequence[Gate]) -> CheckVerdict:
    """Judge the quantities of one frame by their gates; nan = not known, which passes nothing.

    >>> gates = (gate_of("along", 1.0, 0.1, 0.95), gate_of("across", 0.25, 0.05, 0.95))
    >>> verdict([0.3, 0.1], gates).value, verdict([0.3, -0.4], gates).value, verdict([0.9, 0.0], gates).value
    ('pass', 'fail', 'cannot tell')
    """
    sizes = [abs(value) for value in values]
    pairs = list(zip(sizes, gates, strict=True))
    if any(size > gate.fail_from for size, gate in pairs):
        return CheckVerdict.FAIL
    if all(size <= gate.pass_to for size, gate in pairs):
        return CheckVerdict.PASS
    return CheckVerdict.CANNOT_TELL


def verdicts(values: FloatArray, gates: Sequence[Gate]) -> FloatArray:
    """Judge many frames, (frames, quantities): 1 = pass, -1 = fail, 0 = cannot tell."""
    size = np.abs(values)
    outside = (size > np.array([gate.fail_from for gate in gates])).any(axis=-1)
    inside = (size <= np.array([gate.pass_to for gate in gates])).all(axis=-1)
    return np.where(outside, -1.0, np.where(inside, 1.0, 0.0))
