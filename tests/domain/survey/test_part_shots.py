"""Tops, tips, faces and ground: what they tell of their structures, and that none of them is a pole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.orientation import check
from linemap.domain.survey.part_shots import part_findings
from linemap.domain.survey.set_poles import SetPoles, cluster_poles
from linemap.domain.survey.shot import Shot, ShotItem
from linemap.units import LengthUnit

Build = Callable[..., Figures]
Shoot = Callable[..., list[Shot]]
ROW, NUMBER = 1, "1/2"
LIMITS = Tolerances.default(LengthUnit.FOOT)


@pytest.fixture
def line(north: Figures) -> Figures:
    """A line that runs north, with ground at 600."""
    listed = replace(north.structures, elevation=np.full(len(north), 600.0))
    return replace(north, structures=listed)


def part(of: Shot, item: ShotItem, *, east: float = 0.0, north: float = 0.0, up: float | None = 0.0) -> Shot:
    """Return a shot of another part of a pole, some way from the pole as shot and above its ground."""
    base = 600.0 if of.elevation is None else of.elevation
    return replace(
        of,
        item=item,
        point=f"{of.point}{item}",
        easting=of.easting + east,
        northing=of.northing + north,
        elevation=None if up is None else base + up,
    )


def standing(shoot: Shoot, line: Figures) -> list[Shot]:
    return [replace(shot, elevation=600.0) for shot in shoot(line, ROW)]


def found(line: Figures, *shots: Shot, limits: Tolerances = LIMITS) -> list[Finding]:
    poles = cluster_poles(shots, line, default_sigma=0.03)
    return [*part_findings(line, poles, shots, limits)]


@pytest.mark.parametrize(
    ("right", "ahead", "words"),
    [
        (0.05, 0.0, []),
        (0.0, 0.4, []),
        (0.0, 0.9, ["pole A leans 1.5 in per 10 ft (1.29 %): 1.5 ahead"]),
        (-0.8, 0.0, ["pole A leans 1.4 in per 10 ft (1.14 %): 1.4 left"]),
        (0.0, 0.56, ["within \u00b11 in per 10 ft or not"]),
    ],
)
def test_a_top_tells_how_plumb_its_pole_stands(
    line: Figures, shoot: Shoot, right: float, ahead: float, words: list[str]
) -> None:
    a, b = standing(shoot, line)
    told = found(line, a, b, part(a, "top", east=right, north=ahead, up=70.0))
    assert [each.code for each in told] == ["out of plumb"] * len(words)
    for each, expected in zip(told, words, strict=True):
        assert expected in each.words
        assert "(point 5001top)" in each.words


@pytest.mark.parametrize("up", [None, 70.0])
def test_a_top_needs_a_pole_and_heights(line: Figures, shoot: Shoot, up: float | None) -> None:
    a, b = standing(shoot, line)
    top = part(a, "top", north=5.0, up=up)
    assert found(line, b, top) == []
    assert up is not None or found(line, a, b, top) == []


def test_what_cannot_be_the_top_of_its_pole_is_told_and_not_judged(line: Figures, shoot: Shoot) -> None:
    a, b = standing(shoot, line)
    away, low = part(a, "top", north=812.0, up=71.0), part(a, "top", up=2.0)
    assert [(each.code, each.structure) for each in found(line, a, b, away, low)] == [
        ("shot away from its place", NUMBER),
        ("shot away from its place", NUMBER),
    ]
    assert "lies 2.0 ft above the shot of the pole" in found(line, a, b, low)[0].words
    assert "lies 4.0 ft below the shot of the pole" in found(line, a, b, part(a, "top", up=-4.0))[0].words
    assert "lies 812.0 ft from the pole as shot" in found(line, a, b, away)[0].words


@pytest.mark.parametrize(
    ("right_up", "codes"), [(60.0, []), (60.3, ["arm not level"]), (59.0, ["arm not level"]), (66.0, [])]
)
def test_tips_tell_how_level_their_arm_hangs(
    line: Figures, shoot: Shoot, right_up: float, codes: list[str]
) -> None:
    a, b = standing(shoot, line)
    tips = [part(a, "tip", east=-6.0, up=60.0), part(b, "tip", east=6.0, up=right_up)]
    told = found(line, a, b, *tips)
    assert [each.code for each in told] == codes
    for each in told:
        assert each.values["inches"] == pytest.approx((right_up - 60.0) * 12.0)


def test_two_arms_are_judged_each_by_its_own_tips(line: Figures, shoot: Shoot) -> None:
    a, b = standing(shoot, line)
    ups = {60.0: 60.0, 50.0: 50.4}
    tips = [part(pole, "tip", east=side, up=up) for left, right in ups.items()
            for pole, side, up in ((a, -6.0, left), (b, 6.0, right))]  # fmt: skip
    (told,) = found(line, *tips)
    assert told.values["inches"] == pytest.approx(4.8)


@pytest.mark.parametrize(
    ("shown", "codes"), [(603.0, []), (640.0, ["ground not as listed"]), (590.0, ["ground not as listed"])]
)
def test_ground_is_held_against_the_list(line: Figures, shoot: Shoot, shown: float, codes: list[str]) -> None:
    a, _ = standing(shoot, line)
    told = found(line, replace(part(a, "ground", east=3.0), elevation=shown, pole=""))
    assert [each.code for each in told] == codes
    for each in told:
        assert f"ground shot at {shown:.1f} ft" in each.words
        assert f"({shown - 600.0:+.1f})" in each.words


def test_ground_far_from_its_structure_is_no_ground_of_it(line: Figures, shoot: Shoot) -> None:
    a, _ = standing(shoot, line)
    told = found(line, replace(part(a, "ground", north=500.0), elevation=640.0))
    assert [each.code for each in told] == ["shot away from its place"]


def test_parts_of_structures_in_no_list_are_told(line: Figures, shoot: Shoot) -> None:
    a, _ = standing(shoot, line)
    told = found(
        line, *(replace(part(a, item), structure="99/9") for item in ("top", "face", "centre", "hub"))
    )
    assert [each.code for each in told] == ["unknown structure"] * 3


@pytest.mark.parametrize("item", ["top", "tip", "face", "centre", "ground"])
def test_no_part_is_averaged_with_its_pole(line: Figures, shoot: Shoot, item: ShotItem) -> None:
    a, b = standing(shoot, line)
    plain = cluster_poles([a, b], line, default_sigma=0.03)
    with_part = cluster_poles([a, b, part(a, item, north=0.05, up=71.0)], line, default_sigma=0.03)
    assert np.array_equal(plain.position, with_part.position, equal_nan=True)
    assert np.array_equal(plain.elevation, with_part.elevation, equal_nan=True)
    assert plain.count.tolist() == with_part.count.tolist()


def judged(line: Figures, *shots: Shot) -> tuple[SetPoles, str]:
    poles = cluster_poles(shots, line, default_sigma=0.03)
    return poles, str(check(line, poles, LIMITS).verdict[ROW])


def test_shots_of_one_pole_at_two_places_of_it_give_no_verdict(line: Figures, shoot: Shoot) -> None:
    a, b = standing(shoot, line)
    poles, verdict = judged(line, a, b, replace(a, point="77", northing=a.northing + 0.05, elevation=671.0))
    (told,) = poles.findings
    assert told.code == "pole heights disagree"
    assert "heights 71.00 ft apart" in told.words
    assert "verdict withheld" in told.words
    assert poles.conflict[ROW]
    assert set(poles.unused.values()) == {"pole heights disagree"}
    assert verdict not in {"pass", "fail"}


def test_heights_that_differ_a_little_are_said_and_not_taken(line: Figures, shoot: Shoot) -> None:
    a, b = standing(shoot, line)
    poles, verdict = judged(line, a, b, replace(a, point="77", elevation=602.0))
    (told,) = poles.findings
    assert told.code == "pole heights disagree"
    assert told.words.endswith("no height taken")
    assert np.isnan(poles.elevation[ROW, 0])
    assert not poles.unused
    assert verdict == judged(line, a, b)[1]
