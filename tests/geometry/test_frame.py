"""Frames: which way a structure faces, where its poles belong, and how set poles stand against that."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from linemap.geometry.bearing import wrap180, wrap360
from linemap.geometry.frame import (
    ArmRule,
    AsSet,
    arm_azimuth_deg,
    as_set,
    design_poles,
    structure_azimuth_deg,
)

NAN = float("nan")
NONE = (NAN, NAN)
AZIMUTHS = st.floats(0.0, 360.0, exclude_max=True)
SPACINGS = st.floats(8.0, 40.0)
OFFSETS = st.floats(-60.0, 60.0)


def one(
    poles: Sequence[Sequence[float]] | NDArray[np.float64],
    *,
    azimuth: float = 0.0,
    centre: tuple[float, float] = (0.0, 0.0),
    spacing: float = 12.0,
    count: int = 2,
    a_left: bool = True,
    factor: float = 1.0,
) -> AsSet:
    """Compare one structure; by default it looks north and its poles belong at -6 and +6 east."""
    return as_set(
        [centre[0]],
        [centre[1]],
        structure_azimuth_deg=[azimuth],
        spacing_grid=[spacing],
        pole_count=[count],
        a_left=[a_left],
        set_poles=np.array([poles], dtype=np.float64),
        combined_factor=[factor],
    )


# Structure azimuth and arm


def test_on_a_tangent_every_rule_but_a_written_azimuth_faces_along_the_line() -> None:
    seen = structure_azimuth_deg([62.0] * 4, [62.0] * 4, rule=list(ArmRule), explicit=[75.0] * 4)
    assert seen.tolist() == [62.0, 62.0, 62.0, 75.0]


def test_bisector_halves_the_turn_and_never_averages_azimuths() -> None:
    seen = structure_azimuth_deg([350.0, 10.0, 359.0, 179.0], [10.0, 350.0, 2.0, 181.0])
    assert seen == pytest.approx([0.0, 0.0, 0.5, 180.0], abs=1e-12)


def test_at_a_line_end_the_only_span_serves_for_both() -> None:
    assert structure_azimuth_deg([NAN, 40.0], [62.0, NAN]).tolist() == [62.0, 40.0]
    assert structure_azimuth_deg([NAN], [62.0], rule=[ArmRule.SQUARE_TO_BACK]).tolist() == [62.0]
    assert np.isnan(structure_azimuth_deg([NAN], [NAN])).all()


def test_written_azimuths_are_reduced_and_missing_ones_stay_missing() -> None:
    seen = structure_azimuth_deg([0.0, 0.0], [0.0, 0.0], rule=[3, 3], explicit=[370.0, NAN])
    assert seen[0] == 10.0
    assert np.isnan(seen[1])


def test_an_unknown_rule_is_refused() -> None:
    with pytest.raises(ValueError, match="arm rule"):
        structure_azimuth_deg([0.0], [0.0], rule=[4])


@settings(max_examples=examples(100))
@given(back=AZIMUTHS, turn=st.floats(-175.0, 175.0))
def test_the_arm_makes_equal_angles_with_both_tangents(back: float, turn: float) -> None:
    ahead = float(wrap360(back + turn))
    arm = arm_azimuth_deg(structure_azimuth_deg([back], [ahead]), [True])
    to_back = np.abs(wrap180(arm - wrap360(back + 180.0)))
    to_ahead = np.abs(wrap180(arm - ahead))
    assert to_back == pytest.approx(to_ahead, abs=1e-9)


@settings(max_examples=examples(100))
@given(back=AZIMUTHS, turn=st.floats(-175.0, 175.0))
def test_reading_the_line_backwards_turns_the_structure_round(back: float, turn: float) -> None:
    ahead = back + turn
    forwards = structure_azimuth_deg([back], [ahead])
    backwards = structure_azimuth_deg([ahead + 180.0], [back + 180.0])
    assert np.abs(wrap180(backwards - forwards)) == pytest.approx(180.0, abs=1e-9)


# Design poles


def design(azimuth: float, spacing: float, count: int, *, a_left: bool) -> NDArray[np.float64]:
    """Poles of one structure at 100 east, 200 north."""
    poles = design_poles(
        [100.0],
        [200.0],
        structure_azimuth_deg=[azimuth],
        spacing=[spacing],
        pole_count=[count],
        a_left=[a_left],
    )
    assert poles.shape == (1, 3, 2)
    return poles.reshape(3, 2)


def test_a_stands_left_of_a_line_looking_north_and_north_of_one_looking_east() -> None:
    assert design(0.0, 12.0, 2, a_left=True)[:2] == pytest.approx(np.array([[94.0, 200.0], [106.0, 200.0]]))
    assert design(90.0, 12.0, 2, a_left=True)[:2] == pytest.approx(np.array([[100.0, 206.0], [100.0, 194.0]]))


def test_a_right_exchanges_the_names_and_moves_no_pole() -> None:
    left, right = design(33.0, 15.0, 3, a_left=True), design(33.0, 15.0, 3, a_left=False)
    assert right == pytest.approx(left[::-1])


def test_three_poles_are_one_spacing_apart_with_b_on_the_centre() -> None:
    poles = design(0.0, 15.0, 3, a_left=True)
    assert poles == pytest.approx(np.array([[85.0, 200.0], [100.0, 200.0], [115.0, 200.0]]))


def test_an_unknown_spacing_leaves_every_pole_unknown() -> None:
    assert np.isnan(design(0.0, NAN, 2, a_left=True)).all()
    assert np.isnan(design(0.0, NAN, 3, a_left=True)).all()
    assert np.isnan(design(0.0, 12.0, 2, a_left=True)[2]).all()


@pytest.mark.parametrize("count", [0, 1, 4])
def test_other_pole_counts_are_refused(count: int) -> None:
    with pytest.raises(ValueError, match=f"pole count {count} is neither 2 nor 3"):
        design(0.0, 12.0, count, a_left=True)
    with pytest.raises(ValueError, match="neither 2 nor 3"):
        one([(-6.0, 0.0), (6.0, 0.0), NONE], count=count)


def test_no_structures_give_no_poles_and_no_residuals() -> None:
    nothing: list[float] = []
    poles = design_poles(
        nothing, nothing, structure_azimuth_deg=nothing, spacing=nothing, pole_count=nothing, a_left=nothing
    )
    seen = as_set(
        nothing,
        nothing,
        structure_azimuth_deg=nothing,
        spacing_grid=nothing,
        pole_count=nothing,
        a_left=nothing,
        set_poles=poles,
    )
    assert poles.shape == (0, 3, 2)
    assert seen.rotation_deg.shape == seen.reversed.shape == (0,)


# As set, by hand


def test_a_frame_turned_clockwise_has_a_positive_rotation() -> None:
    """Looking north, A left: clockwise takes the right pole B back (south) and A ahead."""
    seen = one(
        [(-6.0 * math.cos(0.1), 6.0 * math.sin(0.1)), (6.0 * math.cos(0.1), -6.0 * math.sin(0.1)), NONE]
    )
    assert seen.rotation_deg == pytest.approx(math.degrees(0.1))
    assert seen.along == pytest.approx(0.0, abs=1e-12)
    assert not seen.reversed.any()


def test_ahead_and_right_are_positive() -> None:
    seen = one([(-5.0, 2.0), (7.0, 2.0), NONE])
    assert (seen.along.item(), seen.across.item(), seen.rotation_deg.item()) == (2.0, 1.0, 0.0)
    east = one([(3.0, 5.0), (3.0, -7.0), NONE], azimuth=90.0)
    assert (east.along.item(), east.across.item()) == pytest.approx((3.0, 1.0))


def test_exchanged_poles_are_a_reversal_and_not_a_rotation() -> None:
    turn = math.radians(0.2)
    a, b = (6.0 * math.cos(turn), -6.0 * math.sin(turn)), (-6.0 * math.cos(turn), 6.0 * math.sin(turn))
    seen = one([a, b, NONE])
    assert seen.reversed.all()
    assert seen.rotation_deg == pytest.approx(0.2)
    assert not one([a, b, NONE], a_left=False).reversed.any()


def test_a_quarter_turn_is_plus_ninety_either_way() -> None:
    clockwise, counter = one([(0.0, 6.0), (0.0, -6.0), NONE]), one([(0.0, -6.0), (0.0, 6.0), NONE])
    assert (clockwise.rotation_deg.item(), clockwise.reversed.item()) == (90.0, False)
    assert (counter.rotation_deg.item(), counter.reversed.item()) == (90.0, True)


def test_lengths_are_ground_lengths() -> None:
    seen = one([(-5.0, 2.0), (7.5, 2.0), NONE], factor=0.5)
    assert (seen.along.item(), seen.across.item()) == (4.0, 2.5)
    assert (seen.measured_spacing.item(), seen.spacing_error.item()) == (25.0, 1.0)
    three = one([(-12.0, 0.0), (0.0, 0.25), (12.0, 0.0)], count=3, factor=0.5)
    assert three.collinearity.item() == 0.5


def test_of_three_poles_the_worse_gap_is_told_with_its_sign() -> None:
    narrow = one([(-12.1, 0.0), (0.0, 0.0), (11.7, 0.0)], count=3)
    assert (narrow.measured_spacing.item(), narrow.spacing_error.item()) == pytest.approx((11.7, -0.3))
    wide = one([(-12.4, 0.0), (0.0, 0.0), (11.7, 0.0)], count=3)
    assert (wide.measured_spacing.item(), wide.spacing_error.item()) == pytest.approx((12.4, 0.4))


def test_outer_poles_alone_do_not_hide_a_middle_pole_out_of_place() -> None:
    seen = one([(-12.0, 0.0), (0.5, 0.25), (12.0, 0.0)], count=3)
    assert (seen.rotation_deg.item(), seen.along.item(), seen.across.item()) == (0.0, 0.0, 0.0)
    assert seen.collinearity == pytest.approx(0.25)
    assert seen.spacing_error == pytest.approx(math.hypot(12.5, 0.25) - 12.0)


def test_a_middle_pole_ahead_is_positive_even_in_a_reversed_frame() -> None:
    seen = one([(12.0, 0.0), (0.0, 0.25), (-12.0, 0.0)], count=3)
    assert seen.reversed.all()
    assert seen.collinearity == pytest.approx(0.25)


@pytest.mark.parametrize("missing", [0, 1, 2])
@pytest.mark.parametrize("axis", [0, 1])
def test_one_missing_pole_or_half_of_one_withholds_everything(missing: int, axis: int) -> None:
    poles = np.array([(12.0, 0.0), (0.0, 0.0), (-12.0, 0.0)])
    poles[missing, axis] = NAN
    seen = one(poles, count=3)
    for name in AsSet.__dataclass_fields__:
        values = getattr(seen, name)
        assert not values.any() if name == "reversed" else np.isnan(values).all(), name


def test_of_two_poles_the_third_place_is_not_read() -> None:
    seen = one([(-6.0, 0.0), (6.0, 0.0), (999.0, 999.0)])
    assert (seen.rotation_deg.item(), seen.spacing_error.item()) == (0.0, 0.0)
    assert np.isnan(seen.collinearity).all()


def test_poles_in_one_place_have_no_direction_but_a_place() -> None:
    seen = one([(1.0, 2.0), (1.0, 2.0), NONE])
    assert np.isnan(seen.rotation_deg).all()
    assert not seen.reversed.any()
    assert (seen.along.item(), seen.across.item(), seen.spacing_error.item()) == (2.0, 1.0, -12.0)
    assert np.isnan(one([(1.0, 2.0), (0.0, 0.0), (1.0, 2.0)], count=3).collinearity).all()


@pytest.mark.parametrize("count", [2, 3])
def test_without_a_design_spacing_the_rest_is_still_measured(count: int) -> None:
    seen = one([(-6.0, 0.0), (6.0, 0.0), (18.5, 0.0)], count=count, spacing=NAN)
    assert seen.measured_spacing.item() == 12.0
    assert np.isnan(seen.spacing_error).all()
    assert seen.rotation_deg.item() == 0.0


def test_square_to_the_back_tangent_at_an_angle_shows_half_the_deflection() -> None:
    """Three poles 15 ft apart where the line turns 18°45'10" left: 9.376° and 2.44 ft at an outer pole."""
    back, ahead = 65.45, 46.697222222
    built = design(float(structure_azimuth_deg([back], [ahead], rule=[1]).item()), 15.0, 3, a_left=True)
    bisector = float(structure_azimuth_deg([back], [ahead]).item())
    seen = one(built, azimuth=bisector, centre=(100.0, 200.0), spacing=15.0, count=3)
    assert bisector == pytest.approx(56.0736, abs=5e-5)
    assert seen.rotation_deg == pytest.approx(9.376389, abs=1e-6)
    assert 15.0 * np.sin(np.radians(seen.rotation_deg)) == pytest.approx(2.444, abs=5e-4)


