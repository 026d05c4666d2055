"""A frame pole by pole: how far each stands off its place, and the frame if its letters were others."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np

from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.design.structure import POLE_LETTERS, FloatArray, IntArray
from linemap.domain.finding.phrase import AHEAD_BACK, RIGHT_LEFT, length_text
from linemap.domain.survey.residual import SetFrames
from linemap.domain.survey.session import own_axes

#: Value, sigma and tolerance of a residual at some rows.
Seen = dict[str, tuple[FloatArray, FloatArray, FloatArray]]
#: How the letters of three poles may be exchanged other than end for end: which pole has which label.
EXCHANGES = tuple("".join(each) for each in permutations(POLE_LETTERS) if "".join(each) not in {"ABC", "CBA"})


def offsets(survey: CheckedSurvey, rows: IntArray) -> FloatArray:
    """Return (m, 3, 2) how far ahead and right of its design place each pole stands, ground; nan = none.

    The outer poles of a reversed frame are compared with the places they stand at, not with their letters.
    """
    figures = survey.figures
    off = survey.set_poles.position[rows] - figures.poles[rows]
    turned = np.flatnonzero(survey.checks.reversed[rows])
    for i in turned.tolist():
        count = int(figures.structures.pole_count[rows[i]])
        off[i, :count] = survey.set_poles.position[rows[i], :count][::-1] - figures.poles[rows[i], :count]
    return np.asarray(np.einsum("mij,mpj->mpi", own_axes(figures, rows), off))


def as_labelled(survey: CheckedSurvey, rows: IntArray, labels: str) -> Seen:
    """Return the residuals if poles A, B, C were those labelled `labels`; nan for two poles and reversed.

    >>> EXCHANGES
    ('ACB', 'BAC', 'BCA', 'CAB')
    """
    order = [POLE_LETTERS.index(letter) for letter in labels]
    seen = SetFrames.measure(
        survey.figures,
        rows,
        position=survey.set_poles.position[rows][:, order],
        sigma=survey.set_poles.sigma[rows][:, order],
        common_sigma=survey.tolerances.common_sigma,
    )
    table = survey.residuals(rows)
    known = seen.known & seen.three_poles & ~seen.seen.reversed
    values = {
        "rotation": (seen.seen.rotation_deg, seen.rotation_sigma_deg),
        "along": (seen.seen.along, seen.along_sigma),
        "across": (seen.seen.across, seen.across_sigma),
        "spacing": (seen.seen.spacing_error, seen.spacing_sigma),
        "bow": (seen.seen.collinearity, seen.bow_sigma),
    }
    return {
        name: (np.where(known, value, np.nan), sigma, table[name][2])
        for name, (value, sigma) in values.items()
    }


def pole_scatter(survey: CheckedSurvey, rows: IntArray, seen: Seen) -> tuple[FloatArray, FloatArray]:
    """Return the sigma of one pole ahead and to the right, setting scatter and survey together, ground."""
    wide = {name: np.hypot(sigma, limit / 3.0) for name, (_, sigma, limit) in seen.items()}
    count = survey.figures.structures.pole_count[rows]
    half = survey.checks.outer_distance[rows] / 2.0
    ahead = np.hypot(wide["along"], half * np.radians(wide["rotation"]))
    return ahead, np.hypot(wide["across"], wide["spacing"] * (count - 1) / 2.0)


def per_pole(survey: CheckedSurvey, rows: IntArray, seen: Seen) -> FloatArray:
    """Return the log by which a density of pole offsets becomes one of residuals, for each row.

    Two poles have four offsets and four residuals; rotation, degrees, is the one on another scale. Three have
    six offsets and five residuals: the second gap is taken to be as designed.
    """
    three = survey.figures.structures.pole_count[rows] == 3
    degrees = np.degrees(1.0 / survey.checks.outer_distance[rows])
    _, sigma, limit = seen["spacing"]
    gap = np.log(np.hypot(sigma, limit / 3.0) * math.sqrt(2.0 * math.pi))
    return np.where(three, gap, 0.0) - np.log(degrees)


def pole_words(survey: CheckedSurvey, row: int) -> list[str]:
    """Say of each pole of a frame how far it stands from its place: "A stands", "B is 0.79 ft ahead"."""
    off, called = offsets(survey, np.array([row]))[0], survey.figures.called(row)
    limit = max(survey.tolerances.spacing.value, survey.tolerances.across.value)
    said = []
    for letter, (ahead, right) in zip(survey.figures.letters_of(row), off, strict=False):
        if not math.isfinite(ahead):
            return []
        parts = [
            f"{length_text(abs(size), survey.unit)} {sides[0] if size > 0 else sides[1]}"
            for size, sides in ((ahead, AHEAD_BACK), (right, RIGHT_LEFT))
            if abs(size) > limit
        ]
        said.append(f"{called[letter]} {'is ' + ' and '.join(parts) if parts else 'stands'}")
    return said
