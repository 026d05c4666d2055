"""Heights and stations of the list against what was shot and computed: one cause, whatever the number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import faulty_lines as make
import numpy as np
import pytest

from linemap.domain.causes.cause import Cause
from linemap.domain.causes.causes import find_causes
from linemap.domain.causes.correction import Order, apply_corrections
from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

FEET = Tolerances.default(LengthUnit.FOOT)
MONTANA = Projection.from_text("EPSG:6515")


def made_of(change: Callable[[make.Made], object] = lambda made: None) -> tuple[make.Made, Figures]:
    """Return a line of 18 structures, changed before it is shot and computed."""
    made = make.make_line(np.random.default_rng(12), 0)
    change(made)
    make.shoot(made)
    return made, figures([make.line_of(made)], make.structures_of([made]), projection=MONTANA)


def find(computed: Figures, shots: Sequence[Shot]) -> tuple[Cause, ...]:
    poles = cluster_poles(shots, computed, default_sigma=FEET.shot_sigma)
    return find_causes(computed, poles, check(computed, poles, FEET), shots, events=(), tolerances=FEET)


def lifted(shots: Sequence[Shot], change: Callable[[float], float], file: str = "L0-1.csv") -> list[Shot]:
    return [
        replace(shot, elevation=change(shot.elevation or 0.0)) if shot.file == file else shot
        for shot in shots
    ]


@pytest.mark.parametrize(
    ("change", "code", "words"),
    [
        (
            lambda height: height + 37.0,
            "heights in another datum",
            "all 37.0 ft above the ground of the list",
        ),
        (lambda height: height - 3.4, "heights in another datum", "all 3.4 ft below the ground of the list"),
        (lambda height: height * 0.3048, "heights in another unit", "in metres, not feet"),
    ],
)
def test_heights_of_a_file_are_one_cause_and_put_right(
    change: Callable[[float], float], code: str, words: str
) -> None:
    made, computed = made_of()
    shots = lifted(made.shots, change)
    (cause,) = find(computed, shots)
    assert (cause.code, cause.subject, len(cause.structures)) == (code, "heights of file L0-1.csv", 6)
    assert words.split(" ft ")[0].rsplit(" ", 1)[0] in cause.words
    assert words.rsplit(" ft ", 1)[-1] in cause.words
    assert cause.would_change == "no verdict changes"
    assert cause.correction is not None
    corrected, _ = apply_corrections(shots, [Order(cause.correction, "L0", "decision d1")])
    assert find(computed, corrected) == ()


def test_one_height_far_off_is_no_longer_silent() -> None:
    made, computed = made_of()
    shots = [
        replace(shot, elevation=(shot.elevation or 0.0) + 137.0) if shot.structure == "2/2" else shot
        for shot in made.shots
    ]
    (cause,) = find(computed, shots)
    assert (cause.code, cause.structures) == ("height off", ("2/2",))
    assert cause.evidence[0].startswith(("+136.", "+137."))


def test_a_list_whose_heights_stand_one_row_off_is_one_cause() -> None:
    def roll(made: make.Made) -> None:
        made.listed_ground = np.roll(made.listed_ground, 1)

    made, computed = made_of(roll)
    (cause,) = find(computed, made.shots)
    assert (cause.code, cause.subject) == ("heights of the next structure", "heights of line L0")
    assert "one structure ahead" in cause.words


def test_shots_without_heights_and_lists_without_ground_say_nothing() -> None:
    made, computed = made_of()
    assert find(computed, [replace(shot, elevation=None) for shot in made.shots]) == ()
    bare = replace(computed.structures, elevation=np.full(len(computed), np.nan))
    assert find(replace(computed, structures=bare), lifted(made.shots, lambda height: height + 90.0)) == ()


@pytest.mark.parametrize("jump", [384.5, -60.75])
def test_an_equation_the_list_forgot_is_one_cause(jump: float) -> None:
    def forget(made: make.Made) -> None:
        back = float(made.distance[7]) + 200.0
        made.equations, made.equations_left_out = [(back, back + jump)], True

    made, computed = made_of(forget)
    (cause,) = find(computed, made.shots)
    assert (cause.code, cause.subject) == ("equation left out of the list", "stations of line L0")
    assert cause.structures == tuple(made.number[8:])
    assert f"{-jump:+,.1f}" in cause.evidence[0]


def test_an_equation_only_the_list_knows_is_one_cause() -> None:
    made, computed = made_of()
    text = computed.structures.given_station.copy()
    text[8:] = [f"{float(each) + 120.0:.2f}" for each in text[8:]]
    changed = replace(computed, structures=replace(computed.structures, given_station=text))
    (cause,) = find(changed, made.shots)
    assert cause.code == "equation not in the job"
    assert "jumps by +120.0 ft between 2/2 and 2/3" in cause.words


def test_stations_that_differ_by_no_law_stay_findings() -> None:
    made, computed = made_of()
    text = computed.structures.given_station.copy()
    text[3:7] = ["1.00", "2000.00", "9.00", "14.00"]
    changed = replace(computed, structures=replace(computed.structures, given_station=text))
    assert find(changed, made.shots) == ()
