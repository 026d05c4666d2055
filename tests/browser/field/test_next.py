"""Where to next and where one is, from what is on the phone alone."""

from __future__ import annotations

from typing import Any

import pytest

pytestmark = pytest.mark.browser

COMPUTED = """async ([number, crew]) => {
  const { computed } = await import('/static/js/field/next_here.js');
  const { headsNumbered } = await import('/static/js/field/pack.js');
  return computed(headsNumbered(number)[0], crew);
}"""
ON_LINE = """async ([from, to, share, right, accuracy_m]) => {
  const { onLine } = await import('/static/js/field/where.js');
  const { headsNumbered } = await import('/static/js/field/pack.js');
  const [[a], [b]] = [headsNumbered(from), headsNumbered(to)];
  const east = Math.cos(a.latitude * Math.PI / 180);
  const [x, y] = [(b.longitude - a.longitude) * east, b.latitude - a.latitude];
  const turn = right / 111320 / Math.hypot(x, y);
  return onLine({
    longitude: a.longitude + (share * x + turn * y) / east,
    latitude: a.latitude + share * y - turn * x,
    accuracy_m,
  });
}"""


def numbers(rows: list[dict[str, Any]]) -> list[str]:
    return [row["number"] for row in rows]


def test_nearest_comes_first_and_every_refusal_has_its_reason(reader: Any) -> None:
    """13/4 framed on 15 May: 13/5, 13/6, then 14/1 with its condition; 13/2 lacks poles, 14/2 is held."""
    listed = reader.page.evaluate(COMPUTED, ["13/4", "Heron"])
    assert numbers(listed["workable"])[:3] == ["13/5", "13/6", "14/1"]
    (condition,) = listed["workable"][2]["conditions"]
    assert "only with monitor on site" in condition
    why = {row["number"]: row["reason"] for row in listed["refused"]}
    assert why["13/2"].startswith("two H1-75 poles missing, due 12 June 2026")
    assert "until 15 August 2026" in why["14/2"]
    assert why["15/2"].startswith(
        "hub is from before the move of 8.00 ft: restake (spotted recorded 6 May 2026"
    )
    assert why["17/2"] == "spotted is not on record"
    assert not set(why) & set(numbers(listed["workable"]))


def test_what_lies_beyond_the_river_comes_last_with_the_way_round(reader: Any) -> None:
    listed = reader.page.evaluate(COMPUTED, ["11/3", "Heron"])
    first = listed["workable"][0]
    assert first["travel_text"].startswith("beyond the river between 11/6 and 12/1: no crossing")
    assert "9.6 mi by Lantern Bridge Road" in first["travel_text"]
    beside = reader.page.evaluate(COMPUTED, ["12/1", "Heron"])
    assert beside["workable"][0]["travel_text"] == ""


@pytest.mark.parametrize(
    ("share", "right_m", "accuracy_m", "words"),
    [
        pytest.param(0.0, 0.0, 5.0, "at or near 9/1, ± 17 ft", id="at a structure"),
        pytest.param(0.5, 0.0, 5.0, "between 9/1 and 9/2, 429+40, on line, ± 17 ft", id="between two"),
        pytest.param(0.5, 30.0, 5.0, "between 9/1 and 9/2, 429+40, 100 ft right, ± 17 ft", id="right"),
        pytest.param(0.5, -30.0, 5.0, "between 9/1 and 9/2, 429+40, 100 ft left, ± 17 ft", id="left"),
        pytest.param(0.5, 0.0, 40.0, "between 9/1 and 9/2, 429+00, on line, ± 132 ft", id="poor fix"),
    ],
)
def test_where_one_is_told_no_finer_than_the_fix(
    reader: Any, share: float, right_m: float, accuracy_m: float, words: str
) -> None:
    assert reader.page.evaluate(ON_LINE, ["9/1", "9/2", share, right_m, accuracy_m]) == words
