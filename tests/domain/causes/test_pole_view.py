"""One pole off its stake, letters of three poles exchanged, frames square to what is beside them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

from linemap.domain.causes.cause import Cause
from linemap.domain.causes.causes import find_causes
from linemap.domain.causes.correction import Order, apply_corrections
from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.units import LengthUnit

FEET = Tolerances.default(LengthUnit.FOOT)
Survey = Callable[..., list[Shot]]


def find(figures: Figures, shots: Sequence[Shot]) -> tuple[Cause, ...]:
    poles = cluster_poles(shots, figures, default_sigma=FEET.shot_sigma)
    return find_causes(figures, poles, check(figures, poles, FEET), shots, events=(), tolerances=FEET)


def moved(
    figures: Figures, shots: list[Shot], row: int, pole: str, *, ahead: float = 0.0, right: float = 0.0
):
    """Move one pole of one structure, ground lengths."""
    azimuth = math.radians(float(figures.structure_azimuth_deg[row]))
    factor = float(figures.combined_factor[row])
    east = (ahead * math.sin(azimuth) + right * math.cos(azimuth)) * factor
    north = (ahead * math.cos(azimuth) - right * math.sin(azimuth)) * factor
    number = figures.structures.number[row]
    return [
        replace(shot, easting=shot.easting + east, northing=shot.northing + north)
        if (shot.structure, shot.pole) == (number, pole)
        else shot
        for shot in shots
    ]


@pytest.mark.parametrize(
    ("pole", "off", "words"),
    [
        ("B", {"ahead": 0.79}, "A stands, B is 0.79 ft ahead"),
        ("A", {"ahead": -1.4}, "A is 1.40 ft back, B stands"),
        ("A", {"right": 0.9}, "A is 0.90 ft right, B stands"),
        ("B", {"ahead": 1.1, "right": -0.8}, "A stands, B is 1.10 ft ahead and 0.80 ft left"),
    ],
)
def test_one_pole_off_its_stake_is_that_pole(
    bent: Figures, survey: Survey, pole: str, off: dict[str, float], words: str
) -> None:
    (cause,) = find(bent, moved(bent, survey(bent), 2, pole, **off))
    assert (cause.code, cause.structures) == ("one pole off its stake", ("1/3",))
    assert f"{words}: one pole off its stake" in cause.words
    assert cause.correction is None


def test_a_frame_turned_about_its_middle_is_not_one_pole_off(bent: Figures, survey: Survey) -> None:
    (cause,) = find(bent, survey(bent, row2={"rotation_deg": 7.0}))
    assert cause.code == "no single cause found"
    assert "pole by pole: A is 0.76 ft ahead, B is 0.76 ft back" in cause.evidence


@pytest.mark.parametrize("labels", ["ACB", "BAC", "BCA", "CAB"])
def test_letters_of_three_poles_exchanged_are_put_back(
    build: Callable[..., Figures], survey: Survey, labels: str
) -> None:
    figures = build(azimuth_deg=40.0, turn_deg=30.0, pole_count=3, spacing=14.0)
    letters = dict(zip("ABC", labels, strict=True))
    shots = [
        replace(shot, pole=letters[shot.pole]) if shot.structure == "1/2" else shot
        for shot in survey(figures)
    ]
    (cause,) = find(figures, shots)
    assert (cause.code, cause.structures) == ("pole letters exchanged", ("1/2",))
    assert cause.would_change == "1 structure fail -> pass"
    assert cause.correction is not None
    corrected, _ = apply_corrections(shots, [Order(cause.correction, "North", "decision d1")])
    assert [shot.pole for shot in corrected] == [shot.pole for shot in survey(figures)]


def test_letters_exchanged_in_a_whole_file_are_one_cause(
    build: Callable[..., Figures], survey: Survey
) -> None:
    figures = build(azimuth_deg=40.0, turn_deg=30.0, pole_count=3, spacing=14.0)
    shots = [replace(shot, pole={"A": "B", "B": "A", "C": "C"}[shot.pole]) for shot in survey(figures)]
    (cause,) = find(figures, shots)
    assert (cause.code, cause.subject, len(cause.structures)) == ("pole letters exchanged", "file may.csv", 5)
    assert cause.would_change == "5 structures fail -> pass"


@pytest.mark.parametrize(
    ("row", "turn", "code", "words"),
    [
        ("row1", 15.0, "neighbour's bisector", "set square to the bisector of 1/3"),
        ("row3", -15.0, "neighbour's bisector", "set square to the bisector of 1/3"),
        ("row1", 30.0, "square to one tangent", "set square to the leg beyond 1/3"),
    ],
)
def test_square_to_what_stands_beside_it(
    bent: Figures, survey: Survey, row: str, turn: float, code: str, words: str
) -> None:
    (cause,) = find(bent, survey(bent, **{row: {"rotation_deg": turn}}))
    assert cause.code == code
    assert words in cause.words
