"""Signatures of what is meant otherwise than it is written: columns, unit or zone of a file, a number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.signature_reference import ASKS_OF_ZONE, distance_m, in_reference, reference_of
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray

if TYPE_CHECKING:
    pass

#: A shot is misread when it lies farther than this from its structure (5 miles, in metres) ...
_ASTRAY_M = 8_046.72
#: ... and home when within this (1,000 ft). Common practice, no source.
_HOME_M = 304.8
#: A file in another zone lies within this of its structures when it is taken from there: labels may be off.
IN_ITS_ZONE_M = 1_500.0
#: Factors between units that a file may be in and be read as: metres read as feet and the like.
UNITS = (
    ("metres read as feet", 1.0 / 0.3048),
    ("metres read as US survey feet", 3937.0 / 1200.0),
    ("feet read as metres", 0.3048),
    ("US survey feet read as metres", 1200.0 / 3937.0),
)


def misread_files(survey: CheckedSurvey) -> list[Suspicion]:
    """Find files whose shots lie miles away, and what brings them home.

    One suspicion a file: "columns exchanged" with a correction (of some rows only, when the other rows are
    in order), "unit of length" with a correction, or "wrong zone" or "wrong datum", with one where the
    reference is known.
    """
    at, rows = survey.matched.at, survey.matched.row
    astray = distance_m(survey, at, rows) > _ASTRAY_M
    exchanged = astray.copy()
    # labels may be wrong as well: any structure will do
    exchanged[astray] = _nearest_m(survey, at[astray][:, ::-1]) < _HOME_M
    lone = astray & ~exchanged
    lone[lone] = _nearest_m(survey, at[lone]) > _HOME_M
    found = []
    for index in np.unique(survey.file[astray]).tolist():
        here = survey.file == index
        swapped, lost = here & exchanged, here & lone
        if swapped.any():
            found.append(_exchanged(survey, index, swapped, whole=not (here & ~astray).any()))
        if lost.sum() >= 2:
            found.append(_lost(survey, index, lost))
    return found


def _nearest_m(survey: CheckedSurvey, at: FloatArray) -> FloatArray:
    return distance_m(survey, at, survey.nearest(at))


def _exchanged(survey: CheckedSurvey, index: int, shots: BoolArray, *, whole: bool) -> Suspicion:
    file, rows = survey.files[index], survey.matched.row[shots]
    as_read = distance_m(survey, survey.matched.at[shots], rows)
    home = distance_m(survey, survey.matched.at[shots][:, ::-1], rows)
    metres = survey.line(int(rows[0])).unit.metres
    in_file_rows = [survey.matched.shots[i].row for i in np.flatnonzero(shots)]
    count = len(set(rows.tolist()))
    return Suspicion(
        code="columns exchanged",
        subject=file_subject(file),
        rows=tuple(np.unique(rows).tolist()),
        words=(
            f"northing and easting exchanged: as read {as_read.min() / metres:,.0f} {survey.unit} or more "
            f"from the structures, exchanged within {home.max() / metres:.1f} {survey.unit} at all {count}"
        ),
        evidence=(
            f"{counted(int(shots.sum()), 'shot')} of {counted(count, 'structure')} come home when exchanged; "
            + ("the whole file is in that order" if whole else "other rows of the file are in order"),
            "another zone or unit: would not bring every shot within the length of a frame",
        ),
        correction={"kind": "exchange", "file": file} | ({} if whole else {"rows": in_file_rows}),
        cost_rank=2,
        asks_for="the header or the export setting of the file: P,N,E,Z,D or P,E,N,Z,D",
    )


def _lost(survey: CheckedSurvey, index: int, shots: BoolArray) -> Suspicion:
    """Try other units about the grid's origin, then any other plane system."""
    rows, at = survey.matched.row[shots], survey.matched.at[shots]
    file, metres = survey.files[index], survey.line(int(rows[0])).unit.metres
    for words, factor in UNITS:
        # labels may be wrong as well: any structure will do
        away = float(np.median(_nearest_m(survey, at * factor)))
        if away < _HOME_M:
            return Suspicion(
                code="unit of length",
                subject=file_subject(file),
                rows=tuple(np.unique(rows).tolist()),
                words=f"{words}: with that taken out half of the shots lie within {away / metres:.1f} "
                f"{survey.unit} of a structure",
                evidence=(f"coordinates times {factor:.10g} bring {counted(len(rows), 'shot')} home",),
                correction={"kind": "foot", "file": file, "factor": factor},
                cost_rank=2,
                asks_for="the unit setting of the controller or of the export",
            )
    return _other_zone(survey, index, rows, at)


def _other_zone(survey: CheckedSurvey, index: int, rows: IntArray, at: FloatArray) -> Suspicion:
    """Name the reference the shots are in, or say how well they fit turned and scaled."""
    found = reference_of(survey, rows, at, within_m=IN_ITS_ZONE_M)
    if found is not None:
        return in_reference(survey, survey.files[index], rows, at, found)
    shape, residual = _similarity(at, survey.centre[rows])
    away_km = distance_m(survey, at, rows).min() / 1000.0
    extent = float(np.ptp(at, axis=0).max())
    fits = residual < max(20.0, 1e-3 * extent) and len(set(rows.tolist())) >= 3
    code = "wrong zone" if fits else "no single cause found"
    return Suspicion(
        code=code,
        subject=file_subject(survey.files[index]),
        rows=tuple(np.unique(rows).tolist()),
        words=(
            f"{code}: shots {away_km:,.0f} km from their structures"
            + (", yet in the right shape: another zone, datum or a local system" if fits else "")
        ),
        evidence=(
            f"turned {np.degrees(np.angle(shape)):+.3f}° and scaled by {abs(shape):.6f} the file fits the "
            f"design within {residual:.1f} {survey.unit}",
            "northing and easting exchanged, metres or feet read as the other, the references used around "
            "here: do not bring it home",
        ),
        cost_rank=2,
        asks_for=ASKS_OF_ZONE,
    )


def _similarity(points: FloatArray, others: FloatArray) -> tuple[complex, float]:
    """Turn and scale, as one complex number, that fit points to others best, and the largest residual."""
    one = points @ np.array([1.0, 1.0j])
    two = others @ np.array([1.0, 1.0j])
    one, two = one - one.mean(), two - two.mean()
    spread = float(np.vdot(one, one).real)
    shape = complex(np.vdot(one, two) / spread) if spread > 0.0 else 1.0 + 0.0j
    return shape, float(np.abs(two - shape * one).max())
