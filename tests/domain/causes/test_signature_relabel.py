"""Shots of a number that no structure has: relabelled where one structure without shots stands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest

from linemap.domain.causes.cause import Cause, Decision, corrected_shots
from linemap.domain.causes.causes import find_causes
from linemap.domain.causes.signature_relabel import likeness
from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Verdict
from linemap.units import LengthUnit

FEET = Tolerances.default(LengthUnit.FOOT)
Survey = Callable[..., list[Shot]]


def find(figures: Figures, shots: list[Shot]) -> tuple[Cause, ...]:
    poles = cluster_poles(shots, figures, default_sigma=FEET.shot_sigma)
    return find_causes(figures, poles, check(figures, poles, FEET), shots, events=(), tolerances=FEET)


def relabelled(shots: list[Shot], number: str, other: str) -> list[Shot]:
    return [replace(shot, structure=other) if shot.structure == number else shot for shot in shots]


def test_the_shots_of_an_unknown_number_are_given_to_the_structure_they_lie_at(
    bent: Figures, survey: Survey
) -> None:
    shots = relabelled(survey(bent), "1/2", "1/12")
    (cause,) = find(bent, shots)
    assert (cause.code, cause.subject, cause.structures) == ("unknown number", "structure 1/12", ("1/2",))
    assert "labelled 1/12, which is in no list, lie at 1/2, which has no shots of its own" in cause.words
    assert cause.words.endswith("a digit too many")
    assert cause.would_change == "1 structure not surveyed -> pass"
    assert "no shot is labelled 1/2" in cause.evidence
    decision = Decision(
        id="d1",
        cause=cause.code,
        subject=cause.subject,
        line=cause.line,
        answer="accepted",
        who="R. Calder",
        at=dt.datetime(2026, 5, 15, tzinfo=dt.UTC),
        correction=cause.correction or {},
    )
    corrected, _ = corrected_shots(shots, [decision])
    poles = cluster_poles(corrected, bent, default_sigma=FEET.shot_sigma)
    assert set(check(bent, poles, FEET).verdict) == {Verdict.PASS}
    assert find(bent, list(corrected)) == ()


def test_beside_other_exceptions_it_is_found_too(bent: Figures, survey: Survey) -> None:
    shots = relabelled(survey(bent, row3={"rotation_deg": 4.0}), "1/2", "1/12")
    assert {cause.code for cause in find(bent, shots)} >= {"unknown number"}


def test_a_structure_with_shots_of_its_own_is_given_no_others(bent: Figures, survey: Survey) -> None:
    shots = survey(bent)
    doubled = [*shots, *(replace(shot, structure="1/12") for shot in shots if shot.structure == "1/2")]
    assert find(bent, doubled) == ()


def test_shots_that_lie_at_no_pole_stay_a_finding(bent: Figures, survey: Survey) -> None:
    shots = relabelled(survey(bent), "1/2", "1/12")
    away = [
        replace(shot, easting=shot.easting + 20.0, northing=shot.northing + 20.0)
        if shot.structure == "1/12"
        else shot
        for shot in shots
    ]
    assert find(bent, away) == ()


def test_shots_of_two_structures_under_one_number_are_not_guessed(bent: Figures, survey: Survey) -> None:
    shots = relabelled(relabelled(survey(bent), "1/2", "1/12"), "1/3", "1/12")
    assert find(bent, shots) == ()


def test_a_pole_the_structure_does_not_have_is_not_guessed(bent: Figures, survey: Survey) -> None:
    shots = [
        replace(shot, pole="C") if shot.structure == "1/12" and shot.pole == "B" else shot
        for shot in relabelled(survey(bent), "1/2", "1/12")
    ]
    assert find(bent, shots) == ()


@pytest.mark.parametrize(
    ("number", "other", "words"),
    [
        ("21/3", "12/3", "digits exchanged"),
        ("1/23", "12/3", "the mark between mile and number misplaced"),
        ("1/3", "12/3", "a digit left out"),
        ("12/33", "12/3", "a digit too many"),
        ("12/8", "12/3", "one digit wrong"),
        ("45/6", "12/3", ""),
        ("1234/5", "12/3", ""),
    ],
)
def test_likeness(number: str, other: str, words: str) -> None:
    assert likeness(number, other) == words
