"""Shots brought together to poles: what is used, what is told, what is never guessed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.figures import Figures
from linemap.domain.survey.set_poles import SetPoles, cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.units import LengthUnit

Build = Callable[..., Figures]
Shoot = Callable[..., list[Shot]]


def clustered(shots: list[Shot], figures: Figures) -> SetPoles:
    return cluster_poles(shots, figures, default_sigma=0.03)


def told(poles: SetPoles) -> list[tuple[str, str, str]]:
    return [(finding.structure, finding.code, finding.words) for finding in poles.findings]


def moved(shot: Shot, *, east: float = 0.0, north: float = 0.0, point: str = "") -> Shot:
    return replace(
        shot, easting=shot.easting + east, northing=shot.northing + north, point=point or shot.point
    )


def test_each_shot_finds_its_pole(north: Figures, shoot: Shoot) -> None:
    shots = [replace(shot, elevation=4000.0 + i) for i, shot in enumerate(shoot(north, 1))]
    poles = clustered(shots[::-1], north)
    np.testing.assert_allclose(poles.position[1, :2], north.poles[1, :2], atol=1e-9)
    assert poles.elevation[1, :2].tolist() == [4000.0, 4001.0]
    assert poles.sigma[1, :2].tolist() == [0.03, 0.03]
    assert poles.count[1].tolist() == [1, 1, 0]
    assert poles.count.sum() == 2
    assert np.isnan(poles.position[[0, 2, 3, 4]]).all()
    assert np.isnan(poles.position[1, 2]).all()
    assert not poles.conflict.any()
    assert poles.findings == ()


def test_a_shots_own_sigma_is_kept(north: Figures, shoot: Shoot) -> None:
    assert clustered(shoot(north, 1, sigma=0.1), north).sigma[1, 0] == 0.1


def test_two_shots_near_each_other_are_averaged(north: Figures, shoot: Shoot) -> None:
    a, b = shoot(north, 1)
    again = replace(moved(a, east=0.03, north=0.04), elevation=10.0)
    poles = clustered([replace(a, elevation=11.0), b, again], north)
    assert poles.position[1, 0].tolist() == pytest.approx([a.easting + 0.015, a.northing + 0.02])
    assert poles.elevation[1, 0] == 10.5
    assert poles.count[1].tolist() == [2, 1, 0]
    assert poles.sigma[1, 0] == 0.03
    assert poles.findings == ()


def test_two_shots_far_apart_are_both_told_and_none_used(north: Figures, shoot: Shoot) -> None:
    a, b = (replace(shot, file="may.txt") for shot in shoot(north, 1))
    poles = clustered([a, b, moved(b, north=6.2, point="5011")], north)
    assert told(poles) == [
        (
            "1/2",
            "shots disagree",
            "pole B shot 2 times, 6.20 ft apart (points 5002, 5011 of may.txt): none used, verdict withheld",
        )
    ]
    assert poles.conflict.tolist() == [False, True, False, False, False]
    assert set(poles.unused.values()) == {"shots disagree"}
    assert {point for _, _, point in poles.unused} == {b.point, "5011"}
    assert np.isnan(poles.position[1, 1]).all()
    assert np.isfinite(poles.position[1, 0]).all()
    assert poles.count[1].tolist() == [1, 2, 0]


def test_the_limit_is_two_root_two_sigma_of_the_mean(north: Figures, shoot: Shoot) -> None:
    a, _ = shoot(north, 1, sigma=0.1)
    # half the distance of two shots against 2 x 1.41421 x 0.1 = 0.28284
    assert not clustered([a, moved(a, north=0.5656)], north).conflict.any()
    assert clustered([a, moved(a, north=0.5658)], north).conflict[1]


def test_the_limit_is_never_below_a_tenth_of_a_foot(north: Figures, shoot: Shoot, build: Build) -> None:
    a, _ = shoot(north, 1, sigma=0.001)
    assert not clustered([a, moved(a, north=0.199)], north).conflict.any()
    assert clustered([a, moved(a, north=0.201)], north).conflict[1]
    metric = build(unit=LengthUnit.METRE)
    a, _ = shoot(metric, 1, sigma=0.001)
    assert not clustered([a, moved(a, north=0.0609)], metric).conflict.any()
    assert clustered([a, moved(a, north=0.0611)], metric).conflict[1]


def test_distances_told_are_ground_distances(build: Build, shoot: Shoot) -> None:
    figures = build(factor=0.5)
    a, _ = shoot(figures, 1)
    poles = clustered([a, moved(a, north=3.1)], figures)
    assert "6.20 ft apart" in poles.findings[0].words


def test_three_shots_in_a_triangle_tell_the_longest_side(north: Figures, shoot: Shoot) -> None:
    a, _ = shoot(north, 1)
    poles = clustered([a, moved(a, east=3.0), moved(a, east=3.0, north=4.0)], north)
    assert "shot 3 times, 5.00 ft apart" in poles.findings[0].words


def test_shots_of_a_structure_the_list_does_not_have(north: Figures, shoot: Shoot) -> None:
    a, b = shoot(north, 1)
    poles = clustered([a, b, replace(a, structure="9/9", description="STR 9/9 A", point="77")], north)
    assert told(poles) == [
        (
            "9/9",
            "unknown structure",
            '"STR 9/9 A", point 77: structure 9/9 is not in the structure list: shot not used',
        )
    ]
    assert poles.count.sum() == 2


def test_shots_of_another_line_are_not_taken(north: Figures, shoot: Shoot) -> None:
    a, _ = shoot(north, 1)
    poles = clustered([replace(a, line="South")], north)
    assert [code for _, code, _ in told(poles)] == ["unknown structure"]
    assert poles.count.sum() == 0
    assert clustered([replace(a, line="NORTH")], north).count.sum() == 1
    assert clustered([replace(a, line="")], north).count.sum() == 1


def test_a_number_on_two_lines_needs_the_line(build: Build, shoot: Shoot) -> None:
    figures = build(names=("North", "South"))
    shots = shoot(figures, 6)
    poles = clustered(shots, figures)
    np.testing.assert_allclose(poles.position[6, :2], figures.poles[6, :2], atol=1e-9)
    assert poles.count[1].sum() == 0
    unnamed = clustered([replace(shots[0], line="")], figures)
    assert told(unnamed) == [
        ("1/2", "line not named", "point 5001: structure 1/2 is on 2 lines (North, South): shot not used")
    ]


def test_poles_the_design_does_not_have(north: Figures, shoot: Shoot) -> None:
    a, b = shoot(north, 1)
    poles = clustered([replace(a, pole="C", point="9"), replace(b, pole="", point="10")], north)
    assert told(poles) == [
        ("1/2", "pole not in design", "point 9 names pole C, the design has poles A, B: shot not used"),
        (
            "1/2",
            "pole not in design",
            "point 10 names no pole letter, the design has poles A, B: shot not used",
        ),
    ]
    assert poles.count.sum() == 0


def test_other_items_are_passed_over(north: Figures, shoot: Shoot) -> None:
    a, _ = shoot(north, 1)
    poles = clustered([replace(a, item="anchor"), replace(a, item="other", structure="")], north)
    assert poles.count.sum() == 0
    assert poles.findings == ()


def test_shots_labelled_with_the_neighbours_number(north: Figures, shoot: Shoot) -> None:
    shots = [replace(shot, structure="1/2") for shot in shoot(north, 2, along=-3.0)]
    poles = clustered(shots, north)
    assert told(poles) == [
        (
            "1/2",
            "shots at another structure",
            "shots labelled 1/2 lie at 1/3, 997 ft ahead; none is labelled 1/3; verdict withheld",
        )
    ]
    assert poles.conflict.tolist() == [False, True, False, False, False]
    assert poles.count[1].tolist() == [1, 1, 0]
    assert np.isnan(poles.position).all()


def test_four_shots_in_two_groups(north: Figures, shoot: Shoot) -> None:
    strays = [replace(shot, structure="1/3") for shot in shoot(north, 1, along=3.0)]
    poles = clustered([*shoot(north, 2), *strays], north)
    assert told(poles) == [
        (
            "1/3",
            "shots at another structure",
            "shots labelled 1/3 lie at 1/2, 997 ft back: 4 shots in two groups 997 ft apart; "
            "none is labelled 1/2; verdict withheld",
        )
    ]
    assert poles.conflict.tolist() == [False, False, True, False, False]
    assert poles.count[2].tolist() == [2, 2, 0]
    assert np.isnan(poles.position).all()


def test_a_mislabelled_shot_leaves_the_structure_it_lies_at_alone(north: Figures, shoot: Shoot) -> None:
    stray = replace(shoot(north, 2)[0], structure="1/2")
    poles = clustered([stray, *shoot(north, 2)], north)
    assert poles.conflict.tolist() == [False, True, False, False, False]
    assert np.isfinite(poles.position[2, :2]).all()
    assert "none is labelled" not in poles.findings[0].words


def test_shots_on_another_line(build: Build, shoot: Shoot) -> None:
    figures = build(names=("North", "South"))
    strays = [replace(shot, line="North") for shot in shoot(figures, 6)]
    words = clustered(strays, figures).findings[0].words
    assert words.startswith("shots labelled 1/2 lie at 1/2, 5000 ft away, on South")


def test_a_frame_set_far_off_but_not_at_a_neighbour_is_used(north: Figures, shoot: Shoot) -> None:
    poles = clustered(shoot(north, 1, along=25.0, across=-400.0), north)
    assert not poles.conflict.any()
    assert poles.findings == ()


def test_northing_and_easting_exchanged(north: Figures, shoot: Shoot) -> None:
    turned = [replace(s, easting=s.northing, northing=s.easting) for s in shoot(north, 1)]
    poles = clustered(turned, north)
    ((structure, code, words),) = told(poles)
    assert (structure, code) == ("1/2", "northing and easting exchanged")
    # sqrt(2) x (2,250,000 - 901,000) ft = 1,907,774 ft = 581 km; half of 12.5 ft
    assert words == (
        "points 5001, 5002 as read 581 km from the structure; with northing and easting exchanged 6.2 ft: "
        "verdict withheld, exchange the columns of the file if that is right"
    )
    assert poles.conflict[1]
    assert poles.count[1].tolist() == [1, 1, 0]
    assert np.isnan(poles.position).all()


def test_shots_of_another_zone(north: Figures, shoot: Shoot) -> None:
    poles = clustered([moved(shot, north=3_280_840.0) for shot in shoot(north, 1)], north)
    assert told(poles) == [
        (
            "1/2",
            "shots nowhere near",
            "points 5001, 5002 as read 1,000 km from the structure: not used, verdict withheld; "
            "check zone and unit",
        )
    ]
    assert poles.conflict[1]


def test_points_without_a_number_are_named_by_row(north: Figures, shoot: Shoot) -> None:
    a, _ = shoot(north, 1)
    nameless = replace(a, point="", row=12, file="may.txt", structure="9/9")
    assert "row 12 of may.txt" in clustered([nameless], north).findings[0].words


@settings(max_examples=examples(40))
@given(
    rows=st.lists(st.integers(0, 4), unique=True),
    extra=st.lists(st.tuples(st.integers(0, 4), st.floats(-20.0, 20.0)), max_size=6),
    data=st.data(),
)
def test_nothing_is_lost_and_order_does_not_matter(
    north: Figures, shoot: Shoot, rows: list[int], extra: list[tuple[int, float]], data: st.DataObject
) -> None:
    shots = [shot for row in rows for shot in shoot(north, row)]
    shots += [moved(shoot(north, row)[0], north=by) for row, by in extra]
    poles = clustered(shots, north)
    shuffled = clustered(data.draw(st.permutations(shots)), north)
    np.testing.assert_allclose(shuffled.position, poles.position, atol=1e-6)
    np.testing.assert_array_equal(shuffled.count, poles.count)
    np.testing.assert_array_equal(shuffled.conflict, poles.conflict)
    assert poles.count.sum() == len(shots)
    used = np.isfinite(poles.position).all(axis=-1)
    assert np.array_equal(
        used | poles.conflict[:, np.newaxis], (poles.count > 0) | poles.conflict[:, np.newaxis]
    )
    assert {f.structure for f in poles.findings} == set(north.structures.number[poles.conflict])


def test_each_shot_that_is_not_used_has_the_code_that_says_why(north: Figures, shoot: Shoot) -> None:
    home, b, away, stranger, none, swapped = (
        replace(shot, file="may.txt", row=row)
        for row, shot in enumerate([*shoot(north, 1), *shoot(north, 2) * 2])
    )
    stranger = replace(stranger, structure="99/9")
    none = replace(none, pole="C")
    swapped = replace(swapped, easting=swapped.northing, northing=swapped.easting)
    away = replace(away, structure="1/1")
    poles = clustered([home, b, moved(b, north=6.2), away, stranger, none, swapped], north)
    assert {row: code for (_, row, _), code in poles.unused.items()} == {
        1: "shots disagree",
        2: "shots at another structure",
        3: "unknown structure",
        4: "pole not in design",
        5: "northing and easting exchanged",
    }
