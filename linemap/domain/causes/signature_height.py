"""Signatures of heights: what was shot against the ground of the list, of a line, a file, or one structure.

Heights change no verdict; what is wrong with many of them at once is one cause all the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted, listed
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.design.structure import FloatArray, IntArray

#: Ground at a pole and at the centre of its structure may differ by this (2 ft), those of a file as one by
#: less (1.5 ft); one height alone is off from here on (6 ft). Common practice, no source.
_SLOPE_M, _AS_ONE_M, _ALONE_M = 0.61, 0.4572, 1.83
#: A law of heights needs so many structures, and this share of the file's.
_FEWEST, _SHARE = 3, 0.8
#: Height of the list -> heights as shot, where one is in metres and the other in feet.
_UNITS = (("metres, not feet", 0.3048), ("feet, not metres", 1.0 / 0.3048))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Heights:
    """Heights of the structures a file shows, rows in line order."""

    file: str
    rows: IntArray
    shot: FloatArray
    ground: FloatArray

    @property
    def off(self) -> FloatArray:
        """Shot minus listed."""
        return self.shot - self.ground


def strange_heights(survey: CheckedSurvey) -> list[Suspicion]:
    """Find heights that do not fit the ground of the list: a file's as one, or those of one structure.

    Returns
    -------
    list of Suspicion
        "heights of the next structure" of a line; "heights in another unit" and "heights in another datum" of
        a file, with a correction of its elevations; "height of another structure" and "height off" of one.
    """
    of_files = list(_heights(survey))
    found = [law for line in _of_lines(survey, of_files) if (law := _row_law(survey, line)) is not None]
    explained = {row for law in found for row in law.rows}
    for heights in of_files:
        if explained.isdisjoint(heights.rows.tolist()):
            law = _unit_law(survey, heights) or _datum_law(survey, heights)
            times, up = _lift(law)
            found += [law] if law is not None else []
            off = heights.shot * times + up - heights.ground
            far = np.abs(off) > survey.line(int(heights.rows[0])).ground(_ALONE_M)
            if far.sum() > _FEWEST and far.mean() > _SHARE / 2.0:
                found.append(_many(survey, heights, tuple(heights.rows[far].tolist())))
            else:
                found += _alone(survey, heights, off)
    return found


def _many(survey: CheckedSurvey, heights: _Heights, rows: tuple[int, ...]) -> Suspicion:
    """Say of a file with many heights off by no law that it has them, as one."""
    return Suspicion(
        code="heights off",
        subject=f"heights of {file_subject(heights.file)}",
        rows=rows,
        words=f"{counted(len(rows), 'height')} off the ground of the list by no law, "
        f"{float(heights.off.min()):+.1f} to {float(heights.off.max()):+.1f} {survey.unit}: "
        f"{listed(survey.numbers(rows))}",
        evidence=(
            "tried: another unit, another datum, one row off; two of these at once are entangled, and one of "
            "them has to be put right first",
        ),
        cost_rank=5,
        asks_for="vertical datum and unit of the controller, and the sheet the list was made from",
    )


def _of_lines(survey: CheckedSurvey, of_files: list[_Heights]) -> Iterator[_Heights]:
    """Gather the heights of the files by line."""
    if not of_files:
        return
    rows, shot, ground = (
        np.concatenate([getattr(each, name) for each in of_files]) for name in ("rows", "shot", "ground")
    )
    for index in np.unique(survey.figures.line_index[rows]).tolist():
        here = np.flatnonzero(survey.figures.line_index[rows] == index)
        here = here[np.argsort(rows[here], kind="stable")]
        yield _Heights(file="", rows=rows[here], shot=shot[here], ground=ground[here])


def _lift(law: Suspicion | None) -> tuple[float, float]:
    correction: Mapping[str, Any] = (law.correction if law is not None else None) or {"up": 0.0}
    return float(correction.get("times", 1.0)), float(correction["up"])


def _heights(survey: CheckedSurvey) -> Iterator[_Heights]:
    """Give the heights of each file that has some off its list, a mean of its poles for each structure."""
    matched, size = survey.matched, len(survey.figures)
    ground = survey.figures.structures.elevation
    if not np.isfinite(ground[matched.row]).any():
        return
    height = np.array([np.nan if shot.elevation is None else shot.elevation for shot in matched.shots])
    known = np.isfinite(height) & np.isfinite(ground[matched.row]) & ~survey.checks.withheld[matched.row]
    both, of = np.unique(survey.file[known] * size + matched.row[known], return_inverse=True)
    shot = np.bincount(of, weights=height[known]) / np.bincount(of) if len(both) else np.zeros(0)
    file, row = both // size, both % size
    limit = survey.figures.of_lines(lambda line: line.ground(_AS_ONE_M))[row]
    for index in np.unique(file[np.abs(shot - ground[row]) > limit]).tolist():
        here = file == index
        rows = row[here]
        yield _Heights(file=survey.files[index], rows=rows, shot=shot[here], ground=ground[rows])


def _spread(values: FloatArray, floor: float) -> float:
    """Return a standard deviation that a few strange values cannot pull."""
    return max(1.4826 * float(np.median(np.abs(values - np.median(values)))), floor)


def _unit_law(survey: CheckedSurvey, heights: _Heights) -> Suspicion | None:
    slope = survey.line(int(heights.rows[0])).ground(_SLOPE_M)
    for words, times in _UNITS:
        left = np.abs(heights.shot / times - heights.ground)
        if (
            len(left) >= _FEWEST
            and np.median(left) <= slope
            and np.median(np.abs(heights.off)) > 10.0 * slope
        ):
            return _law(
                survey, heights, "heights in another unit", f"the elevations are in {words}", 1.0 / times, 0.0
            )
    return None


def _row_law(survey: CheckedSurvey, heights: _Heights) -> Suspicion | None:
    """Tell heights that are those of the structure one before or behind, on all of a line."""
    line = survey.line(int(heights.rows[0]))
    slope = line.ground(_SLOPE_M)
    for step, way in ((1, "ahead"), (-1, "back")):
        beside = [survey.figures.neighbour(row, step) for row in heights.rows.tolist()]
        there = [np.nan if row is None else survey.figures.structures.elevation[row] for row in beside]
        known = np.isfinite(there)
        fits = np.abs(heights.shot - there)[known] <= slope
        far = np.abs(heights.off)[known] > slope
        if len(fits) < _FEWEST or fits.mean() < _SHARE or far.mean() < _SHARE / 2.0:
            continue
        return Suspicion(
            code="heights of the next structure",
            subject=f"heights of line {line.name}",
            rows=tuple(np.unique(heights.rows).tolist()),
            words=f"the ground shot at {int(fits.sum())} of {counted(len(fits), 'structure')} is what the "
            f"list has one structure {way}: heights of the list stand one row off",
            evidence=(
                f"as listed {float(np.median(np.abs(heights.off))):.1f} {survey.unit} off in the middle, one "
                f"row on {float(np.nanmedian(np.abs(heights.shot - there))):.1f}",
                "positions fit: it is not the labels",
            ),
            cost_rank=5,
            asks_for="the sheet the list was made from: is every height in the row of its structure",
        )
    return None


def _datum_law(survey: CheckedSurvey, heights: _Heights) -> Suspicion | None:
    line = survey.line(int(heights.rows[0]))
    middle, spread = float(np.median(heights.off)), _spread(heights.off, line.ground(_SLOPE_M) / 4.0)
    near = np.abs(heights.off - middle) <= max(3.0 * spread, line.ground(_SLOPE_M))
    sure = abs(middle) > max(line.ground(_AS_ONE_M), 5.0 * spread / math.sqrt(len(near)))
    if len(near) < _FEWEST or near.mean() < _SHARE or not sure or spread > abs(middle):
        return None
    way = "above" if middle > 0.0 else "below"
    words = f"all {abs(middle):.1f} {survey.unit} {way} the ground of the list"
    return _law(survey, heights, "heights in another datum", words, 1.0, -middle)


def _law(
    survey: CheckedSurvey, heights: _Heights, code: str, words: str, times: float, up: float
) -> Suspicion:
    left, off = np.abs(heights.shot * times + up - heights.ground), heights.off
    correction = {"kind": "raise", "file": heights.file, "up": round(up, 2)}
    return Suspicion(
        code=code,
        subject=f"heights of {file_subject(heights.file)}",
        rows=tuple(heights.rows.tolist()),
        words=f"{words}: with that taken out half of {counted(len(left), 'structure')} lie within "
        f"{float(np.median(left)):.1f} {survey.unit} of it",
        evidence=(
            f"shot minus listed {float(off.min()):+.1f} to {float(off.max()):+.1f} {survey.unit}",
            "positions are not concerned: no verdict rests on heights",
        ),
        correction=correction | ({"times": times} if times != 1.0 else {}),
        cost_rank=5,
        asks_for="vertical datum and geoid of the controller (NAVD 88, NGVD 29, ellipsoid: what lies between "
        "them changes from place to place), antenna and rod height, and a shot on a bench mark",
    )


def _alone(survey: CheckedSurvey, heights: _Heights, off: FloatArray) -> Iterator[Suspicion]:
    """Tell single heights that are off by more than ground and the others of the file explain."""
    limit = max(
        survey.line(int(heights.rows[0])).ground(_ALONE_M),
        6.0 * _spread(off, 0.0) if len(off) >= _FEWEST else 0.0,
    )
    for i in np.flatnonzero(np.abs(off) > limit).tolist():
        row, height = int(heights.rows[i]), float(heights.ground[i] + off[i])
        other = _of_another(survey, row, height)
        words = f"shot at {height:.1f} {survey.unit}, the list has ground at {float(heights.ground[i]):.1f}"
        yield Suspicion(
            code="height of another structure" if other else "height off",
            subject=f"height of {survey.subject(row)}",
            rows=(row,),
            words=f"{words}: {other or 'no single cause found'}",
            evidence=(
                f"{float(off[i]):+.1f} {survey.unit} off; the middle one of {counted(len(off), 'height')} of "
                f"the file is {float(np.median(np.abs(off))):.1f} {survey.unit} off",
            ),
            cost_rank=5,
            asks_for="a shot of the ground there, the rod height, and the profile the list was made from",
        )


def _of_another(survey: CheckedSurvey, row: int, height: float) -> str:
    """Say whose listed ground was shot, or listed here; "" when it is no neighbour's."""
    ground, near = survey.figures.structures.elevation, survey.line(row).ground(_SLOPE_M)
    beside = [survey.figures.neighbour(row, step) for step in (-1, 1, -2, 2)]
    for other in beside:
        if other is not None and abs(ground[other] - height) <= near:
            return f"that is the ground of {survey.number(other)}"
    for other in beside:
        if other is not None and abs(ground[other] - ground[row]) <= near / 4.0:
            return f"the list has the ground of {survey.number(other)} there"
    return ""
