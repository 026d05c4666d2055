"""The field page's solution of a check by tape against Python's, over thousands of checks of many shapes."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import orjson
import pytest
from taped_frames import RADIUS, Tapers, exact_readings, frame_design, frames, stakes_around, taped

from linemap.domain.crew_check.answer import judge, misreads, moves, to_repeat
from linemap.domain.crew_check.frame import FrameDesign
from linemap.domain.crew_check.pole_size import TapeErrors, level_distance
from linemap.domain.crew_check.tape import TapeSet
from linemap.domain.crew_check.tape_sets import sets_of
from linemap.service.crew.tape_plan import plan_of

pytestmark = pytest.mark.browser

IN_PAGE = """async ([plans, cases]) => {
  const tape = await import('/static/js/field/tape_solve.js');
  return cases.map(({ plan: at, set: which, taped, radii, girths, quick }) => {
    const plan = plans[at];
    const set = plan.sets[which];
    const answer = tape.judge(plan, set, taped, radii, girths, quick);
    const known = !answer.values.some(Number.isNaN);
    const found = known ? tape.misreadsOf(plan, set, answer.values, radii, girths) : [];
    return { ...answer, sigmas: answer.gates.map(([sigma]) => sigma), repeat: tape.toRepeat(found),
      moves: known ? tape.movesOf(plan, answer.poles, answer.gates) : [],
      slips: found.slice(0, 3).map(({ chiSquare }) => chiSquare), zones: tape.zonesOf(plan, set, girths),
      expected: tape.expectedOf(plan, tape.readingsOf(plan, set), radii) };
  });
}"""
SHAPES: list[tuple[str, float, bool]] = [
    ("AB", 12.5, False),
    ("BA", 10.0, True),
    ("ABC", 15.0, False),
    ("CBA", 12.5, True),
]
CASES = 3_000


def shape(letters: str, spacing: float, *, tight: bool, unit: str) -> FrameDesign:
    design = frame_design(letters, spacing, tight=tight)
    if unit == "ft":
        return design
    limits = (design.limits[0], *(limit * 0.3048 for limit in design.limits[1:]))
    return replace(design, unit="m", spacing=round(spacing * 0.3048, 3), limits=limits)


def sets_by_place(design: FrameDesign, out: float) -> tuple[Any, list[TapeSet]]:
    """The compiled plan of a frame, and its sets as Python has them, in the plan's order."""
    stakes, errors = stakes_around(design, out), TapeErrors.of(design.unit)
    compiled = plan_of(design, stakes)[1]
    assert compiled is not None
    whole = TapeSet(design, stakes, (), errors, (False,) * len(design.letters))
    readings = [tuple(compiled.readings[at] for at in one.readings) for one in compiled.sets]
    assert len(sets_of(design, stakes, errors, whole.girths)) == len(compiled.groups)
    return compiled, [replace(whole, readings=each) for each in readings]


