"""Wind: the published note and the limits entered stand there; nothing reads as a permission."""

from __future__ import annotations

import re

import pytest

from linemap.domain.crew.wind import (
    HIGH_WIND_NOTE,
    PUBLISHED,
    limit_text,
    read_wind_limit,
    wind_limits,
    wind_words,
)
from linemap.errors import InputRefused

KMH = 1.609344


def test_the_note_names_the_winds_of_the_rule_in_both_units() -> None:
    # note to "high wind", 29 CFR 1926.968: 64.4 km/h (40 mph), 48.3 km/h (30 mph) with material handling;
    # compared with a reprint of the rule on a trainer's page, not with the register itself
    assert sorted(limit.mph for limit in PUBLISHED) == [30.0, 40.0]
    for limit in PUBLISHED:
        assert f"{limit.mph:g} mph ({round(limit.mph * KMH, 1)} km/h)" in HIGH_WIND_NOTE
        assert limit_text(limit.mph, metric=True) == f"{round(limit.mph * KMH, 1)} km/h ({limit.mph:g} mph)"


def test_limits_are_said_as_entered_and_nothing_permits() -> None:
    limits = wind_limits({"wind_limit_mph": "35", "equipment_wind_limit_mph": "25"})
    words = wind_words(limits, metric=False)
    assert words[0] == HIGH_WIND_NOTE
    assert words[1] == "The employer's limit: 35 mph"
    assert words[2] == "The limit of the lifting equipment, as the employer entered it: 25 mph"
    assert "The employer's limit: 56.3 km/h (35 mph)" in wind_words(limits, metric=True)
    for said in (*words, *wind_words((), metric=True)):
        assert not re.search(r"\b(safe|allowed|may|below|within|ok|clear)\b", said, re.IGNORECASE), said
    assert "No wind limit of the employer is entered" in wind_words((), metric=False)[1]
    assert wind_limits({"wind_limit_mph": ""}) == ()


@pytest.mark.parametrize(
    ("text", "mph"),
    [
        ("35", 35.0),
        ("35.0", 35.0),
        ("50 km/h", 50.0 / KMH),
        ("15 m/s", 15.0 * 3.6 / KMH),
        ("20 kn", 23.01558),
    ],
)
def test_a_limit_is_read_in_its_unit(text: str, mph: float) -> None:
    assert float(read_wind_limit(text, "--wind-limit-mph")) == pytest.approx(mph, abs=1e-5)


@pytest.mark.parametrize("text", ["", "none", "0", "-3", "201", "400 km/h", "20 furlongs", "20 ft", "nan"])
def test_what_is_no_limit_is_refused(text: str) -> None:
    with pytest.raises(InputRefused, match="is no wind limit"):
        read_wind_limit(text, "--wind-limit-mph")
