"""Faults of whole files and lines are one thing: tags, labels, the line; a second fault beside them shows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace

import faulty_lines as make
import numpy as np
import pytest

from linemap.domain.causes.cause import Cause, Decision, Suspicion, corrected_shots
from linemap.domain.causes.causes import find_causes
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.causes.signature_reference import with_point_named
from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Verdict
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

FEET = Tolerances.default(LengthUnit.FOOT)
MONTANA = Projection.from_text("EPSG:6515")


def lines(count: int = 1, seed: int = 4) -> tuple[list[make.Made], Figures]:
    """Return lines of 18 structures in three files each, all set and shot as designed, and their figures."""
    rng = np.random.default_rng(seed)
    made = [make.make_line(rng, index) for index in range(count)]
    for each in made:
        for scatter in (each.along, each.across, each.turn, each.gap):
            scatter[:] = 0.0
    computed = figures([make.line_of(each) for each in made], make.structures_of(made), projection=MONTANA)
    return made, computed


def find(computed: Figures, shots: Sequence[Shot]) -> tuple[Cause, ...]:
    poles = cluster_poles(shots, computed, default_sigma=FEET.shot_sigma)
    return find_causes(computed, poles, check(computed, poles, FEET), shots, events=(), tolerances=FEET)


def verdicts(computed: Figures, shots: Sequence[Shot]) -> set[str]:
    return set(check(computed, cluster_poles(shots, computed, default_sigma=FEET.shot_sigma), FEET).verdict)


def accepted(shots: Sequence[Shot], causes: Sequence[Cause]) -> tuple[Shot, ...]:
    at = dt.datetime(2026, 5, 15, 12, 0, tzinfo=dt.UTC)
    decisions = [
        Decision(
            id=f"d{i}", cause=cause.code, subject=cause.subject, line=cause.line, answer="accepted",
            who="R. Calder", at=at + dt.timedelta(minutes=i), correction=cause.correction or {},
        )
        for i, cause in enumerate(causes)
    ]  # fmt: skip
    return corrected_shots(shots, decisions)[0]


def renumbered(made: make.Made, file: int, step: int) -> list[int]:
    """Label the shots of one file as if they were of other structures, and say which rows they are of."""
    rows = [i for i in range(file * make.PER_FILE, (file + 1) * make.PER_FILE) if 0 <= i + step < make.SIZE]
    label = {made.number[i]: made.number[i + step] for i in rows}
    name = f"{made.name}-{file}.csv"
    made.shots = [
        replace(shot, structure=label.get(shot.structure, shot.structure)) if shot.file == name else shot
        for shot in made.shots
    ]
    return rows


def test_a_whole_line_tagged_the_other_way_round_is_one_cause() -> None:
    (made,), computed = lines()
    made.swapped[:] = True
    make.shoot(made)
    (cause,) = find(computed, made.shots)
    assert (cause.code, cause.subject) == ("tagged the other way round", "line L0")
    assert "this line is tagged the other way round" in cause.words
    assert len(cause.structures) == make.SIZE
    assert cause.would_change == "18 structures cannot tell -> pass, if it is the labels"
    assert "(declared: left)" in cause.asks_for
    assert verdicts(computed, accepted(made.shots, [cause])) == {Verdict.PASS}


def test_two_days_in_a_row_tagged_the_other_way_round_are_one_cause_a_file() -> None:
    (made,), computed = lines()
    made.swapped[: 2 * make.PER_FILE] = True
    make.shoot(made)
    causes = find(computed, made.shots)
    assert [(cause.code, cause.subject, len(cause.structures)) for cause in causes] == [
        ("tagged the other way round", "file L0-0.csv", 6),
        ("tagged the other way round", "file L0-1.csv", 6),
    ]
    assert verdicts(computed, accepted(made.shots, causes)) == {Verdict.PASS}


@pytest.mark.parametrize(("step", "code"), [(1, "one"), (-1, "one"), (2, "two"), (-2, "two")])
def test_labels_of_a_day_off_by_a_number_are_one_cause(step: int, code: str) -> None:
    (made,), computed = lines()
    make.shoot(made)
    rows = renumbered(made, 1, step)
    others = [shot for shot in made.shots if shot.file != "L0-1.csv"]
    shots = [shot for shot in made.shots if shot.file == "L0-1.csv"]
    (cause,) = find(computed, shots)
    assert (cause.code, cause.subject) == (f"labels off by {code}", "file L0-1.csv")
    assert cause.correction is not None
    assert cause.correction["numbers"] == {made.number[i + step]: made.number[i] for i in rows}
    assert Verdict.FAIL not in verdicts(computed, accepted(shots, [cause]))
    again = [each for each in find(computed, made.shots) if each.code == cause.code]
    assert [each.subject for each in again] == ["file L0-1.csv"]
    assert find(computed, accepted(made.shots, again)) == ()
    assert find(computed, others) == ()


def test_labels_counted_past_the_end_of_the_list_come_back_with_the_others() -> None:
    (made,), computed = lines()
    make.shoot(made)
    label = dict(zip(made.number, [*made.number[1:], "4/1"], strict=True))
    shots = [replace(shot, structure=label[shot.structure]) for shot in made.shots if shot.file == "L0-2.csv"]
    (cause,) = find(computed, shots)
    assert (cause.code, cause.subject) == ("labels off by one", "file L0-2.csv")
    assert cause.correction is not None
    assert cause.correction["numbers"]["4/1"] == "3/6"
    assert find(computed, accepted(shots, [cause])) == ()


def test_two_lines_that_share_numbers_the_one_the_shots_lie_on_is_proposed() -> None:
    made, computed = lines(2)
    make.shoot(made[1])
    shots = [replace(shot, line="") for shot in made[1].shots]
    causes = find(computed, shots)
    assert [(cause.code, cause.subject) for cause in causes] == [
        ("line of the shots", f"file L1-{file}.csv") for file in range(3)
    ]
    assert all("lie on line L1" in cause.words for cause in causes)
    assert {cause.would_change for cause in causes} == {"6 structures not surveyed -> pass"}
    corrected = accepted(shots, causes)
    assert {shot.line for shot in corrected} == {"L1"}
    assert find(computed, corrected) == ()


def test_shots_labelled_with_another_line_are_one_cause_a_file() -> None:
    made, computed = lines(2)
    make.shoot(made[1])
    shots = [replace(shot, line="L0") for shot in made[1].shots]
    causes = find(computed, shots)
    assert {cause.code for cause in causes} == {"shots of another line"}
    assert len(causes) == 3
    assert find(computed, accepted(shots, causes)) == ()


@pytest.mark.parametrize(
    ("plant", "first", "second"),
    [
        (lambda made: renumbered(made, 1, 1), "labels off by one", "tagged the other way round"),
        (make.foot_of(1), "foot definition", "tagged the other way round"),
    ],
)
def test_a_second_fault_of_the_same_file_is_named_and_not_masked_by_accepting_the_first(
    plant: Callable[[make.Made], list[int]], first: str, second: str
) -> None:
    (made,), computed = lines()
    made.swapped[make.PER_FILE : 2 * make.PER_FILE] = True
    make.shoot(made)
    plant(made)
    causes = {cause.code: cause for cause in find(computed, made.shots)}
    assert {first, second} <= causes.keys()
    assert any("as if file L0-1.csv" in words for words in causes[second].evidence)
    corrected = accepted(made.shots, [causes[first]])
    after = {cause.code: cause for cause in find(computed, corrected)}
    assert second in after
    assert find(computed, accepted(corrected, [after[second]])) == ()


def in_reference(shots: Sequence[Shot], file: str, code: str) -> list[Shot]:
    """Give the coordinates of a file in another reference, through WGS 84 where the datum is another."""
    other = Projection.from_text(code)
    of_file = [shot for shot in shots if shot.file == file]
    east, north = (np.array([getattr(shot, axis) for shot in of_file]) for axis in ("easting", "northing"))
    one_datum = other.name.split(" / ")[0] == MONTANA.name.split(" / ")[0]
    there = (
        other.from_geodetic(*MONTANA.to_geodetic(east, north))
        if one_datum
        else other.from_lonlat(*MONTANA.to_lonlat(east, north))
    )
    moved = iter(zip(*(axis.tolist() for axis in there), strict=True))
    return [
        replace(shot, easting=at[0], northing=at[1]) if shot.file == file and (at := next(moved)) else shot
        for shot in shots
    ]


def test_a_file_in_another_zone_is_named_with_its_code_and_taken_from_there() -> None:
    (made,), computed = lines()
    make.shoot(made)
    shots = in_reference(made.shots, "L0-1.csv", "EPSG:6341")
    (cause,) = find(computed, shots)
    assert (cause.code, cause.subject) == ("wrong zone", "file L0-1.csv")
    assert "NAD83(2011) / UTM zone 12N (EPSG:6341)" in cause.words
    assert cause.correction == {
        "kind": "reproject", "file": "L0-1.csv", "crs": "EPSG:6341", "to": "EPSG:6515"
    }  # fmt: skip
    corrected = accepted(shots, [cause])
    for shot, right in zip(corrected, made.shots, strict=True):
        assert (shot.easting, shot.northing) == pytest.approx((right.easting, right.northing), abs=1e-6)
    assert find(computed, corrected) == ()


@pytest.mark.parametrize("code", ["EPSG:32001", "EPSG:26712"])
def test_nad27_is_named_and_never_moved_by_a_step_too_coarse_for_a_survey(code: str) -> None:
    (made,), computed = lines()
    make.shoot(made)
    (cause,) = find(computed, in_reference(made.shots, "L0-1.csv", code))
    assert (cause.code, cause.correction) == ("wrong datum", None)
    assert f"NAD27 / {'Montana North' if code == 'EPSG:32001' else 'UTM zone 12N'} ({code})" in cause.words
    assert any("the step between the datums is known here within" in words for words in cause.evidence)
    assert any(words.startswith("too coarse for verdicts, so nothing is moved") for words in cause.evidence)


def test_a_fault_of_one_frame_does_not_hide_the_zone_of_its_file() -> None:
    (made,), computed = lines()
    made.across[8] = 25.0
    make.shoot(made)
    causes = find(computed, in_reference(made.shots, "L0-1.csv", "EPSG:6341"))
    assert [(cause.code, cause.subject) for cause in causes] == [
        ("wrong zone", "file L0-1.csv"),
        ("offset stake", "structure 2/3"),
    ]


@pytest.mark.parametrize("point", ["structure", "elsewhere"])
def test_the_point_a_file_is_scaled_about_is_named_where_it_is_known(point: str) -> None:
    (made,), computed = lines()
    make.shoot(made)
    base = made.centre[6] if point == "structure" else made.centre[6] + (30_000.0, -50_000.0)
    shots = [
        replace(
            shot,
            easting=base[0] + (shot.easting - base[0]) / make.FACTOR,
            northing=base[1] + (shot.northing - base[1]) / make.FACTOR,
        )
        for shot in made.shots
    ]
    causes = [cause for cause in find(computed, shots) if cause.code == "grid taken as ground"]
    assert causes
    said = [words for cause in causes for words in cause.evidence if words.startswith("the point")]
    assert len(said) == len(causes)
    assert all(("lies within" in words) == (point == "structure") for words in said)


@pytest.mark.parametrize("power", [1, -1])
def test_a_file_scaled_about_the_origin_of_the_grid_is_one_cause_and_corrected(power: int) -> None:
    (made,), computed = lines()
    make.shoot(made)
    scale = make.FACTOR**power
    shots = [replace(s, easting=s.easting * scale, northing=s.northing * scale) for s in made.shots]
    causes = find(computed, shots)
    assert [cause.code for cause in causes] == ["grid taken as ground"] * 3
    assert all("about the origin of the grid" in cause.words for cause in causes)
    assert find(computed, accepted(shots, causes)) == ()


def test_a_base_typed_in_wrong_is_one_cause_and_nothing_is_moved_so_far_by_a_guess() -> None:
    (made,), computed = lines()
    make.shoot(made)
    shots = [
        replace(shot, northing=shot.northing + 1800.0) if shot.file == "L0-1.csv" else shot
        for shot in made.shots
    ]
    (cause,) = find(computed, shots)
    assert (cause.code, cause.subject, cause.correction) == ("base or datum shifted", "file L0-1.csv", None)
    assert "dN +1,800" in cause.words


def test_control_that_was_shot_may_be_the_point_a_file_is_scaled_about() -> None:
    (made,), computed = lines()
    make.shoot(made)
    base = made.centre[6] + (30_000.0, -50_000.0)
    correction = {"kind": "foot", "file": "L0-0.csv", "factor": make.FACTOR, "about": base.tolist()}
    law = Suspicion(
        code="grid taken as ground", subject="file L0-0.csv", words="", rows=tuple(range(6)), evidence=(),
        cost_rank=2, asks_for="", correction=correction,
    )  # fmt: skip
    poles = cluster_poles(made.shots, computed, default_sigma=FEET.shot_sigma)
    survey = CheckedSurvey.of(computed, poles, check(computed, poles, FEET), made.shots, FEET)
    (named,) = with_point_named(survey, [law], np.array([[base[0] + 20.0, base[1] + 5.0]]))
    assert "of a control point that was shot" in named.evidence[-1]
    (unknown,) = with_point_named(survey, [law], np.zeros((0, 2)))
    assert "a shift is entangled with it" in unknown.evidence[-1]