def test_both_find_the_same(reader: Any) -> None:
    rng = np.random.default_rng(20_261_130)
    compiled, sets = zip(
        *(
            sets_by_place(shape(letters, spacing, tight=tight, unit=unit), 25.0 if unit == "ft" else 7.62)
            for unit in ("ft", "m")
            for letters, spacing, tight in SHAPES
        ),
        strict=True,
    )
    cases, expected = [], []
    for at in range(CASES):
        shape_at = at % len(sets)
        which = int(rng.integers(len(sets[shape_at])))
        by_girth, quick = bool(at % 3 == 0), bool(at % 5 == 0)
        tape_set = replace(sets[shape_at][which], girths=(by_girth,) * len(sets[shape_at][which].girths))
        scale = 1.0 if tape_set.design.unit == "ft" else 0.3048
        feet = frame_design(
            tape_set.design.letters, tape_set.design.spacing / scale, tight=tape_set.design.limits[1] < 0.3
        )
        poles = frames(feet, 1, rng) * scale
        radii = [round(RADIUS * scale + 0.01 * index, 4) for index in range(len(tape_set.design.letters))]
        exact = tape_set.predicted(poles, np.array(radii))[0]
        misread = 0.3 if at % 4 == 0 else 0.02
        first, second = (taped(tape_set, exact, rng, Tapers(misread=misread)) for _ in range(2))
        all_taped = [
            [value] if at % 2 else [value, other] for value, other in zip(first[0], second[0], strict=True)
        ]
        cases.append(
            {
                "plan": shape_at,
                "set": which,
                "taped": all_taped,
                "radii": radii,
                "girths": list(tape_set.girths),
                "quick": quick,
            }
        )
        expected.append((tape_set, judge(tape_set, all_taped, radii, quick=quick), radii))
    told: Counter[str] = Counter()
    answers = reader.page.evaluate(IN_PAGE, [orjson.loads(orjson.dumps(list(compiled))), cases])
    for at, ((tape_set, wanted, radii), found) in enumerate(zip(expected, answers, strict=True)):
        told[wanted.verdict.value] += 1
        assert (found["verdict"], found["again"]) == (wanted.verdict.value, wanted.is_to_repeat), at
        np.testing.assert_allclose(found["expected"], tape_set.expected(radii), rtol=0.0, atol=1e-6)
        np.testing.assert_allclose(found["sigmas"], tape_set.sigmas, rtol=0.0, atol=1e-6)
        np.testing.assert_allclose(found["zones"], tape_set.zones, rtol=0.0, atol=2e-6)
        values = [value for value, _ in wanted.quantities.values()]
        if np.isnan(values).any():
            told["waits for a third"] += 1
            assert None in found["values"] or any(value != value for value in found["values"])
            continue
        np.testing.assert_allclose(found["quantities"], values, rtol=0.0, atol=1e-6, err_msg=str(at))
        np.testing.assert_allclose(found["poles"], wanted.poles, rtol=0.0, atol=1e-6)
        assert found["chiSquare"] == pytest.approx(wanted.chi_square, abs=1e-6, rel=1e-6)
        slips = misreads(tape_set, found["values"], radii)
        np.testing.assert_allclose(
            found["slips"], [one.chi_square for one in slips[:3]], rtol=1e-5, atol=1e-5
        )
        best: dict[int, float] = {}
        for one in reversed(slips):
            best.update(dict.fromkeys(one.readings, one.chi_square))
        assert [best[row] for row in found["repeat"]] == pytest.approx(
            [best[row] for row in to_repeat(slips)], abs=1e-5
        )
        said = moves(tape_set.design, wanted.poles, tape_set.gates, tape_set.errors)
        assert [one["letter"] for one in found["moves"]] == [one.letter for one in said], at
        for one, other in zip(found["moves"], said, strict=True):
            assert (one["ahead"], one["right"]) == pytest.approx((other.ahead, other.right), abs=1e-6)
    assert all(
        told[what] > 100 for what in ("pass", "fail", "cannot tell", "contradict", "waits for a third")
    ), told


def test_slopes_are_taken_out_alike(reader: Any) -> None:
    cases = [[25.0, 0.0], [25.0, 2.0], [25.0, -4.0], [7.62, 1.5]]
    levels = reader.page.evaluate(
        "async (cases) => { const { levelDistance } = await import('/static/js/field/tape_solve.js');"
        " return cases.map(([read, rise]) => levelDistance(read, rise)); }",
        cases,
    )
    assert levels == pytest.approx([level_distance(read, rise=rise) for read, rise in cases], abs=1e-12)


def test_exact_readings_of_round_poles_are_the_model() -> None:
    """The simulation's tape reads what the model predicts when nothing is wrong."""
    _, (_, full, *_) = sets_by_place(frame_design(), 25.0)
    exactly = replace(full, errors=replace(full.errors, stake=0.0, table_radius=0.0))
    poles = frames(full.design, 50, np.random.default_rng(4))
    read = exact_readings(exactly, poles, np.random.default_rng(4), Tapers())
    np.testing.assert_allclose(read, full.predicted(poles, np.full(2, RADIUS))[0], atol=0.12)
