"""A tape check as a record: read, refused, and judged by the job's own rule."""

from __future__ import annotations

from typing import Any

import pytest
from taped_frames import RADIUS, frame_design, stakes_around, usual_sets

from linemap.domain.crew_check.frame import CheckVerdict
from linemap.domain.crew_check.tape_record import TapeRecord

DESIGN = frame_design()
SETS = usual_sets(DESIGN, stakes_around(DESIGN))


def content(**changes: Any) -> dict[str, Any]:
    assert SETS.quick is not None
    read = SETS.quick.expected([RADIUS] * 2).round(2).tolist()
    made = {
        "method": "tape",
        "unit": "ft",
        "spacing": 12.5,
        "poles": "AB",
        "radii": [RADIUS, RADIUS],
        "girths": [False, False],
        "stakes": {stake.name: [stake.right, stake.ahead] for stake in stakes_around(DESIGN)},
        "readings": [
            [*reading, value, "near"] for reading, value in zip(SETS.quick.readings, read, strict=True)
        ],
        "set": "quick",
        "verdict": "pass",
        "quantities": {},
    }
    return {**made, **changes}


def test_a_record_is_judged_as_the_same_readings_are() -> None:
    answer, tape_set = TapeRecord.read(content()).judge(DESIGN)
    assert SETS.quick is not None
    assert answer.verdict is CheckVerdict.PASS
    assert tape_set.readings == SETS.quick.readings
    assert tape_set.sigmas.tolist() == pytest.approx(SETS.quick.sigmas.tolist(), rel=1e-12)


def test_a_reading_held_on_a_slope_counts_by_its_level_distance() -> None:
    readings = content()["readings"]
    start, end, value, face = readings[0]
    steep = [start, end, (value**2 + 4.0) ** 0.5, face, 2.0]
    level, _ = TapeRecord.read(content()).judge(DESIGN)
    sloped, _ = TapeRecord.read(content(readings=[steep, *readings[1:]])).judge(DESIGN)
    assert sloped.quantities["along"][0] == pytest.approx(level.quantities["along"][0], abs=1e-9)


def test_a_distance_taped_twice_is_one_reading() -> None:
    readings = content()["readings"]
    answer, tape_set = TapeRecord.read(content(readings=[*readings, readings[0]])).judge(DESIGN)
    assert len(tape_set.readings) == 4
    assert answer.verdict is CheckVerdict.PASS


def test_a_record_of_other_poles_is_not_judged_against_a_design() -> None:
    with pytest.raises(ValueError, match="AB in ft were checked, ABC in ft belong"):
        TapeRecord.read(content()).judge(frame_design("ABC"))


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"poles": "BC"}, "names its poles"),
        ({"unit": "yd"}, "names its poles"),
        ({"stakes": None}, "places its stakes"),
        ({"stakes": {"A OS25AH": [1.0]}}, "stake A OS25AH is placed by"),
        ({"stakes": {"A OS25AH": [1.0, "far"]}}, "no number"),
        ({"readings": []}, "has readings"),
        ({"readings": "AB"}, "is no reading"),
        ({"readings": [["A", "B"]]}, "is no reading"),
        ({"readings": [["A", "A", 3.0]]}, "names no stake and pole"),
        ({"readings": [["", "B", 3.0]]}, "names no stake and pole"),
        ({"readings": [["C OS25AH", "B", 3.0]]}, "names no stake and pole"),
        ({"readings": [["A", "C", 3.0]]}, "names no stake and pole"),
        ({"readings": [["A", "B", -1.0]]}, "no distance of a tape"),
        ({"readings": [["A", "B", float("nan")]]}, "no number"),
        ({"readings": [["A", "B", True]]}, "no number"),
        ({"readings": [["A", "B", 11.0, "near", 12.0]]}, "no distance of a tape"),
        ({"readings": [["A", "B", 11.2]] * 61}, "60 at most"),
        ({"radii": [0.6]}, "one for each of 2"),
        ({"radii": None}, "one for each of 2"),
        ({"radii": [0.0, 0.6]}, "radius 0.0 is no number between 0.02 and 3"),
        ({"spacing": None}, "no number"),
    ],
)
def test_what_is_no_tape_check_is_refused_with_the_reason(changes: dict[str, Any], reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        TapeRecord.read(content(**changes))
