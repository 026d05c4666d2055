"""Sentences a person at the structure reads."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check, landmark_words, residual_words
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks
from linemap.units import LengthUnit

Build = Callable[..., Figures]
Shoot = Callable[..., list[Shot]]


def checked(figures: Figures, shots: list[Shot]) -> Checks:
    tolerances = Tolerances.default(LengthUnit.FOOT)
    return check(figures, cluster_poles(shots, figures, default_sigma=tolerances.shot_sigma), tolerances)


def said(figures: Figures, shots: list[Shot], row: int = 1) -> tuple[str, ...]:
    return residual_words(figures, checked(figures, shots), row)


def test_every_residual_is_said_once(north: Figures, shoot: Shoot) -> None:
    assert said(north, shoot(north, 1, rotation_deg=4.5, along=-0.1, across=9.96, spacing_error=-0.56)) == (
        # 11.94 ft x sin 4.5 degrees / 2 + 0.1 ft = 0.568 ft
        "arm turned 4.5° clockwise (sigma 0.20°); pole B is 0.57 ft back of where it should be",
        "frame centre 0.10 ft back of design (sigma 0.03 ft)",
        "frame centre 9.96 ft right of design (sigma 0.03 ft)",
        "spacing 11.94 ft, design 12.50 ft (sigma 0.04 ft)",
    )


def test_turned_clockwise_moves_the_left_pole_ahead(build: Build, shoot: Shoot) -> None:
    """Looking ahead with A on the left, a clockwise turn brings A forward and takes B back."""
    figures = build(azimuth_deg=75.0)
    words = said(figures, shoot(figures, 1, rotation_deg=4.5, along=0.01))[0]
    # 12.5 ft x sin 4.5 degrees / 2 = 0.490 ft
    assert words.endswith("pole A is 0.50 ft ahead of where it should be")
    right = build(azimuth_deg=75.0, pole_a="right")
    assert said(right, shoot(right, 1, rotation_deg=4.5, along=0.01))[0].endswith(
        "pole B is 0.50 ft ahead of where it should be"
    )


def test_reversed_frame(north: Figures, shoot: Shoot) -> None:
    words = said(north, shoot(north, 1, swapped=True, rotation_deg=0.5, along=-0.5))
    assert words[0].startswith("A and B are the other way round: the labels or the frame; second evidence")
    assert "the pole in the place of B is 0.55 ft back of where it should be" in words[1]


def test_three_poles_square_to_one_tangent(build: Build, shoot: Shoot) -> None:
    figures = build(turn_deg=18.75, pole_count=3, spacing=15.0)
    words = said(figures, shoot(figures, 2, rotation_deg=-9.375, along=0.001), row=2)
    assert words[0].endswith("pole C is 2.44 ft ahead of where it should be")
    assert words[-1].startswith("pole B 0.00 ft")
    assert len(words) == 5


def test_reversed_three_poles_name_a_and_c(build: Build, shoot: Shoot) -> None:
    figures = build(pole_count=3, spacing=15.0)
    assert said(figures, shoot(figures, 1, swapped=True))[0].startswith("A and C are the other way round")


def test_why_there_is_no_residual(north: Figures, shoot: Shoot) -> None:
    a, b = shoot(north, 1)
    assert said(north, [], 1) == ("not surveyed",)
    assert said(north, [a], 1) == ("pole B not shot",)
    assert said(north, [a, b, replace(a, northing=a.northing + 6.2)], 1) == (
        "the shots contradict each other or their place: verdict withheld",
    )


def test_no_spacing_and_no_direction(build: Build, north: Figures, shoot: Shoot) -> None:
    figures = build(spacing=float("nan"))
    assert not any("spacing" in sentence for sentence in said(figures, shoot(north, 1)))
    assert not any("turned" in sentence for sentence in said(north, shoot(north, 1, spacing_error=-12.5)))


@settings(max_examples=examples(40))
@given(
    rotation=st.floats(-30.0, 30.0),
    along=st.floats(-5.0, 5.0),
    azimuth=st.floats(0.0, 360.0),
    pole_a=st.sampled_from(["left", "right"]),
)
def test_the_pole_named_stands_where_the_words_say(
    build: Build, shoot: Shoot, rotation: float, along: float, azimuth: float, pole_a: str
) -> None:
    figures = build(azimuth_deg=azimuth, pole_a=pole_a)
    shots = shoot(figures, 1, rotation_deg=rotation, along=along)
    facing = math.radians(figures.structure_azimuth_deg[1])
    ahead = {
        shot.pole: (shot.easting - figures.poles[1, i, 0]) * math.sin(facing)
        + (shot.northing - figures.poles[1, i, 1]) * math.cos(facing)
        for i, shot in enumerate(shots)
    }
    words = said(figures, shots)[0].split("; pole ")[1]
    letter, _, size, _, way = words.split(" ")[:5]
    signed = float(size) if way == "ahead" else -float(size)
    assert signed == pytest.approx(ahead[letter], abs=0.0051)
    assert abs(ahead[letter]) == pytest.approx(max(map(abs, ahead.values())), abs=1e-6)


def test_landmarks(build: Build) -> None:
    line = build().lines[0]
    assert landmark_words(line, "8/1", "8/2", "8/3") == (
        "at 8/2: stand between the poles, back to 8/1, face 8/3: pole A is on your left"
    )
    right = build(pole_a="right").lines[0]
    assert landmark_words(right, "8/1", "8/2", "8/3").endswith("pole A is on your right")
    assert landmark_words(line, "5/4", "5/5", "5/6", pole_count=3) == (
        "at 5/5: stand at pole B, the middle one, back to 5/4, face 5/6: pole A is on your left"
    )


def test_landmarks_at_the_ends(build: Build) -> None:
    line = build().lines[0]
    assert landmark_words(line, "", "1/1", "1/2") == (
        "at 1/1: stand between the poles, back to Ford Yard, face 1/2: pole A is on your left"
    )
    assert "face Amber Sill" in landmark_words(line, "2/1", "2/2", "")
    nameless = replace(line, back_end="", ahead_end="")
    assert landmark_words(nameless, "", "1/1", "1/2") == (
        "at 1/1: stand between the poles, face 1/2: pole A is on your left"
    )
    assert "face ahead along the line" in landmark_words(nameless, "", "1/1", "")
