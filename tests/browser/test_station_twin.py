"""The page's own station reader and writer against the cases that Python's are tested with."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from linemap.geometry.station import format_station, parse_station

pytestmark = pytest.mark.browser

with (
    Path(__file__).parents[1].joinpath("reference", "stations.csv").open(encoding="utf-8", newline="") as file
):
    CASES = list(csv.DictReader(file))

IN_PAGE = """async ([texts]) => { const { parseStation } = await import('/static/js/map/station.js');
  return texts.map(([text, perPlus]) => { try { return parseStation(text, {perPlus}); } catch (e) {
    return {value: null, side: null, region: null, message: e.message}; } }); }"""


def test_both_read_the_same(watch: Callable[..., Any], line_url: str) -> None:
    page = watch().open(line_url)
    texts = [[case["text"], int(case["per_plus"]) if case["per_plus"] else None] for case in CASES]
    answers = page.evaluate(IN_PAGE, [texts])
    assert len(answers) == len(CASES) > 8
    for case, (text, per_plus), answer in zip(CASES, texts, answers, strict=True):
        if not case["value"]:
            assert answer["value"] is None, case
            with pytest.raises(ValueError, match=r"station|digits|region"):
                parse_station(str(text), per_plus=per_plus if isinstance(per_plus, int) else None)
            continue
        assert answer["value"] == pytest.approx(float(case["value"]), abs=1e-9), case
        parsed = parse_station(str(text), per_plus=per_plus if isinstance(per_plus, int) else None)
        assert (parsed.value, parsed.side, parsed.region) == (
            answer["value"],
            answer["side"],
            answer["region"],
        )


def test_both_write_the_same(watch: Callable[..., Any], line_url: str) -> None:
    page = watch().open(line_url)
    values = [0.0, 11840.0, 199.996, 199.994, 95352.5, -12.3, -0.001, 0.125, 0.375, 99.995, 1_234_567.891]
    forms = [(100, 2), (1000, 3), (1000, 1), (100, 0)]
    written = page.evaluate(
        """async ([values, forms]) => { const { formatStation } = await import('/static/js/map/station.js');
        return forms.map(([perPlus, decimals]) =>
          values.map(v => formatStation(v, {perPlus, decimals}))); }""",
        [values, forms],
    )
    for (per_plus, decimals), texts in zip(forms, written, strict=True):
        assert texts == [format_station(value, per_plus=per_plus, decimals=decimals) for value in values]
