"""The verdict on each set frame, weighed from its residuals: set as designed, not, or cannot be told."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import reduce
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import POLE_LETTERS, BoolArray, FloatArray, IntArray, ObjectArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.code import Severity, Values
from linemap.domain.finding.finding import Block, Found
from linemap.domain.survey.residual import Residual, SetFrames, residuals
from linemap.domain.survey.set_poles import SetPoles
from linemap.geometry.batches import in_place
from linemap.geometry.uncertainty import beyond_factor, probability_inside


class Verdict(StrEnum):
    """What the survey says about one frame."""

    PASS = "pass"  # noqa: S105 - a verdict, no secret
    """Every residual is inside its tolerance with the confidence asked for."""
    FAIL = "fail"
    """At least one residual is outside its tolerance with that confidence."""
    CANNOT_TELL = "cannot tell"
    """Neither; or a pole is missing, shots contradict each other, or A and B stand the other way round."""
    NOT_SURVEYED = "not surveyed"
    """No shot names the structure."""


class Held(StrEnum):
    """What a pass is held against."""

    CONTROL = "by control"
    """Check-ins of its session agree."""
    OWN_BASE = "against its own base"
    """No check-in: a base that is off where the stakes were set from it shows nothing."""


def judged(size: float, sigma: float, *, limit: float, confidence: float, doubt: float = 0.0) -> Verdict:
    """Judge the size of one deviation with its sigma.

    Pass within the limit with confidence even if all of the `doubt` hides some of it, fail beyond it with
    confidence even if all of the doubt feigns some (`beyond_factor` sigmas), else cannot tell.
    """
    if size - limit - doubt > float(beyond_factor(sigma, limit, confidence=confidence)) * sigma:
        return Verdict.FAIL
    if limit > doubt and float(probability_inside(size, sigma, limit - doubt)) >= confidence:
        return Verdict.PASS
    return Verdict.CANNOT_TELL


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Checks:
    """The orientation check as columns aligned with the rows of `Figures`.

    Lengths are ground lengths; residuals are nan where a pole is missing or the shots are in doubt.
    """

    #: `Verdict` of each row, (n,).
    verdict: ObjectArray
    #: `Held` of each row that passes, "" of the others.
    held: ObjectArray
    #: True where first and last pole stand the other way round.
    reversed: BoolArray
    #: Clockwise +, after a reversal is taken out, in (-90, 90].
    rotation_deg: FloatArray
    rotation_sigma_deg: FloatArray
    #: Frame centre from the design centre, ahead +.
    along: FloatArray
    along_sigma: FloatArray
    #: Frame centre from the design centre, right +.
    across: FloatArray
    across_sigma: FloatArray
    #: Measured minus design, of the worse gap on three-pole structures.
    spacing_error: FloatArray
    spacing_sigma: FloatArray
    measured_spacing: FloatArray
    #: Middle pole from the line A-C, ahead +; nan for two poles.
    collinearity: FloatArray
    collinearity_sigma: FloatArray
    #: Distance between the outer poles as measured.
    outer_distance: FloatArray
    #: The smallest of the residuals' probabilities of lying inside their tolerance; nan when none.
    probability_in_tolerance: FloatArray
    #: True where this survey would prove every tolerance if the frame stood right.
    provable: BoolArray
    #: Letters of the poles not shot ("B", "AC"); "" = none missing, or not surveyed at all.
    missing: ObjectArray
    #: True where shots contradict each other or their place; `SetPoles.findings` say why.
    withheld: BoolArray
    findings: tuple[Found, ...]


def held_by(verdict: ObjectArray, held: Held | ObjectArray) -> ObjectArray:
    """Return what passes are held against, "" where the verdict is no pass."""
    found = np.full(len(verdict), "", dtype=object)
    passed = verdict == Verdict.PASS
    found[passed] = held[passed] if isinstance(held, np.ndarray) else held
    return found


def _missing(frames: SetFrames, count: IntArray) -> ObjectArray:
    """Return the letters of the poles that have no shot."""
    absent = count == 0
    absent[:, 2] &= frames.three_poles
    missing = np.full(len(count), "", dtype=object)
    for i in np.flatnonzero(absent[:, 0] | absent[:, 1] | absent[:, 2]).tolist():
        missing[i] = "".join(letter for letter, gone in zip(POLE_LETTERS, absent[i], strict=True) if gone)
    return missing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """What the check of some rows came to; columns over those of them only that have shots."""

    figures: Figures
    #: The rows, surveyed or not.
    part: slice
    frames: SetFrames
    #: Rotation, along, across, spacing, collinearity.
    kinds: tuple[Residual, ...]
    tolerances: Tolerances
    #: Per-axis sigma of each pole, (m, 3).
    sigma: FloatArray
    #: True where the survey tells which outer pole stands on which side.
    sided: BoolArray
    missing: ObjectArray

    @classmethod
    def of(cls, figures: Figures, set_poles: SetPoles, tolerances: Tolerances, part: slice) -> Outcome:
        """Check the rows of a part."""
        count = set_poles.count[part]
        row = part.start + np.flatnonzero((count[:, 0] > 0) | (count[:, 1] > 0) | (count[:, 2] > 0))
        rows = in_place(row)
        sigma, position, conflict = set_poles.sigma[rows], set_poles.position[rows], set_poles.conflict[rows]
        if conflict.any():
            position = np.where(conflict[:, np.newaxis, np.newaxis], np.nan, position)
        more = set_poles.corrected_sigma
        frames = SetFrames.measure(
            figures,
            row,
            position=position,
            sigma=sigma,
            common_sigma=tolerances.common_sigma,
            corrected_sigma=None if more is None else more[rows],
        )
        return cls(
            figures=figures,
            part=part,
            frames=frames,
            kinds=residuals(frames, tolerances),
            tolerances=tolerances,
            sigma=sigma,
            sided=frames.sides_known(tolerances.confidence),
            missing=_missing(frames, set_poles.count[rows]),
        )

    @property
    def turned(self) -> BoolArray:
        """True where A and B surely stand the other way round."""
        return self.frames.seen.reversed & self.sided

    def verdicts(self) -> ObjectArray:
        """Return a `Verdict` for each surveyed row."""
        confidence = self.tolerances.confidence
        fit = self.frames.known & self.sided & ~self.turned
        verdict = np.empty(len(fit), dtype=object)
        verdict.fill(Verdict.CANNOT_TELL)  # np.full would make it a plain str
        verdict[fit & _all([kind.inside(confidence) for kind in self.kinds])] = Verdict.PASS
        verdict[~_all([~kind.outside for kind in self.kinds])] = Verdict.FAIL
        verdict[self.figures.pi_in_question[self.frames.row]] = Verdict.CANNOT_TELL
        return verdict

    def columns(self) -> dict[str, NDArray[Any]]:
        """Return the columns of `Checks` of all rows of the part."""
        rotation, along, across, spacing, bow = self.kinds
        known, verdict = self.frames.known, self.verdicts()
        lengths = {
            "rotation_deg": rotation.value,
            "rotation_sigma_deg": rotation.sigma,
            "along": along.value,
            "along_sigma": along.sigma,
            "across": across.value,
            "across_sigma": across.sigma,
            "spacing_error": spacing.value,
            "spacing_sigma": spacing.sigma,
            "measured_spacing": self.frames.seen.measured_spacing,
            "collinearity": bow.value,
            "collinearity_sigma": bow.sigma,
            "outer_distance": self.frames.outer_distance,
            "probability_in_tolerance": _smallest([kind.probability for kind in self.kinds]),
        }
        return {
            **{name: self._spread(column, np.nan) for name, column in lengths.items()},
            "verdict": self._spread(verdict, Verdict.NOT_SURVEYED),
            "held": self._spread(held_by(verdict, Held.OWN_BASE), ""),
            "reversed": self._spread(self.turned, False),
            "provable": self._spread(known & _all([kind.provable for kind in self.kinds]), False),
            "missing": self._spread(self.missing, ""),
        }

    def _spread(self, column: NDArray[Any], otherwise: object) -> NDArray[Any]:
        """Lay a column out over the part, with `otherwise` on the rows without shots."""
        size = self.part.stop - self.part.start
        if len(column) == size:
            return column
        full = np.empty(size, dtype=column.dtype)
        full.fill(otherwise)
        full[self.frames.row - self.part.start] = column
        return full

    def findings(self) -> list[Block]:
        """Write down what was found of the frames that have something to tell, code by code."""
        rotation = self.kinds[0]
        unsided = self.frames.known & ~self.sided
        turned = {"last": self.last, "value": rotation.value, "sigma": rotation.sigma}
        return [
            *self._block("pole not shot", self.missing != "", {"poles": self.missing}),
            *self._block("reversed", self.turned, turned),
            *self._block("sides not known", unsided, {"last": self.last}),
            *chain.from_iterable(map(self._of_kind, self.kinds)),
        ]

    def _block(
        self, code: str, where: BoolArray, values: Values, *, weight: Severity | None = None
    ) -> Iterator[Block]:
        at = np.flatnonzero(where)
        if not at.size:
            return
        taken = {
            name: value[at] if isinstance(value, np.ndarray) else value for name, value in values.items()
        }
        yield Block(code=code, rows=self.frames.row[at], values=taken, weight=weight)

    def _of_kind(self, kind: Residual) -> Iterator[Block]:
        """Write down what lies outside or may, and where no reading could have proved the tolerance.

        Where nobody can tell which way a structure faces, only what does not depend on it.
        """
        faces = ~self.figures.pi_in_question[self.frames.row] | (kind.code in {"spacing", "collinearity"})
        short = kind.probability < self.tolerances.confidence
        doubtful = short & ~kind.outside & (kind.provable | (np.abs(kind.value) > kind.limit))
        limits = {"limit": kind.limit, "limit_unit": kind.tolerance.unit, "unit": self.tolerances.unit}
        values = {**kind.values, "value": kind.value, "sigma": kind.sigma, **limits}
        yield from self._block(kind.code, kind.outside & faces, {**values, "outside": True})
        yield from self._block(
            kind.code, doubtful & faces, {**values, "outside": False}, weight=Severity.UNSURE
        )
        unproven = ~kind.provable & np.isfinite(kind.value)
        if unproven.any():
            yield from self._block("survey cannot prove", unproven, {**limits, **self._remedy(kind)})

    def _remedy(self, kind: Residual) -> Values:
        """Return how good a shot must be to prove the tolerance, and the worst shot of each frame."""
        known = np.where(np.isnan(self.sigma), 0.0, self.sigma)
        shot = np.asarray(known.max(axis=1), dtype=np.float64)
        return {
            "residual": kind.code,
            "shot": shot,
            "needed": shot * kind.needed_share(self.tolerances.confidence),
            "shared": kind.shared,
        }

    @property
    def last(self) -> ObjectArray:
        """Letter of the outer pole that is not A."""
        return np.where(self.frames.three_poles, "C", "B").astype(object)


def _all(masks: list[BoolArray]) -> BoolArray:
    return reduce(np.logical_and, masks)


def _smallest(columns: list[FloatArray]) -> FloatArray:
    """Row by row; nan only where all are. Pair by pair, as a reduction would first stack the columns."""
    return reduce(np.fmin, columns)
