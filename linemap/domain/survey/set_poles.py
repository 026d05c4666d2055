"""Poles as surveyed: the shots of each structure brought together, with doubts kept apart.

Nothing is guessed. Shots that disagree, lie at another structure, or lie nowhere near (often because
northing and easting are exchanged) are counted and told, but not used, and the structure they name is
marked so that no verdict is given on it.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import POLE_LETTERS, BoolArray, FloatArray, IntArray
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.heights import heights_disagree, heights_together
from linemap.domain.survey.shot import Shot, ShotKey
from linemap.domain.survey.shot_match import MatchedShots, finding_at, match_shots, point_names

#: Repeated shots of one pole may lie this far from their mean whatever their sigma (0.1 ft).
_SAME_POLE_M = 0.03048
#: A shot farther than this from its structure lies nowhere near it (50 km) ...
_NOWHERE_NEAR_M = 50_000.0
#: ... and has its columns exchanged when it then lies within this (1,000 ft). Common practice, no source.
_EXCHANGED_WITHIN_M = 304.8
#: A shot this near its own structure's centre is not looked for elsewhere: no two stand within 10 m.
_AT_HOME_M = 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetPoles:
    """Surveyed poles as columns aligned with the rows of `Figures`; second axis = poles A, B, C."""

    #: Grid easting and northing, (n, 3, 2); nan where not shot or not used.
    position: FloatArray
    #: Elevation, (n, 3); nan where not given or not used.
    elevation: FloatArray
    #: Standard deviation of the position by itself, per axis, ground unit, (n, 3); nan where not used.
    sigma: FloatArray
    #: Shots that name this pole, used or not, (n, 3).
    count: IntArray
    #: True where shots of the structure contradict each other or its place: no verdict is given.
    conflict: BoolArray
    #: `Shot.key` of a shot of a pole that is not used -> code of the finding that says why.
    unused: Mapping[ShotKey, str]
    findings: tuple[Finding, ...]
    #: What corrections of whole sessions leave uncertain: of the centre along and across, ground unit, and
    #: of the arm, degrees; (n, 3), None = nothing was corrected.
    corrected_sigma: FloatArray | None = None


def cluster_poles(shots: Sequence[Shot], figures: Figures, *, default_sigma: float) -> SetPoles:
    """Bring the pole shots of each structure together, one position a pole.

    Several shots of one pole are one pole when all lie within 2√2 σ of their mean (and always within
    0.1 ft): the mean is used, with the σ of one shot, because repeated shots share most of their error.
    Otherwise none is used. The factor 2√2 is twice the σ of the difference of two shots. Nor is any used
    whose heights are those of different places on the pole.

    Shots have finite coordinates; those of another item than "pole" say nothing about poles and are passed
    over. `default_sigma` is the per-axis standard deviation of a shot that states none, ground unit.

    Returns
    -------
    SetPoles
        `Finding.code`: "unknown structure", "line not named", "pole not in design", "northing and easting
        exchanged", "shots nowhere near", "shots at another structure", "shots disagree", "pole heights
        disagree".
    """
    named = [shot for shot in shots if shot.item == "pole"]
    matched, findings = match_shots(named, figures)
    poles = cluster_matched(matched, figures, default_sigma=default_sigma)
    return replace(
        poles,
        unused={**_unmatched(named, matched, findings), **poles.unused},
        findings=(*findings, *poles.findings),
    )


def cluster_matched(matched: MatchedShots, figures: Figures, *, default_sigma: float) -> SetPoles:
    """Bring together shots whose structures and poles are known; see `cluster_poles`."""
    astray, astray_findings = _astray(matched, figures)
    placed = matched.take(~astray)
    elsewhere, elsewhere_findings = _elsewhere(placed, figures)
    merged, split, split_findings = _merge(placed, elsewhere, figures, default_sigma)
    count = np.zeros((len(figures), 3), dtype=np.int64)
    np.add.at(count, (matched.row, matched.pole), 1)
    conflict = np.zeros(len(figures), dtype=np.bool_)
    conflict[matched.row[astray]] = True
    conflict[placed.row[elsewhere | split]] = True
    return SetPoles(
        position=merged[:, :, :2],
        elevation=merged[:, :, 2],
        sigma=merged[:, :, 3],
        count=count,
        conflict=conflict,
        unused={
            **_doubted(figures, matched, astray, astray_findings),
            **_doubted(figures, placed, elsewhere, elsewhere_findings),
            **_doubted(figures, placed, split, split_findings),
        },
        findings=(*astray_findings, *elsewhere_findings, *split_findings),
    )


def _unmatched(
    named: Sequence[Shot], matched: MatchedShots, findings: Sequence[Finding]
) -> dict[ShotKey, str]:
    used = {id(shot) for shot in matched.shots}
    left = (shot for shot in named if id(shot) not in used)
    return {shot.key: finding.code for shot, finding in zip(left, findings, strict=True)}


def _doubted(
    figures: Figures, shots: MatchedShots, where: BoolArray, findings: Sequence[Finding]
) -> dict[ShotKey, str]:
    """Return for each shot where `where` is true the code of what was found at its structure."""
    codes = {(finding.line, finding.structure): finding.code for finding in findings}
    left = shots.take(where)
    return {
        shot.key: codes[figures.key(row)] for shot, row in zip(left.shots, left.row.tolist(), strict=True)
    }


def _astray(matched: MatchedShots, figures: Figures) -> tuple[BoolArray, list[Finding]]:
    """Find shots nowhere near their structure, and say so when exchanging the columns brings them home."""
    metres = figures.grid_metres[matched.row]
    centre = centres_of(figures)[matched.row]
    as_read = distance(matched.at, centre) * metres
    exchanged = distance(matched.at[:, ::-1], centre) * metres
    astray = as_read > _NOWHERE_NEAR_M
    home = astray & (exchanged < _EXCHANGED_WITHIN_M)
    findings = []
    for row, group in matched.by_row(home).items():
        line = figures.line_of(row)
        findings.append(
            finding_at(
                figures,
                row,
                "northing and easting exchanged",
                **_far(matched, group, as_read),
                exchanged=line.ground(float(exchanged[group].max())),
                unit=line.unit.symbol,
            )
        )
    for row, group in matched.by_row(astray & ~home).items():
        findings.append(finding_at(figures, row, "shots nowhere near", **_far(matched, group, as_read)))
    return astray, findings


def _far(matched: MatchedShots, group: list[int], distance_m: FloatArray) -> dict[str, Any]:
    names = point_names([matched.shots[i] for i in group])
    return {"points": names, "distance_m": float(distance_m[group].min())}


def at_another(
    shots: MatchedShots, figures: Figures, looked_at: BoolArray | None = None
) -> tuple[IntArray, BoolArray]:
    """Return the row nearest to each shot, its own unless it is looked at and away, and where that tells.

    It does where the shot is nearer to another structure by more than half the way between them. Design
    centres stand for the structures: poles are a few feet from them, spans a thousand.
    """
    centres, nearest = centres_of(figures), shots.row.copy()
    own = distance(shots.at, centres[shots.row])
    away = own * figures.grid_metres[shots.row] > _AT_HOME_M
    if looked_at is not None:
        away &= looked_at
    nearest[away] = nearest_rows(tree_of(centres), shots.at[away])
    other = distance(shots.at, centres[nearest])
    half_way = distance(centres[shots.row], centres[nearest]) / 2.0
    return nearest, (nearest != shots.row) & (own - other > half_way) & (other < half_way)


def _elsewhere(placed: MatchedShots, figures: Figures) -> tuple[BoolArray, list[Finding]]:
    """Find shots at another structure."""
    nearest, elsewhere = at_another(placed, figures)
    findings = []
    for group in placed.by_row(elsewhere).values():
        for target in sorted(set(nearest[group].tolist())):
            there = [i for i in group if nearest[i] == target]
            findings.append(_at_another(placed, figures, target, there))
    return elsewhere, findings


def _at_another(placed: MatchedShots, figures: Figures, target: int, there: list[int]) -> Finding:
    row = int(placed.row[there[0]])
    number = figures.structures.number
    all_of_row = np.flatnonzero(placed.row == row)
    stay = np.setdiff1d(all_of_row, there)
    home = placed.at[stay].mean(axis=0) if stay.size else centres_of(figures)[row]
    grid = float(np.hypot(*(placed.at[there].mean(axis=0) - home)))
    return finding_at(
        figures,
        row,
        "shots at another structure",
        part=str(number[target]),
        labelled=number[row],
        lies_at=number[target],
        distance=grid / float(figures.combined_factor[row]),
        unit=figures.line_of(row).unit.symbol,
        way=_way(figures, row, target),
        split=bool(stay.size),
        shots=len(all_of_row),
        labelled_there=bool(np.any(placed.row == target)),
    )


def _way(figures: Figures, row: int, target: int) -> str:
    if figures.line_index[target] != figures.line_index[row]:
        return f"away, on {figures.line_of(target).name}"
    return "ahead" if figures.true_distance[target] > figures.true_distance[row] else "back"


def _merge(
    placed: MatchedShots, elsewhere: BoolArray, figures: Figures, default_sigma: float
) -> tuple[FloatArray, BoolArray, list[Finding]]:
    """Return (n, 3, 4) easting, northing, elevation, sigma; which shots disagree; findings."""
    pole, of_pole = np.unique(placed.row * 3 + placed.pole, return_inverse=True)
    row = pole // 3
    at = np.column_stack([_means(placed.at[:, axis], of_pole, len(pole)) for axis in (0, 1)])
    own = [default_sigma if shot.sigma is None else shot.sigma for shot in placed.shots]
    sigma = _largest(np.array(own, dtype=np.float64), of_pole, len(pole))
    reach = _largest(distance(placed.at, at[of_pole]), of_pole, len(pole)) / figures.combined_factor[row]
    floor = figures.of_lines(lambda line: line.ground(_SAME_POLE_M))[row]
    moved = _largest(elsewhere.astype(np.float64), of_pole, len(pole)) > 0.0
    elevation, uneven, two_places = heights_together(placed, of_pole, row, figures)
    apart = ~moved & (reach > np.maximum(2.0 * 2.0**0.5 * sigma, floor))
    split = apart | (~moved & two_places)
    good = ~moved & ~split
    merged = np.full((len(figures) * 3, 4), np.nan)
    merged[pole[good]] = np.column_stack([at, elevation, sigma])[good]
    findings = []
    for index in np.flatnonzero(apart | (~moved & uneven)).tolist():
        group = np.flatnonzero(of_pole == index)
        if apart[index]:
            findings.append(_disagree(figures, placed, group))
        else:
            findings.append(heights_disagree(figures, placed, group, used=bool(good[index])))
    return merged.reshape(-1, 3, 4), split[of_pole], findings


def _means(values: FloatArray, group: IntArray, size: int) -> FloatArray:
    """Mean of the values of each group; nan for a group without any."""
    with np.errstate(invalid="ignore"):
        return np.bincount(group, weights=values, minlength=size) / np.bincount(group, minlength=size)


def _largest(values: FloatArray, group: IntArray, size: int) -> FloatArray:
    largest = np.zeros(size)
    np.maximum.at(largest, group, values)
    return largest


def _disagree(figures: Figures, placed: MatchedShots, group: IntArray) -> Finding:
    """Tell the shots of one pole, and how far apart the two farthest lie."""
    row, pole = int(placed.row[group[0]]), int(placed.pole[group[0]])
    corners = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(placed.at[group])))
    farthest = max(float(np.hypot(*(one - two))) for one, two in itertools.combinations(corners, 2))
    return finding_at(
        figures,
        row,
        "shots disagree",
        part=POLE_LETTERS[pole],
        pole=POLE_LETTERS[pole],
        shots=len(group),
        apart=farthest / float(figures.combined_factor[row]),
        unit=figures.line_of(row).unit.symbol,
        points=point_names([placed.shots[i] for i in group]),
    )


def centres_of(figures: Figures) -> FloatArray:
    """Return the (n, 2) design centres, grid easting and northing."""
    return np.column_stack([figures.structures.easting, figures.structures.northing])


def tree_of(centres: FloatArray) -> shapely.STRtree:
    """Return the search tree of (n, 2) points."""
    return shapely.STRtree(np.asarray(shapely.points(centres)))


def nearest_rows(tree: shapely.STRtree, at: FloatArray) -> IntArray:
    """Return which point of a tree is nearest to each of (m, 2) points."""
    if not len(at):
        return np.zeros(0, dtype=np.int64)
    return np.asarray(tree.nearest(np.asarray(shapely.points(at))), dtype=np.int64)


def distance(points: FloatArray, others: FloatArray) -> FloatArray:
    """Return grid distances row by row, or from all points to one."""
    return np.asarray(np.hypot(points[:, 0] - others[..., 0], points[:, 1] - others[..., 1]))
