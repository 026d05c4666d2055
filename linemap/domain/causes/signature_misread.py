"""Signatures of what is meant otherwise than it is written: columns, unit or zone of a file, a number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray

if TYPE_CHECKING:
    from linemap.geometry.other_reference import TakenFrom
    from linemap.geometry.projection import Projection

#: A shot is misread when it lies farther than this from its structure (5 miles, in metres) ...
_ASTRAY_M = 8_046.72
#: ... and home when within this (1,000 ft). Common practice, no source.
_HOME_M = 304.8
#: A file in another zone lies within this of its structures when it is taken from there.
_IN_ITS_ZONE_M = 500.0
#: Files are looked at for another datum from here on, and with so many structures.
_OF_A_DATUM_M, _FEWEST = 20.0, 3
#: A step between datums worse than this corrects no survey.
_GOOD_M = 0.05
_TOO_COARSE = (
    "too coarse for verdicts, so nothing is moved: ask for an export in the job's reference; frames and "
    "labels of the file are looked at once it is there"
)
_ASKS_OF_ZONE = "the coordinate system set in the controller (zone, datum, localisation)"
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
    astray = _distance_m(survey, at, rows) > _ASTRAY_M
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


def _distance_m(survey: CheckedSurvey, at: FloatArray, rows: IntArray) -> FloatArray:
    away = at - survey.centre[rows]
    return np.asarray(np.hypot(away[:, 0], away[:, 1]) * survey.figures.grid_metres[rows])


def _nearest_m(survey: CheckedSurvey, at: FloatArray) -> FloatArray:
    return _distance_m(survey, at, survey.nearest(at))


def _exchanged(survey: CheckedSurvey, index: int, shots: BoolArray, *, whole: bool) -> Suspicion:
    file, rows = survey.files[index], survey.matched.row[shots]
    as_read = _distance_m(survey, survey.matched.at[shots], rows)
    home = _distance_m(survey, survey.matched.at[shots][:, ::-1], rows)
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
    found = _best_reference(survey, rows, at, within_m=_IN_ITS_ZONE_M)
    if found is not None:
        return _in_reference(survey, survey.files[index], rows, at, found)
    shape, residual = _similarity(at, survey.centre[rows])
    away_km = _distance_m(survey, at, rows).min() / 1000.0
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
        asks_for=_ASKS_OF_ZONE,
    )


def other_references(survey: CheckedSurvey) -> list[Suspicion]:
    """Find files that lie off as a whole by what another datum or zone makes of the same coordinates.

    Returns
    -------
    list of Suspicion
        "wrong zone" or "wrong datum", with a correction where a true operation leads to the job's reference.
    """
    off = _distance_m(survey, survey.matched.at, survey.matched.row)
    found = []
    for index in np.unique(survey.file[off > _OF_A_DATUM_M]).tolist():
        here = np.flatnonzero(survey.file == index)
        away, rows = float(np.median(off[here])), survey.matched.row[here]
        if away <= _OF_A_DATUM_M or len(set(rows.tolist())) < _FEWEST:
            continue
        at, limit = survey.matched.at[here], max(0.1 * away, 0.5 * _OF_A_DATUM_M)
        other = _best_reference(survey, rows, at, within_m=limit)
        if other is not None:
            found.append(_in_reference(survey, survey.files[index], rows, at, other))
    return found


def _best_reference(
    survey: CheckedSurvey, rows: IntArray, at: FloatArray, *, within_m: float
) -> TakenFrom | None:
    from linemap.geometry.other_reference import best_reference

    return best_reference(_projection(survey, rows), at, survey.centre[rows], within_m=within_m)


def _projection(survey: CheckedSurvey, rows: IntArray) -> Projection:
    from linemap.geometry.projection import Projection

    return Projection.from_text(survey.line(int(rows[0])).crs)


def _in_reference(
    survey: CheckedSurvey, file: str, rows: IntArray, at: FloatArray, other: TakenFrom
) -> Suspicion:
    metres = survey.line(int(rows[0])).unit.metres
    left = float(np.median(_distance_m(survey, other.at, rows))) / metres
    as_read = float(np.median(_distance_m(survey, at, rows))) / metres
    own = _projection(survey, rows)
    one_datum = own.name.split(" / ")[0] == other.name.split(" / ")[0]
    code = "wrong zone" if one_datum else "wrong datum"
    good = other.is_true and other.accuracy_m <= _GOOD_M
    known = f"the step between the datums is known here within {other.accuracy_m / metres:.0f} {survey.unit}"
    structures = counted(len(set(rows.tolist())), "structure")
    return Suspicion(
        code=code,
        subject=file_subject(file),
        rows=tuple(np.unique(rows).tolist()),
        words=f"{code}: the coordinates are in {other.name} ({other.code}), not {own.text}: taken from there "
        f"half of the shots lie within {left:,.1f} {survey.unit} of their structures, as read {as_read:,.0f}",
        evidence=(
            f"{counted(len(at), 'shot')} of {structures}; no other reference used here brings them nearer",
            "one datum: the step is exact" if one_datum else known,
            *(
                []
                if good
                else ["too coarse for verdicts, so nothing is moved: ask for an export in the job's"]
            ),
        ),
        correction={"kind": "reproject", "file": file, "crs": other.code, "to": own.text} if good else None,
        cost_rank=2,
        asks_for=_ASKS_OF_ZONE,
    )


def with_point_named(survey: CheckedSurvey, laws: list[Suspicion]) -> list[Suspicion]:
    """Say of files scaled about a point which known point that is, within what the survey tells."""
    named = []
    for each in laws:
        correction = each.correction or {}
        if "about" in correction and correction.get("factor", 1.0) != 1.0:
            point = _named_point(survey, each.rows, correction)
            each = replace(each, evidence=(*each.evidence, point))  # noqa: PLW2901 - the same law
        named.append(each)
    return named


def _named_point(survey: CheckedSurvey, rows: Sequence[int], correction: Mapping[str, Any]) -> str:
    """Name the nearest of grid origin, PIs, line ends and structures to the point a scale is about."""
    line = survey.line(rows[0])
    east, north = (float(value) for value in correction["about"])
    unsure = max(survey.tolerances.shot_sigma, survey.tolerances.across.value / 3.0)
    reach = 2.0 * unsure / math.sqrt(len(rows)) / abs(float(correction["factor"]) - 1.0)
    route = line.centreline
    places = [("the origin of the grid", 0.0, 0.0)]
    places += [(route.name(i), route.easting[i], route.northing[i]) for i in range(len(route.easting))]
    places += [
        (f"structure {survey.number(row)}", *survey.figures.centre_of(row))
        for row in np.flatnonzero(survey.figures.line_index == survey.figures.line_index[rows[0]]).tolist()
    ]
    apart, name = min((math.hypot(e - east, n - north), name) for name, e, n in places)
    if apart <= reach:
        return f"the point lies within {reach:,.0f} {survey.unit} of {name}, nearer the survey does not tell"
    return (
        f"the point is no PI, no structure and not the origin of the grid ({name} is nearest, {apart:,.0f} "
        f"{survey.unit} away): a control point, or a shift is entangled with it; a check-in tells"
    )


def _similarity(points: FloatArray, others: FloatArray) -> tuple[complex, float]:
    """Turn and scale, as one complex number, that fit points to others best, and the largest residual."""
    one = points @ np.array([1.0, 1.0j])
    two = others @ np.array([1.0, 1.0j])
    one, two = one - one.mean(), two - two.mean()
    spread = float(np.vdot(one, one).real)
    shape = complex(np.vdot(one, two) / spread) if spread > 0.0 else 1.0 + 0.0j
    return shape, float(np.abs(two - shape * one).max())
