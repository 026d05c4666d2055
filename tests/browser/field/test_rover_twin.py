"""The field page's solution of a check by rover against Python's, over thousands of checks."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pytest
from rover_checks import made_check

pytestmark = pytest.mark.browser

IN_PAGE = """async (cases) => {
  const { judgeRover, lacking } = await import('/static/js/field/rover_solve.js');
  return cases.map(({ design, rule, check }) => {
    const lacks = lacking(design, rule, check.fixes);
    const found = judgeRover(design, rule, check);
    return { lacks, ...found, values: found.quantities, sigmas: found.gates.map(([sigma]) => sigma) };
  });
}"""


def test_both_find_the_same(reader: Any) -> None:
    rng = np.random.default_rng(20_261_130)
    made = [made_check(rng, right=i % 4 == 0) for i in range(2_000)]
    answers = reader.page.evaluate(IN_PAGE, [each.for_page() for each in made])
    told: Counter[str] = Counter()
    for i, (each, answer) in enumerate(zip(made, answers, strict=True)):
        expected = each.judged()
        told[expected.verdict.value] += 1
        assert (answer["lacks"], answer["verdict"], answer["why"], answer["odd"]) == (
            "", expected.verdict.value, expected.why, expected.odd,
        ), i  # fmt: skip
        gates = each.design.gates(expected.sigmas)
        wanted = [(gate.sigma, gate.pass_to, gate.fail_from) for gate in gates]
        np.testing.assert_allclose(answer["gates"], wanted, rtol=0.0, atol=1e-6, err_msg=str(i))
        for name in ("values", "sigmas", "poles", "shift"):
            wanted = getattr(expected, name)
            np.testing.assert_allclose(answer[name], wanted, rtol=0.0, atol=1e-6, err_msg=f"{i} {name}")
    assert all(told[verdict] > 100 for verdict in ("pass", "fail", "cannot tell", "contradict")), told
