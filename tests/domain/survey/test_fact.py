"""Recorded facts become second evidence or readings, and only whole ones are facts."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.fact import RecordedFact, facts_by_structure, unneeded
from linemap.domain.survey.plumb import ArmLevel, Lean, judged_reading
from linemap.domain.survey.verdict import Verdict
from linemap.units import LengthUnit

DAY = dt.date(2026, 5, 7)
BRAND = RecordedFact(
    structure="6/4",
    what="brand",
    pole="B",
    pointed_by="place",
    length_ft=75.0,
    who="Otter",
    on=DAY,
    note="photo 12",
)
PLUMB = RecordedFact(
    structure="6/4",
    what="plumb",
    pole="A",
    lower_height=0.0,
    lower_along=0.0,
    lower_across=0.0,
    upper_height=60.0,
    upper_along=0.9,
    upper_across=0.0,
    pole_height=60.0,
    who="Otter",
    on=DAY,
)
ARM = RecordedFact(
    structure="6/4",
    what="arm level",
    left_height=54.0,
    right_height=54.5,
    arm_length=25.0,
    who="Otter",
    on=DAY,
)


def judged(fact: RecordedFact, unit: LengthUnit = LengthUnit.FOOT) -> Lean | ArmLevel | None:
    return judged_reading(fact, unit, Tolerances.default(unit))


def test_readings_are_judged_in_the_unit_of_the_line() -> None:
    leaning = judged(PLUMB)
    assert isinstance(leaning, Lean)
    # 0.9 ft in 60 ft = 1.8 in per 10 ft, beyond 1 in per 10 ft by far more than the 1/4 in of a reading
    assert (round(leaning.size * 120.0, 3), leaning.verdict) == (1.8, Verdict.FAIL)
    level, metric = judged(ARM), judged(ARM, LengthUnit.METRE)
    assert isinstance(level, ArmLevel)
    assert isinstance(metric, ArmLevel)
    assert (round(level.inches, 3), round(level.sigma_in, 4)) == (6.0, 0.3536)
    assert metric.inches == pytest.approx(0.5 / 0.0254)
    assert metric.sigma_in == pytest.approx(level.sigma_in)
    assert judged(BRAND) is None


@pytest.mark.parametrize(
    ("fact", "gone", "words"),
    [
        (BRAND, {"length_ft": None}, "length ft or pole class"),
        (BRAND, {"pole": ""}, "needs pole"),
        (BRAND, {"pointed_by": ""}, "pointed by"),
        (BRAND, {"what": "tag"}, "looking"),
        (PLUMB, {"upper_across": None}, "upper across"),
        (ARM, {"arm_length": None}, "arm length"),
    ],
)
def test_a_fact_without_what_it_needs_is_none(
    fact: RecordedFact, gone: dict[str, str | None], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        replace(fact, **gone)  # type: ignore[arg-type]


def test_a_class_alone_is_a_brand_and_a_zero_is_a_number() -> None:
    assert replace(BRAND, length_ft=None, pole_class="2").pole_class == "2"
    assert judged(replace(PLUMB, upper_along=0.0)) is not None
    assert "face" not in unneeded("arm face")
    assert "pole" in unneeded("arm face")


def test_the_row_of_the_file_does_not_make_another_fact() -> None:
    assert replace(BRAND, source_row=7) == BRAND
    assert len({replace(BRAND, source_row=7), BRAND}) == 1


def test_facts_are_gathered_up_to_the_day_shown() -> None:
    later, named = replace(BRAND, on=DAY + dt.timedelta(days=1)), replace(ARM, line="North")
    gathered = facts_by_structure([BRAND, later, named], only_line="North", until=DAY)
    assert gathered == {("North", "6/4"): [BRAND, named]}