# Laws


@settings(max_examples=examples(150))
@given(
    azimuth=AZIMUTHS,
    rotation=st.floats(-89.9, 89.9),
    along=OFFSETS,
    across=OFFSETS,
    spacing=SPACINGS,
    wide=st.floats(-3.0, 3.0),
    count=st.sampled_from([2, 3]),
    a_left=st.booleans(),
    swap=st.booleans(),
    factor=st.floats(0.99, 1.01),
)
def test_what_was_put_in_comes_out(
    azimuth: float,
    rotation: float,
    along: float,
    across: float,
    spacing: float,
    wide: float,
    count: int,
    a_left: bool,
    swap: bool,
    factor: float,
) -> None:
    """Poles are set with plain trigonometry at a known residual, and labelled the other way on demand."""
    centre, turn = (2_345_678.12, 678_901.34), math.radians(azimuth)
    east = centre[0] + factor * (along * math.sin(turn) + across * math.cos(turn))
    north = centre[1] + factor * (along * math.cos(turn) - across * math.sin(turn))
    arm = math.radians(azimuth + rotation + (90.0 if a_left else -90.0) + (180.0 if swap else 0.0))
    steps = [-0.5, 0.5, NAN] if count == 2 else [-1.0, 0.0, 1.0]
    reach = factor * (spacing + wide)
    poles = [(east + k * reach * math.sin(arm), north + k * reach * math.cos(arm)) for k in steps]
    seen = one(
        poles,
        azimuth=azimuth,
        centre=centre,
        spacing=factor * spacing,
        count=count,
        a_left=a_left,
        factor=factor,
    )
    assert seen.reversed.item() is swap
    assert seen.rotation_deg == pytest.approx(rotation, abs=1e-7)
    assert (seen.along.item(), seen.across.item()) == pytest.approx((along, across), abs=1e-8)
    assert seen.spacing_error == pytest.approx(wide, abs=1e-8)
    assert seen.measured_spacing == pytest.approx(spacing + wide, abs=1e-8)
    if count == 3:
        assert seen.collinearity == pytest.approx(0.0, abs=1e-8)


