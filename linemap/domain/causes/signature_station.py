"""Signatures of the stations of a list: one law instead of one difference a structure.

Stations of a list are compared, never trusted: no verdict rests on them.
"""

from __future__ import annotations

import math

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted, listed
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.design.line import Line
from linemap.domain.design.structure import FloatArray, IntArray
from linemap.domain.survey.review import given_stations

#: Stations of a list are printed to the foot at worst (0.3 m).
_STATION_M = 0.3
#: A law needs so many stations that differ, and to explain this share of the line's. No source.
_FEWEST, _SHARE = 3, 0.8


def strange_stations(survey: CheckedSurvey) -> list[Suspicion]:
    """Find lists whose stations differ from those computed by one law.

    Returns
    -------
    list of Suspicion
        "equation left out of the list", "equation not in the job" and "another start station", one a line;
        nothing where stations differ otherwise.
    """
    figures = survey.figures
    given = given_stations(figures)
    if not np.isfinite(given).any():
        return []
    found = []
    for index, line in enumerate(figures.lines):
        rows = np.flatnonzero((figures.line_index == index) & np.isfinite(given))
        limit = line.ground(max(line.limits.station_m, _STATION_M))
        off = given[rows] - figures.station[rows]
        if (np.abs(off) > limit).sum() >= _FEWEST:
            found += _station_law(survey, line, rows, given[rows], limit)
    return found


def _station_law(
    survey: CheckedSurvey, line: Line, rows: IntArray, given: FloatArray, limit: float
) -> list[Suspicion]:
    true = survey.figures.true_distance[rows]
    off = given - survey.figures.station[rows]
    ends = [*(each.true_distance for each in line.stationing.equations[1:]), math.inf]
    for equation, end in zip(line.stationing.equations, ends, strict=False):
        jump = equation.back - equation.ahead
        for last in (end, math.inf):  # the next equation may say its station ahead again, or not
            past = (true >= equation.true_distance) & (true < last)
            if past.any() and abs(jump) > limit and _fits(off - np.where(past, jump, 0.0), limit):
                words = (
                    f"the list goes on from {line.station_text(equation.back)} as if it were not "
                    f"{line.station_text(equation.ahead)} ahead"
                )
                return [_stations(survey, line, rows[past], off, "equation left out of the list", words)]
    steps = np.flatnonzero(np.abs(np.diff(off)) > limit)
    if len(steps) == 0 and _fits(off - np.median(off), limit):
        words = f"every station of the list is {float(np.median(off)):+,.1f} {survey.unit} off: another start"
        return [_stations(survey, line, rows, off, "another start station", words)]
    if len(steps) == 1 and abs(float(np.median(off[: steps[0] + 1]))) <= limit:
        back, ahead = survey.numbers(rows[steps[0] : steps[0] + 2].tolist())
        words = (
            f"the list jumps by {float(np.median(off[steps[0] + 1 :])):+,.1f} {survey.unit} between {back} "
            f"and {ahead}, where the job has no equation"
        )
        return [_stations(survey, line, rows[steps[0] + 1 :], off, "equation not in the job", words)]
    return []


def _fits(off: FloatArray, limit: float) -> bool:
    return bool((np.abs(off) <= limit).mean() >= _SHARE)


def _stations(
    survey: CheckedSurvey, line: Line, rows: IntArray, off: FloatArray, code: str, words: str
) -> Suspicion:
    return Suspicion(
        code=code,
        subject=f"stations of line {line.name}",
        rows=tuple(rows.tolist()),
        words=f"{words} ({counted(len(rows), 'structure')}: {listed(survey.numbers(rows.tolist()))})",
        evidence=(
            f"listed minus computed {float(off.min()):+,.1f} to {float(off.max()):+,.1f} {survey.unit}",
            "coordinates are not concerned: stations of a list are compared, never trusted",
        ),
        cost_rank=5,
        asks_for="the equations on the plan and profile, and the station the line starts with",
    )
