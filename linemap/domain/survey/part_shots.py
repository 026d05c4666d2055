"""Shots of the top of a pole, of the tips of arms and of the ground: each against what it can tell of.

A top tells how plumb its pole stands above the shot of the pole, tips how level their arm hangs, ground how
the list has it. None of them says where a pole stands, and a face is not the middle of its pole.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import POLE_LETTERS
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.heights import OTHER_PART_M
from linemap.domain.survey.plumb import HeightOffset, arm_level, judged_findings, lean
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import ITEM_WORDS, Shot
from linemap.domain.survey.shot_match import finding_at, point_names, rows_of
from linemap.geometry.frame import ahead_right

#: Items that are judged here, and those that only have to name a structure that is there.
_JUDGED = frozenset({"top", "tip", "ground"})
_NAMED = _JUDGED | {"face", "centre"}
#: Tips and ground farther from the centre of their structure than this (100 ft) are not of it.
_OF_STRUCTURE_M = 30.48
#: Tips of one arm differ in height by less than this (3 ft); others are of two arms.
_ONE_ARM_M = 0.9144
#: Ground at a structure differs by no more from that of its list (6 ft). Common practice, no source.
_GROUND_M = 1.8288


def part_findings(
    figures: Figures, set_poles: SetPoles, shots: Sequence[Shot], tolerances: Tolerances
) -> Iterator[Finding]:
    """Judge the shots of tops, tips and ground by the shots of poles and by the list.

    Lengths and heights are in the ground unit of the line.

    Returns
    -------
    iterator of Finding
        "out of plumb", "arm not level", "ground not as listed"; "shot away from its place" of what cannot be
        judged; "unknown structure" and "line not named".
    """
    by_row: dict[int, list[Shot]] = defaultdict(list)
    for shot, row in rows_of([each for each in shots if each.structure and each.item in _NAMED], figures):
        if isinstance(row, Finding):
            yield row
        elif shot.item in _JUDGED:
            by_row[row].append(shot)
    for row, named in sorted(by_row.items()):
        place = _Place(figures, row, set_poles, tolerances)
        for shot in named:
            if shot.item == "top" and shot.pole:
                yield from place.top(shot)
        yield from place.arms([shot for shot in named if shot.item == "tip"])
        yield from place.ground([shot for shot in named if shot.item == "ground"])


class _Place:
    """One structure, and its poles as shot."""

    def __init__(self, figures: Figures, row: int, set_poles: SetPoles, tolerances: Tolerances) -> None:
        self._figures, self._row, self._poles, self._tolerances = figures, row, set_poles, tolerances
        self._line = figures.line_of(row)
        self._centre = (float(figures.structures.easting[row]), float(figures.structures.northing[row]))

    def top(self, shot: Shot) -> Iterator[Finding]:
        """Judge how plumb a pole stands by the shot of its top; nothing where a place or a height lacks."""
        pole = POLE_LETTERS.index(shot.pole)
        foot, ground = self._poles.position[self._row, pole], float(self._poles.elevation[self._row, pole])
        if shot.elevation is None or not np.isfinite((*foot, ground)).all():
            return
        along, across = self._from(shot, (float(foot[0]), float(foot[1])))
        height, other_part = shot.elevation - ground, self._line.ground(OTHER_PART_M)
        if math.hypot(along, across) > other_part:
            yield self._away(shot, math.hypot(along, across), "from the pole as shot")
        elif height < other_part:
            way = "above" if height >= 0.0 else "below"
            yield self._away(shot, abs(height), f"{way} the shot of the pole")
        else:
            sigmas = (float(self._poles.sigma[self._row, pole]), self._sigma(shot))
            found = lean(
                HeightOffset(height=0.0, along=0.0, across=0.0),
                HeightOffset(height=height, along=along, across=across),
                pole_height=height,
                sigma=math.hypot(*sigmas) / math.sqrt(2.0),
                tolerance=self._tolerances.plumb,
            )
            points = point_names([shot])
            yield from judged_findings(self._figures, self._row, found, pole=shot.pole, points=points)

    def arms(self, shots: Sequence[Shot]) -> Iterator[Finding]:
        """Judge how level arms hang by their tips: one at the left, one at the right nearest in height."""
        tips: list[tuple[float, float, Shot]] = []
        for shot in shots:
            along, across = self._from(shot, self._centre)
            if math.hypot(along, across) > self._line.ground(_OF_STRUCTURE_M):
                yield self._away(shot, math.hypot(along, across), "from the centre of the structure")
            elif shot.elevation is not None:
                tips.append((across, shot.elevation, shot))
        left, right = ([tip for tip in tips if (tip[0] < 0.0) is side] for side in (True, False))
        pairs = sorted(itertools.product(left, right), key=lambda pair: abs(pair[0][1] - pair[1][1]))
        used: set[int] = set()
        for one, other in pairs:
            far = abs(one[1] - other[1]) > self._line.ground(_ONE_ARM_M)
            if far or {id(one), id(other)} & used:
                continue
            used |= {id(one), id(other)}
            yield from self._level(one[2], other[2])

    def _level(self, left: Shot, right: Shot) -> Iterator[Finding]:
        heights = (float(left.elevation or 0.0), float(right.elevation or 0.0))
        reach = math.hypot(*self._from(right, (left.easting, left.northing)))
        found = arm_level(
            left=heights[0],
            right=heights[1],
            length=math.hypot(reach, heights[1] - heights[0]),
            sigma=math.hypot(self._sigma(left), self._sigma(right)) / math.sqrt(2.0),
            unit=self._line.unit,
            tolerance=self._tolerances.arm_level,
        )
        points = point_names([left, right])
        yield from judged_findings(self._figures, self._row, found, pole="", points=points)

    def ground(self, shots: Sequence[Shot]) -> Iterator[Finding]:
        """Hold the ground as shot against that of the list."""
        listed = float(self._figures.structures.elevation[self._row])
        near: list[Shot] = []
        for shot in shots:
            away = math.hypot(*self._from(shot, self._centre))
            if away > self._line.ground(_OF_STRUCTURE_M):
                yield self._away(shot, away, "from the centre of the structure")
            elif shot.elevation is not None:
                near.append(shot)
        if near and np.isfinite(listed):
            shown = sum(shot.elevation or 0.0 for shot in near) / len(near)
            if abs(shown - listed) > self._line.ground(_GROUND_M):
                yield self._finding(
                    "ground not as listed", near, value=shown, wanted=listed, difference=shown - listed
                )

    def _from(self, shot: Shot, place: tuple[float, float]) -> tuple[float, float]:
        """Return how far ahead and right of a grid place a shot lies, ground unit."""
        factor = float(self._figures.combined_factor[self._row])
        azimuth = self._figures.structure_azimuth_deg[self._row]
        along, across = ahead_right(shot.easting - place[0], shot.northing - place[1], azimuth)
        return float(along) / factor, float(across) / factor

    def _sigma(self, shot: Shot) -> float:
        return self._tolerances.shot_sigma if shot.sigma is None else shot.sigma

    def _away(self, shot: Shot, distance: float, whence: str) -> Finding:
        item = ITEM_WORDS[shot.item]
        return self._finding("shot away from its place", [shot], item=item, distance=distance, whence=whence)

    def _finding(self, code: str, shots: Sequence[Shot], **values: Any) -> Finding:
        points, unit = point_names(shots), self._line.unit.symbol
        return finding_at(self._figures, self._row, code, part=points, points=points, unit=unit, **values)
