"""Signatures of files that lie off as a whole: another datum, the grid's origin, a base typed in wrong.

References are tried by what remains at the structures the shots name (`linemap.geometry.other_reference`).
Nothing is corrected by a step that is too coarse for a survey.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.design.structure import FloatArray, IntArray

if TYPE_CHECKING:
    from linemap.geometry.other_reference import TakenFrom
    from linemap.geometry.projection import Projection

#: Files are looked at for another datum from here on, and with so many structures.
_OF_A_DATUM_M, _FEWEST = 20.0, 3
#: A base typed in wrong is told apart from one a little off from here on; shots are home within this: half
#: a frame and what a survey may be off besides.
_OF_A_BASE_M, _AT_HOME_M = 100.0, 6.0
#: A step between datums worse than this corrects no survey.
_GOOD_M = 0.05
_TOO_COARSE = (
    "too coarse for verdicts, so nothing is moved: ask for an export in the job's reference; frames and "
    "labels of the file are looked at once it is there"
)
ASKS_OF_ZONE = "the coordinate system set in the controller (zone, datum, localisation)"


def distance_m(survey: CheckedSurvey, at: FloatArray, rows: IntArray) -> FloatArray:
    """Return the ground distance of points from the design centres of rows, metres."""
    away = at - survey.centre[rows]
    return np.asarray(np.hypot(away[:, 0], away[:, 1]) * survey.figures.grid_metres[rows])


def files_far_off(survey: CheckedSurvey) -> list[Suspicion]:
    """Find files that lie off as a whole, farther than a base or a factor about the survey moves them.

    Returns
    -------
    list of Suspicion
        "grid taken as ground" about the origin of the grid, with a correction; "wrong zone" or "wrong datum",
        with one where the step is good enough; "base or datum shifted" without one: a base typed in wrong.
    """
    off = distance_m(survey, survey.matched.at, survey.matched.row)
    found = []
    for index in np.unique(survey.file[off > _OF_A_DATUM_M]).tolist():
        here = np.flatnonzero(survey.file == index)
        away, rows = float(np.median(off[here])), survey.matched.row[here]
        if away <= _OF_A_DATUM_M or len(set(rows.tolist())) < _FEWEST:
            continue
        at, file = survey.matched.at[here], survey.files[index]
        other = reference_of(survey, rows, at, within_m=max(0.1 * away, 0.5 * _OF_A_DATUM_M))
        named = _about_the_origin(survey, file, rows, at)
        if named is None and other is not None:
            named = in_reference(survey, file, rows, at, other)
        if named is None and away > _OF_A_BASE_M:
            named = _one_vector(survey, file, rows, at)
        found += [named] if named is not None else []
    return found


def _about_the_origin(survey: CheckedSurvey, file: str, rows: IntArray, at: FloatArray) -> Suspicion | None:
    """Try the declared factor about the origin of the grid: left out, or applied twice."""
    line = survey.line(int(rows[0]))
    if not line.combined_factor_declared:
        return None
    metres = line.unit.metres
    for words, factor in (("left out", line.combined_factor), ("applied twice", 1.0 / line.combined_factor)):
        left = float(np.median(distance_m(survey, at * factor, rows)))
        if left <= _AT_HOME_M:
            return Suspicion(
                code="grid taken as ground",
                subject=file_subject(file),
                rows=tuple(np.unique(rows).tolist()),
                words=f"declared factor {line.combined_factor:.8g} {words}, about the origin of the grid: "
                f"with it half of the shots lie within {left / metres:.1f} {survey.unit} of their "
                f"structures, as read {float(np.median(distance_m(survey, at, rows))) / metres:,.0f}",
                evidence=(f"{counted(len(set(rows.tolist())), 'structure')} by one number, none of it free",),
                correction={"kind": "foot", "file": file, "factor": factor},
                cost_rank=2,
                asks_for="whether the controller gives grid or ground coordinates, and its scale",
            )
    return None


def _one_vector(survey: CheckedSurvey, file: str, rows: IntArray, at: FloatArray) -> Suspicion | None:
    """Tell a file that lies off by one vector as a whole."""
    away = at - survey.centre[rows]
    vector = np.median(away, axis=0)
    line = survey.line(int(rows[0]))
    left = float(np.median(np.hypot(*(away - vector).T)))
    if left * line.unit.metres > _AT_HOME_M:
        return None
    return Suspicion(
        code="base or datum shifted",
        subject=file_subject(file),
        rows=tuple(np.unique(rows).tolist()),
        words=f"all moved alike, dN {vector[1]:+,.1f}, dE {vector[0]:+,.1f} {survey.unit}; with that taken "
        f"out half of the shots lie within {left:.1f} {survey.unit} of their structures",
        evidence=(
            f"{counted(len(set(rows.tolist())), 'structure')} by one vector, which no datum or factor used "
            "around here makes: a base typed in wrong",
            "nothing is moved so far by a guess: frames of the file are looked at once its base is right",
        ),
        cost_rank=2,
        asks_for="the coordinates of the base as they were typed in, and its point number",
    )


def reference_of(
    survey: CheckedSurvey, rows: IntArray, at: FloatArray, *, within_m: float
) -> TakenFrom | None:
    """Return the reference that brings shots, read `at`, home to their rows; None = no one used here."""
    from linemap.geometry.other_reference import best_reference

    return best_reference(_projection(survey, rows), at, survey.centre[rows], within_m=within_m)


def _projection(survey: CheckedSurvey, rows: IntArray) -> Projection:
    from linemap.geometry.projection import Projection

    return Projection.from_text(survey.line(int(rows[0])).crs)


def in_reference(
    survey: CheckedSurvey, file: str, rows: IntArray, at: FloatArray, other: TakenFrom
) -> Suspicion:
    """Say of shots at rows that they are in another reference, and correct them where the step is good."""
    metres = survey.line(int(rows[0])).unit.metres
    left = float(np.median(distance_m(survey, other.at, rows))) / metres
    as_read = float(np.median(distance_m(survey, at, rows))) / metres
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
        asks_for=ASKS_OF_ZONE,
    )


def with_point_named(survey: CheckedSurvey, laws: list[Suspicion], control: FloatArray) -> list[Suspicion]:
    """Say of files scaled about a point which known point that is, within what the survey tells.

    `control` has grid easting and northing of control points that were shot, (c, 2).
    """
    named = []
    for each in laws:
        correction = each.correction or {}
        if "about" in correction and correction.get("factor", 1.0) != 1.0:
            point = _named_point(survey, each.rows, correction, control)
            each = replace(each, evidence=(*each.evidence, point))  # noqa: PLW2901 - the same law
        named.append(each)
    return named


def _named_point(
    survey: CheckedSurvey, rows: Sequence[int], correction: Mapping[str, Any], control: FloatArray
) -> str:
    """Name the nearest of grid origin, control, PIs and structures to the point a scale is about."""
    line = survey.line(rows[0])
    east, north = (float(value) for value in correction["about"])
    unsure = max(survey.tolerances.shot_sigma, survey.tolerances.across.value / 3.0)
    reach = 2.0 * unsure / math.sqrt(len(rows)) / abs(float(correction["factor"]) - 1.0)
    route = line.centreline
    places = [("the origin of the grid", 0.0, 0.0)]
    places += [("a control point that was shot", *at) for at in control.tolist()]
    places += [(route.name(i), route.easting[i], route.northing[i]) for i in range(len(route.easting))]
    places += [
        (f"structure {survey.number(row)}", *survey.figures.centre_of(row))
        for row in np.flatnonzero(survey.figures.line_index == survey.figures.line_index[rows[0]]).tolist()
    ]
    apart, name = min((math.hypot(e - east, n - north), name) for name, e, n in places)
    if apart <= reach:
        return f"the point lies within {reach:,.0f} {survey.unit} of {name}, nearer the survey does not tell"
    return (
        f"the point is no PI, structure or control shot, nor the origin of the grid ({name} is nearest, "
        f"{apart:,.0f} {survey.unit} away): another control point, or a shift is entangled with it; a "
        "check-in tells"
    )
