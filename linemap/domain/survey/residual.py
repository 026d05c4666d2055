"""The residuals of set frames: value, uncertainty, tolerance and words of each kind.

Sigmas are standard uncertainties. Rotation and spacing do not feel an error all shots share (base,
localisation); the centre does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.design.tolerance import Tolerance, Tolerances
from linemap.geometry.batches import in_place
from linemap.geometry.frame import AsSet, as_set
from linemap.geometry.uncertainty import (
    beyond_factor,
    centre_sigma,
    coverage_factor,
    probability_inside,
    rotation_sigma_deg,
    spacing_sigma,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetFrames:
    """Frames as set, with the standard uncertainties of what was measured; columns of one length."""

    #: Row of each frame in `Figures`.
    row: IntArray
    seen: AsSet
    #: True where every pole of the structure has a position.
    known: BoolArray
    three_poles: BoolArray
    #: True at angles and section breaks, where the tolerance along the line is the tight one.
    strict: BoolArray
    #: Measured distance between the outer poles, ground; nan where not known.
    outer_distance: FloatArray
    rotation_sigma_deg: FloatArray
    #: Of the frame centre, the error common to all shots included.
    along_sigma: FloatArray
    across_sigma: FloatArray
    spacing_sigma: FloatArray
    #: Of the middle pole off the line of the outer two; nan for two poles.
    bow_sigma: FloatArray

    @classmethod
    def measure(
        cls,
        figures: Figures,
        row: IntArray,
        *,
        position: FloatArray,
        sigma: FloatArray,
        common_sigma: float,
        corrected_sigma: FloatArray | None = None,
    ) -> SetFrames:
        """Compare surveyed poles with their design.

        `position` has grid easting and northing of poles A, B, C, (m, 3, 2), nan where not known; `sigma` the
        per-axis standard deviation of each by itself, (m, 3), `common_sigma` of what all share, ground unit;
        `corrected_sigma` as in `SetPoles`, (m, 3).
        """
        rows = in_place(row)
        along, across, turn = (0.0, 0.0, 0.0) if corrected_sigma is None else corrected_sigma.T
        seen = as_set_at(figures, rows, position)
        known = np.isfinite(seen.along)
        three = figures.structures.pole_count[rows] == 3
        last_pole = _last(position, three)
        outer = np.hypot(last_pole[:, 0] - position[:, 0, 0], last_pole[:, 1] - position[:, 0, 1])
        outer = np.where(known, outer / figures.combined_factor[rows], np.nan)
        first, middle, last = sigma[:, 0], sigma[:, 1], _last(sigma, three)
        gap_sigma, bow_sigma = spacing_sigma(first, middle), np.full(len(first), np.nan)
        gap_sigma[three] = np.maximum(gap_sigma[three], spacing_sigma(middle[three], last[three]))
        bow_sigma[three] = np.hypot(middle[three], centre_sigma(first[three], last[three]))
        return cls(
            row=row,
            seen=seen,
            known=known,
            three_poles=three,
            strict=held_tight(figures, rows),
            outer_distance=outer,
            rotation_sigma_deg=np.hypot(
                rotation_sigma_deg(first, last, distance=outer, rotation_deg=seen.rotation_deg), turn
            ),
            along_sigma=centre_sigma(first, last, common=np.hypot(common_sigma, along)),
            across_sigma=centre_sigma(first, last, common=np.hypot(common_sigma, across)),
            spacing_sigma=gap_sigma,
            bow_sigma=bow_sigma,
        )

    def sides_known(self, confidence: float) -> BoolArray:
        """Return where the survey tells, with confidence, which outer pole stands on which side."""
        apart = self.outer_distance * np.cos(np.radians(self.seen.rotation_deg))
        return self.known & (
            apart
            >= coverage_factor(2.0 * confidence - 1.0)
            * np.radians(self.rotation_sigma_deg)
            * self.outer_distance
        )


def held_tight(figures: Figures, rows: IntArray | slice) -> BoolArray:
    """Return where the tolerance along the line is the tight one: at angles and section breaks."""
    return (np.abs(figures.deflection_deg[rows]) > 0.0) | figures.structures.section_break[rows]


def _last(columns: FloatArray, three: BoolArray) -> FloatArray:
    """Take the column of pole C on three-pole structures, and of pole B on the others."""
    last = columns[:, 1].copy()
    last[three] = columns[three, 2]
    return last


def as_set_at(figures: Figures, row: IntArray | slice, position: FloatArray) -> AsSet:
    """Compare the (m, 3, 2) grid positions of the poles of rows with their design."""
    structures, factor = figures.structures, figures.combined_factor[row]
    return as_set(
        structures.easting[row],
        structures.northing[row],
        structure_azimuth_deg=figures.structure_azimuth_deg[row],
        spacing_grid=structures.spacing[row] * factor,
        pole_count=structures.pole_count[row],
        a_left=figures.a_left[row],
        set_poles=position,
        combined_factor=factor,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Residual:
    """One kind of residual of all frames, judged against its tolerance."""

    #: Finding code.
    code: str
    #: Signed residual, (m,); nan where unknown.
    value: FloatArray
    #: Its standard uncertainty, (m,); nan where unknown.
    sigma: FloatArray
    #: The part of sigma that all shots share, which no better shot makes smaller.
    shared: float
    #: Frames that have this residual; the others are not asked for it.
    applies: BoolArray
    tolerance: Tolerance
    #: Half width of the tolerance of each frame.
    limit: FloatArray
    #: Probability that the true value lies inside the tolerance; nan where unknown.
    probability: FloatArray
    #: True where it lies beyond the tolerance, on the side measured, with the confidence asked for
    #: (`linemap.geometry.uncertainty.beyond_factor`).
    outside: BoolArray
    #: True where a reading of zero would prove the tolerance, or none is asked for.
    provable: BoolArray
    #: Columns a sentence names beside the residual itself.
    values: Mapping[str, FloatArray]

    @classmethod
    def judge(
        cls,
        code: str,
        value: FloatArray,
        sigma: FloatArray,
        *,
        applies: BoolArray,
        tolerance: Tolerance,
        confidence: float,
        values: Mapping[str, FloatArray] = MappingProxyType({}),
        limit: FloatArray | None = None,
        shared: float = 0.0,
    ) -> Residual:
        """Judge values with their sigmas against a tolerance, or against a limit of each frame."""
        limits = np.full(len(value), tolerance.value) if limit is None else limit
        rows = slice(None) if applies.all() else np.flatnonzero(applies)
        probability = np.full(len(value), np.nan)
        probability[rows] = probability_inside(value[rows], sigma[rows], limits[rows])
        beyond = beyond_factor(sigma, limits, confidence=confidence)
        return cls(
            code=code,
            value=value,
            sigma=np.where(applies, sigma, np.nan),
            shared=shared,
            applies=applies,
            tolerance=tolerance,
            limit=limits,
            probability=probability,
            outside=applies & (np.abs(value) - limits > beyond * sigma),
            provable=~applies | (limits >= coverage_factor(confidence) * sigma),
            values=values,
        )

    def inside(self, confidence: float) -> BoolArray:
        """Return where the true value lies inside the tolerance with confidence, or is not asked for."""
        return ~self.applies | (self.probability >= confidence)

    def needed_share(self, confidence: float) -> FloatArray:
        """Return by which factor the shots' own sigma of each frame must shrink to prove the tolerance.

        0 = in vain; of use only where a reading of zero would not prove it.
        """
        wanted = (self.limit / coverage_factor(confidence)) ** 2 - self.shared**2
        own = self.sigma**2 - self.shared**2
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(wanted > 0.0, np.sqrt(np.maximum(wanted, 0.0) / own), 0.0)


def residuals(frames: SetFrames, tolerances: Tolerances) -> tuple[Residual, ...]:
    """Return the five kinds of residual: rotation, along, across, spacing, collinearity."""
    seen, known, shared = frames.seen, frames.known, tolerances.common_sigma
    judge = partial(Residual.judge, confidence=tolerances.confidence)
    return (
        judge(
            "arm turned",
            seen.rotation_deg,
            frames.rotation_sigma_deg,
            applies=known,
            tolerance=tolerances.rotation_deg,
            values={"distance": frames.outer_distance},
        ),
        judge(
            "centre along",
            seen.along,
            frames.along_sigma,
            applies=known,
            tolerance=tolerances.along_tangent,
            limit=np.where(frames.strict, tolerances.along_angle.value, tolerances.along_tangent.value),
            shared=shared,
        ),
        judge(
            "centre across",
            seen.across,
            frames.across_sigma,
            applies=known,
            tolerance=tolerances.across,
            shared=shared,
        ),
        judge(
            "spacing",
            seen.spacing_error,
            frames.spacing_sigma,
            applies=known & np.isfinite(seen.spacing_error),
            tolerance=tolerances.spacing,
            values={"measured": seen.measured_spacing},
        ),
        judge(
            "collinearity",
            seen.collinearity,
            frames.bow_sigma,
            applies=known & frames.three_poles,
            tolerance=tolerances.collinearity,
        ),
    )
