"""Heights of the shots of one pole: brought together where they agree, told where they do not.

A shot at the ground and one of the top of a plumb pole lie at one place; only their heights tell them apart.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import POLE_LETTERS, BoolArray, FloatArray, IntArray
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import MatchedShots, finding_at, point_names

#: Heights of one pole at the ground may differ by so much (1 ft): round a pole on a slope they do.
_SAME_HEIGHT_M = 0.3048
#: Shots farther apart in height than this (10 ft) are not of one place on a pole. Common practice, no source.
OTHER_PART_M = 3.048


def heights_together(
    placed: MatchedShots, of_pole: IntArray, row: IntArray, figures: Figures
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Return the mean elevation of each pole, where heights differ, and where they are of different places.

    `of_pole` says which pole each shot is of, `row` which row of `figures` each pole is. The mean is nan
    where no shot has an elevation, or they differ.
    """
    given = np.array([np.nan if s.elevation is None else s.elevation for s in placed.shots], dtype=np.float64)
    known, size = np.isfinite(given), len(row)
    highest, lowest = np.full(size, -np.inf), np.full(size, np.inf)
    np.maximum.at(highest, of_pole[known], given[known])
    np.minimum.at(lowest, of_pole[known], given[known])
    apart = np.where(np.isfinite(highest), highest - lowest, 0.0)
    differ = apart > figures.of_lines(lambda line: line.ground(_SAME_HEIGHT_M))[row]
    with np.errstate(invalid="ignore"):
        sums = np.bincount(of_pole[known], weights=given[known], minlength=size)
        means = sums / np.bincount(of_pole[known], minlength=size)
    means[differ] = np.nan
    return means, differ, apart > figures.of_lines(lambda line: line.ground(OTHER_PART_M))[row]


def rise_of(shots: Iterable[Shot]) -> float:
    """Return how far apart in height shots are, ground unit; 0 where fewer than two have a height."""
    heights = [shot.elevation for shot in shots if shot.elevation is not None]
    return max(heights) - min(heights) if heights else 0.0


def heights_disagree(figures: Figures, placed: MatchedShots, group: IntArray, *, used: bool) -> Finding:
    """Tell the shots of one pole whose heights differ; `used` says that their place is taken all the same."""
    row, letter = int(placed.row[group[0]]), POLE_LETTERS[int(placed.pole[group[0]])]
    shots = [placed.shots[i] for i in group]
    return finding_at(
        figures,
        row,
        "pole heights disagree",
        part=letter,
        pole=letter,
        shots=len(shots),
        apart=rise_of(shots),
        unit=figures.line_of(row).unit.symbol,
        points=point_names(shots),
        used=used,
    )
