"""Signatures of shots: a neighbour's label, shots that disagree, poles not shot, poor surveys."""

from __future__ import annotations

import itertools

import numpy as np

from linemap.domain.causes.cause import Suspicion
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.design.structure import POLE_LETTERS, IntArray
from linemap.domain.finding.ledger import Ledger
from linemap.domain.finding.phrase import length_text, pole_names, poles_not_shot, spacing_words, turn_words
from linemap.domain.survey.heights import OTHER_PART_M, rise_of
from linemap.domain.survey.residual import as_set_at
from linemap.domain.survey.set_poles import distance
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import point_names
from linemap.domain.survey.verdict import Verdict

#: Shots of one pole that disagree are tried one by one up to this many frames.
_TRIED = 6


def doubtful_shots(survey: CheckedSurvey, rows: IntArray) -> list[Suspicion]:
    """Find structures whose shots contradict each other, and structures with a pole not shot.

    Returns
    -------
    list of Suspicion
        "duplicate conflict" (what each choice would give is told, none is made) and "pole missing".
    """
    found = []
    for row in rows.tolist():
        if survey.checks.withheld[row]:
            found.append(_conflict(survey, row))
        elif survey.checks.missing[row]:
            found.append(_missing(survey, row))
    return found


def _conflict(survey: CheckedSurvey, row: int) -> Suspicion:
    shots, poles = _shots_of(survey, row)
    other_part = survey.line(row).ground(OTHER_PART_M)
    rise = {pole: apart if (apart := rise_of(each)) > other_part else 0.0 for pole, each in poles.items()}
    spread = {pole: _widest(each) / survey.figures.combined_factor[row] for pole, each in poles.items()}
    pole = max(spread, key=lambda letter: max(spread[letter], rise[letter]))
    twice, called = poles[pole], survey.figures.called(row)
    if len(twice) < 2:
        return _nowhere(survey, row, shots)
    return Suspicion(
        code="duplicate conflict",
        subject=survey.subject(row),
        rows=(row,),
        words=(
            f"{pole_names(pole, called)} shot {len(twice)} times, "
            f"{max(spread[pole], rise[pole]):.2f} {survey.unit} apart"
            f"{' in height' if rise[pole] > spread[pole] else ''} "
            f"({point_names(twice)}): no verdict before one is chosen"
        ),
        evidence=tuple(_choices(survey, row, poles)),
        cost_rank=4,
        asks_for=f"the field book: which shot of {pole_names(pole, called)} counts, or shoot it again",
    )


def _nowhere(survey: CheckedSurvey, row: int, shots: list[Shot]) -> Suspicion:
    at = np.array([(shot.easting, shot.northing) for shot in shots])
    away = float(distance(at, survey.centre[row]).max()) / survey.figures.combined_factor[row]
    return Suspicion(
        code="no single cause found",
        subject=survey.subject(row),
        rows=(row,),
        words=f"{point_names(shots)} lie up to {away:,.0f} {survey.unit} away: no single cause found",
        evidence=(
            "northing and easting exchanged, a neighbour's label, another unit: none brings them home",
        ),
        cost_rank=4,
        asks_for="the field book, or shoot it again",
    )


def _shots_of(survey: CheckedSurvey, row: int) -> tuple[list[Shot], dict[str, list[Shot]]]:
    shots = [survey.matched.shots[i] for i in np.flatnonzero(survey.matched.row == row).tolist()]
    poles = {letter: [shot for shot in shots if shot.pole == letter] for letter in POLE_LETTERS}
    return shots, {letter: each for letter, each in poles.items() if each}


def _widest(shots: list[Shot]) -> float:
    pairs = itertools.combinations(shots, 2)
    return max(
        (float(np.hypot(a.easting - b.easting, a.northing - b.northing)) for a, b in pairs), default=0.0
    )


