"""The frame a crew checks: its quantities and its verdict are the survey's."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew_check.frame import CheckVerdict, FrameDesign, gate_of, verdict, verdicts
from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerance, Tolerances
from linemap.domain.survey.residual import Residual
from linemap.geometry.frame import as_set
from linemap.units import LengthUnit

Build = Callable[..., Figures]
TOLERANCES = Tolerances.default(LengthUnit.FOOT)
OFF = st.floats(-2.0, 2.0)
TWO = FrameDesign(letters="AB", spacing=12.5, unit="ft", limits=(1.0, 1.0, 0.25, 0.20))


@pytest.mark.parametrize("letters", ["AB", "ABC"])
@given(off=st.lists(OFF, min_size=6, max_size=6), spacing=st.floats(8.0, 25.0))
@settings(max_examples=examples(100))
def test_quantities_are_those_of_the_survey(letters: str, off: list[float], spacing: float) -> None:
    design = FrameDesign(letters=letters, spacing=spacing, unit="ft", limits=())
    poles = design.poles + np.reshape(off[: design.poles.size], design.poles.shape)
    grid = np.full((1, 3, 2), np.nan)
    grid[0, : len(poles)] = poles
    seen = as_set(
        [0.0],
        [0.0],
        structure_azimuth_deg=[0.0],
        spacing_grid=[spacing],
        pole_count=[len(letters)],
        a_left=[True],
        set_poles=grid,
    )
    named = dict(zip(design.names, design.quantities(poles).tolist(), strict=True))
    assert named["rotation"] == pytest.approx(seen.rotation_deg.item(), abs=1e-9)
    assert named["along"] == pytest.approx(seen.along.item(), abs=1e-9)
    assert named["across"] == pytest.approx(seen.across.item(), abs=1e-9)
    worst = max((value for name, value in named.items() if "spacing" in name), key=abs)
    assert abs(worst) == pytest.approx(abs(seen.spacing_error.item()), abs=1e-9)
    if letters == "ABC":
        assert named["bow"] == pytest.approx(seen.collinearity.item(), abs=1e-9)


def test_a_structure_gives_its_frame_with_the_tolerances_of_its_place(build: Build) -> None:
    figures = build(turn_deg=8.0, pole_a="right", pole_count=3)
    tangent, angle = (FrameDesign.of(figures, row, TOLERANCES) for row in (1, 2))
    assert tangent is not None
    assert angle is not None
    assert (tangent.letters, tangent.names[3:]) == ("CBA", ("spacing CB", "spacing BA", "bow"))
    assert (tangent.limits, angle.limits[1]) == ((1.0, 1.0, 0.25, 0.20, 0.20, 0.25), 0.25)
    assert tangent.poles.tolist() == [[-12.5, 0.0], [0.0, 0.0], [12.5, 0.0]]
    along, right = figures.in_frame(1, figures.poles[1, [2, 1, 0]])
    np.testing.assert_allclose(tangent.poles, np.stack([right, along], axis=-1), atol=1e-6)


def test_a_structure_without_a_known_spacing_or_direction_has_no_frame_to_check(build: Build) -> None:
    figures = build()
    assert FrameDesign.of(build(spacing=float("nan")), 1, TOLERANCES) is None
    questioned = replace(figures, pi_in_question=np.arange(len(figures)) == 1)
    assert FrameDesign.of(questioned, 1, TOLERANCES) is None
    assert FrameDesign.of(questioned, 2, TOLERANCES) is not None


@given(
    value=st.floats(-3.0, 3.0),
    sigma=st.floats(0.001, 2.0),
    limit=st.floats(0.05, 2.0),
    confidence=st.floats(0.6, 0.99),
)
@settings(max_examples=examples(300))
def test_gates_say_what_the_survey_says_of_the_same_residual(
    value: float, sigma: float, limit: float, confidence: float
) -> None:
    judged = Residual.judge(
        "arm turned",
        np.array([value]),
        np.array([sigma]),
        applies=np.array([True]),
        tolerance=Tolerance(name="any", value=limit, unit="deg", source="test"),
        confidence=confidence,
    )
    gate = gate_of("rotation", limit, sigma, confidence)
    expected = (
        CheckVerdict.FAIL
        if judged.outside[0]
        else CheckVerdict.PASS
        if judged.inside(confidence)[0]
        else CheckVerdict.CANNOT_TELL
    )
    near = min(abs(abs(value) - gate.pass_to), abs(abs(value) - gate.fail_from)) < 1e-12
    assert near or verdict([value], [gate]) is expected
    assert near or (gate.pass_to >= 0.0) == bool(judged.provable[0]) or abs(sigma * 1.96 - limit) < 1e-6


def test_many_frames_are_judged_as_each_by_itself() -> None:
    values = np.random.default_rng(5).normal(0.0, [0.6, 0.6, 0.15, 0.12], (400, 4))
    gates = TWO.gates([0.12, 0.03, 0.03, 0.03])
    words = {CheckVerdict.PASS: 1.0, CheckVerdict.FAIL: -1.0, CheckVerdict.CANNOT_TELL: 0.0}
    each = [words[verdict(row, gates)] for row in values]
    assert verdicts(values, gates).tolist() == each
    assert {1.0, 0.0, -1.0} == set(each)


def test_what_is_not_known_passes_nothing() -> None:
    assert verdict([0.0, np.nan, 0.0, 0.0], TWO.gates([0.1] * 4)) is CheckVerdict.CANNOT_TELL


def test_the_jacobian_says_what_a_small_move_does() -> None:
    for letters in ("AB", "CBA"):
        design = replace(TWO, letters=letters)
        moves = np.random.default_rng(3).normal(0.0, 1e-4, design.poles.shape)
        gained = design.quantities(design.poles + moves) - design.quantities(design.poles)
        np.testing.assert_allclose(design.jacobian @ moves.ravel(), gained, atol=1e-7)
