"""Level arms: the three worked cases, and what must hold for any pair of poles."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.design.lengths import format_feet_inches
from linemap.domain.survey.arm import PoleTop, level_arm

grounds = st.floats(800.0, 812.0)
lengths = st.sampled_from([70.0, 75.0, 80.0, 85.0])


def pair(
    grounds: tuple[float, float],
    lengths: tuple[float, float],
    *,
    depths: tuple[float, float] | None = None,
    rake: float = 0.0,
) -> tuple[PoleTop, ...]:
    deep = depths or tuple(0.1 * length + 2.0 for length in lengths)
    return tuple(
        PoleTop(letter=letter, ground=ground, length=length, depth=depth, rake_deg=rake)
        for letter, ground, length, depth in zip("AB", grounds, lengths, deep, strict=True)
    )


def test_level_ground() -> None:
    tops = pair((812.40, 812.40), (75.0, 75.0))
    assert [top.elevation for top in tops] == pytest.approx([877.90, 877.90])
    arm = level_arm(tops, design_elevation=None, minimum_drop=1.0)
    assert arm.elevation == pytest.approx(876.90)
    assert arm.drops == pytest.approx({"A": 1.0, "B": 1.0})
    assert arm.elevation - 812.40 == pytest.approx(64.5)
    assert arm.shortfall == 0.0


def test_a_cross_slope_that_the_lower_pole_cannot_make_up() -> None:
    tops = pair((812.40, 808.10), (75.0, 75.0))
    assert [top.elevation for top in tops] == pytest.approx([877.90, 873.60])
    arm = level_arm(tops, design_elevation=876.50, minimum_drop=1.0)
    assert (arm.elevation, arm.shortfall) == pytest.approx((872.60, 3.90))
    assert arm.limited_by == "B"
    assert [format_feet_inches(arm.drops[letter]) for letter in "AB"] == ["5'-3 5/8\"", "1'-0\""]


def test_the_same_slope_with_a_longer_pole() -> None:
    arm = level_arm(pair((812.40, 808.10), (75.0, 80.0)), design_elevation=876.50, minimum_drop=1.0)
    assert (arm.elevation, arm.shortfall) == (876.50, 0.0)
    assert [format_feet_inches(arm.drops[letter]) for letter in "AB"] == ["1'-4 13/16\"", "1'-7 3/16\""]


def test_raked_poles() -> None:
    tops = pair((1041.25, 1042.05), (85.0, 85.0), depths=(10.5, 11.5), rake=3.0)
    assert [top.elevation for top in tops] == pytest.approx([1115.648, 1115.449], abs=5e-4)
    arm = level_arm(tops, design_elevation=1115.0, minimum_drop=1.0)
    assert arm.elevation == pytest.approx(1114.451, abs=6e-4)
    assert arm.shortfall == pytest.approx(0.549, abs=6e-4)
    assert [format_feet_inches(arm.drops[letter]) for letter in "AB"] == ["1'-2 3/8\"", "1'-0\""]


@given(grounds, lengths, grounds, lengths, st.floats(-4.0, 4.0), st.none() | st.floats(850.0, 890.0))
def test_the_arm_is_level_and_no_drop_too_small(
    g1: float, l1: float, g2: float, l2: float, rake: float, design: float | None
) -> None:
    tops = pair((g1, g2), (l1, l2), rake=rake)
    arm = level_arm(tops, design_elevation=design, minimum_drop=1.0)
    for top in tops:
        bolt = top.elevation - arm.drops[top.letter] * math.cos(math.radians(rake))
        assert bolt == pytest.approx(arm.elevation, abs=1e-9)
        assert arm.drops[top.letter] >= 1.0 - 1e-9
    if design is not None:
        assert arm.elevation + arm.shortfall == pytest.approx(design)
        assert arm.shortfall >= 0.0


@given(grounds, lengths, grounds, lengths)
def test_exchanging_the_poles_exchanges_the_drops(g1: float, l1: float, g2: float, l2: float) -> None:
    there = level_arm(pair((g1, g2), (l1, l2)), design_elevation=None, minimum_drop=1.0)
    back = level_arm(pair((g2, g1), (l2, l1)), design_elevation=None, minimum_drop=1.0)
    assert there.elevation == back.elevation
    assert there.drops["A"] == back.drops["B"]


def test_poles_deeper_than_long_and_arms_without_poles() -> None:
    with pytest.raises(ValueError, match=r"pole A of 70 cannot stand 70\.00 deep"):
        PoleTop(letter="A", ground=0.0, length=70.0, depth=70.0)
    with pytest.raises(ValueError, match="at least one pole"):
        level_arm((), design_elevation=None, minimum_drop=1.0)