POLES = st.tuples(*[st.tuples(st.floats(-30.0, 30.0), st.floats(-30.0, 30.0))] * 3).filter(
    lambda p: math.dist(p[0], p[2]) > 1.0 and math.dist(p[0], p[1]) > 1.0
)


def residuals(seen: AsSet) -> NDArray[np.float64]:
    columns = [seen.along, seen.across, seen.spacing_error, seen.collinearity, seen.measured_spacing]
    return np.nan_to_num(np.concatenate(columns))


def half_turns(one_deg: NDArray[np.float64], other_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Difference of two rotations; those at +90 and just above -90 are neighbours."""
    return np.abs(np.remainder(one_deg - other_deg + 90.0, 180.0) - 90.0)


@settings(max_examples=examples(100))
@given(poles=POLES, azimuth=AZIMUTHS, turn=AZIMUTHS, count=st.sampled_from([2, 3]))
def test_turning_and_moving_everything_changes_no_residual(
    poles: tuple[tuple[float, float], ...], azimuth: float, turn: float, count: int
) -> None:
    cosine, sine = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    moved = [(700.0 + e * cosine + n * sine, 300.0 - e * sine + n * cosine) for e, n in poles]
    here = one(poles, azimuth=azimuth, count=count)
    there = one(moved, azimuth=azimuth + turn, centre=(700.0, 300.0), count=count)
    same_gap = np.abs(here.measured_spacing - there.measured_spacing) < 1e-6  # false only at an exact tie
    keep = np.array([1.0, 1.0, same_gap.item(), 1.0, same_gap.item()])
    near_square = np.abs(here.rotation_deg) > 90.0 - 1e-6
    assert keep * residuals(there) == pytest.approx(keep * residuals(here), abs=1e-9) or near_square.any()
    assert half_turns(there.rotation_deg, here.rotation_deg) == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=examples(100))
@given(poles=POLES, azimuth=AZIMUTHS, count=st.sampled_from([2, 3]), a_left=st.booleans())
def test_reading_the_line_backwards_keeps_rotation_and_negates_along_and_across(
    poles: tuple[tuple[float, float], ...], azimuth: float, count: int, a_left: bool
) -> None:
    """The same pole is A, so it is on the other side when looking the other way."""
    here = one(poles, azimuth=azimuth, count=count, a_left=a_left)
    back = one(poles, azimuth=azimuth + 180.0, count=count, a_left=not a_left)
    assert half_turns(back.rotation_deg, here.rotation_deg) == pytest.approx(0.0, abs=1e-9)
    assert back.along == pytest.approx(-here.along, abs=1e-9)
    assert back.across == pytest.approx(-here.across, abs=1e-9)
    if np.abs(here.rotation_deg) < 90.0 - 1e-6:
        assert back.reversed.item() is here.reversed.item()


@settings(max_examples=examples(100))
@given(poles=POLES, azimuth=AZIMUTHS, count=st.sampled_from([2, 3]))
def test_exchanging_the_labels_changes_the_reversal_only(
    poles: tuple[tuple[float, float], ...], azimuth: float, count: int
) -> None:
    a, b, c = poles
    here = one(poles, azimuth=azimuth, count=count)
    other = one([b, a, c] if count == 2 else [c, b, a], azimuth=azimuth, count=count)
    if np.abs(here.rotation_deg) < 90.0 - 1e-6:
        assert other.reversed.item() is not here.reversed.item()
    assert half_turns(other.rotation_deg, here.rotation_deg) == pytest.approx(0.0, abs=1e-9)
    assert (other.along.item(), other.across.item()) == pytest.approx((here.along.item(), here.across.item()))
    assert np.abs(other.spacing_error) == pytest.approx(np.abs(here.spacing_error), abs=1e-9)


def test_many_rows_are_answered_as_one_by_one() -> None:
    draw = np.random.default_rng(7)
    size = 300
    azimuth, count = draw.uniform(0.0, 360.0, size), draw.integers(2, 4, size)
    a_left, spacing = draw.random(size) < 0.5, draw.uniform(10.0, 20.0, size)
    centre = draw.uniform(0.0, 1e5, (size, 2))
    poles = centre[:, np.newaxis, :] + draw.normal(0.0, 10.0, (size, 3, 2))
    together = as_set(
        centre[:, 0],
        centre[:, 1],
        structure_azimuth_deg=azimuth,
        spacing_grid=spacing,
        pole_count=count,
        a_left=a_left,
        set_poles=poles,
        combined_factor=0.9992,
    )
    for i in range(size):
        alone = one(
            poles[i],
            azimuth=azimuth[i],
            centre=(centre[i, 0], centre[i, 1]),
            spacing=spacing[i],
            count=int(count[i]),
            a_left=bool(a_left[i]),
            factor=0.9992,
        )
        for name in AsSet.__dataclass_fields__:
            assert np.array_equal(getattr(together, name)[i : i + 1], getattr(alone, name), equal_nan=True)