def _choices(survey: CheckedSurvey, row: int, poles: dict[str, list[Shot]]) -> list[str]:
    """Say what the frame would be with each choice of shots, without choosing."""
    gone = "".join(letter for letter in survey.figures.letters_of(row) if letter not in poles)
    if gone:
        return [poles_not_shot(gone, survey.figures.called(row))]
    return [f"with {point_names(doubted)}: {words}" for doubted, words in frames_of_choices(survey, row)]


def frames_of_choices(survey: CheckedSurvey, row: int) -> list[tuple[tuple[Shot, ...], str]]:
    """Return, for each choice among shots of one pole, those chosen and what the frame would be with them.

    None where a pole has no shot.
    """
    _, poles = _shots_of(survey, row)
    needed = (poles.get(letter, []) for letter in survey.figures.letters_of(row))
    return [
        (tuple(shot for shot in choice if len(poles[shot.pole]) > 1), _frame_words(survey, row, choice))
        for choice in itertools.islice(itertools.product(*needed), _TRIED)
    ]


def _frame_words(survey: CheckedSurvey, row: int, choice: tuple[Shot, ...]) -> str:
    figures = survey.figures
    poles = np.full((1, 3, 2), np.nan)
    poles[0, : len(choice)] = [(shot.easting, shot.northing) for shot in choice]
    frame = as_set_at(figures, np.array([row]), poles)
    sigma = survey.tolerances.shot_sigma * 2.0**0.5
    measured, error = float(frame.measured_spacing[0]), float(frame.spacing_error[0])
    turn_sigma = float(np.degrees(sigma / measured)) if measured > 0.0 else 180.0
    words = [turn_words(float(frame.rotation_deg[0]), turn_sigma)]
    if np.isfinite(error):
        words.append(spacing_words(measured, error, sigma, survey.unit))
    moved = float(np.hypot(frame.along[0], frame.across[0]))
    return ", ".join([*words, f"centre {length_text(moved, survey.unit)} from design"])


def _missing(survey: CheckedSurvey, row: int) -> Suspicion:
    letters = str(survey.checks.missing[row])
    called = survey.figures.called(row)
    shots, _ = _shots_of(survey, row)
    return Suspicion(
        code="pole missing",
        subject=survey.subject(row),
        rows=(row,),
        words=f"{poles_not_shot(letters, called)}: no direction, no spacing, no centre",
        evidence=(f"shot: {point_names(shots)}",),
        cost_rank=4,
        asks_for=f"a shot of {pole_names(letters, called)}, or the raw file if it was taken",
    )


def poor_surveys(survey: CheckedSurvey, rows: IntArray) -> list[Suspicion]:
    """Find frames that no reading of this survey could have shown to be in tolerance."""
    unproven = (each for each in survey.checks.findings if each.code == "survey cannot prove")
    figures = survey.figures
    rows_of = figures.rows_by_key()
    ledger = Ledger(figures.keys, unproven, calls=lambda key: figures.called(rows_of[key]))
    return [
        _poor(survey, row, [finding.words for finding in ledger.at(row)])
        for row in rows.tolist()
        if _is_poor(survey, row)
    ]


def _is_poor(survey: CheckedSurvey, row: int) -> bool:
    checks = survey.checks
    return bool(
        checks.verdict[row] is Verdict.CANNOT_TELL
        and np.isfinite(checks.along[row])
        and not checks.provable[row]
    )


def _poor(survey: CheckedSurvey, row: int, evidence: list[str]) -> Suspicion:
    checks = survey.checks
    turn = turn_words(float(checks.rotation_deg[row]), float(checks.rotation_sigma_deg[row]))
    return Suspicion(
        code="poor survey",
        subject=survey.subject(row),
        rows=(row,),
        words=f"{turn}: the survey is not good enough to tell, whatever it reads",
        evidence=tuple(evidence),
        cost_rank=5,
        asks_for="better shots: fixed solution, longer occupation, or a total station",
    )
