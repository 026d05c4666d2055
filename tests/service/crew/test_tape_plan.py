"""Tape checks of a job, compiled: what a card names, what a mile brings, and which stakes they go by."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import orjson
import pytest

from linemap.answers.tape import TapePlan
from linemap.domain.crew_check.frame import FrameDesign
from linemap.domain.staking.stakeout import StakePlan, stakes_of_row
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Verdict
from linemap.service.crew.tape_plan import card_tape, check_plans, plans_of, tape_words
from linemap.service.sheets.sheet_content import card_of
from linemap.service.view.view import JobView


def shot_at(view: JobView, row: int, ends: tuple[str, ...], east: float = 0.0) -> list[Shot]:
    """Shots on the offset stakes of a structure whose descriptions end so, that far off to the east."""
    points = [
        point
        for point in stakes_of_row(view.figures, row, view.stake_plan)
        if point.kind == "offset" and point.description.endswith(ends)
    ]
    return [
        Shot(
            point=str(place),
            easting=point.easting + east,
            northing=point.northing,
            description=point.description.lower(),
            structure=point.structure,
            item="hub",
        )
        for place, point in enumerate(points)
    ]


def with_shots(view: JobView, row: int, shots: list[Shot]) -> JobView:
    key = view.key(row)
    return replace(
        view,
        shots_by_structure={**view.shots_by_structure, key: [*view.shots_by_structure.get(key, ()), *shots]},
    )


def names(view: JobView, row: int) -> list[str]:
    tape = card_tape(view, row)
    plan = plans_of(view, {row: tape})[tape.plan]
    return [stake.name for stake in plan.stakes]


def all_plans(view: JobView) -> dict[str, TapePlan]:
    return plans_of(view, {row: card_tape(view, row) for row in range(len(view.figures))})


def test_structures_of_one_shape_share_a_plan_and_every_card_names_one(demo_view: JobView) -> None:
    rows = range(len(demo_view.figures))
    cards = [card_tape(demo_view, row) for row in rows]
    plans = plans_of(demo_view, dict(zip(rows, cards, strict=True)))
    assert {card.plan for card in cards if not card.why} == set(plans)
    assert 1 < len(plans) < 12
    for row, card in zip(rows, cards, strict=True):
        if card.why:
            assert card.plan == ""
            continue
        design = FrameDesign.of(demo_view.figures, row, demo_view.tolerances)
        assert design is not None
        assert (plans[card.plan].letters, plans[card.plan].limits) == (design.letters, list(design.limits))


def test_a_plan_names_only_what_it_has(demo_view: JobView) -> None:
    for plan in all_plans(demo_view).values():
        known = {stake.name for stake in plan.stakes} | set(plan.letters)
        assert {name for reading in plan.readings for name in reading} <= known
        for group in plan.groups:
            sets = [at for at in (group.quick, group.full) if at >= 0]
            starts = {plan.readings[at][0] for which in sets for at in plan.sets[which].readings}
            assert starts <= {plan.stakes[at].name for at in group.stakes} | set(plan.letters)
            assert plan.sets[group.full].spare > 0
            if group.more >= 0:
                full, more = (plan.sets[at].readings for at in (group.full, group.more))
                assert list(more[: len(full)]) == list(full)
        assert all(set(each.gates) == {"girth", "table"} for each in plan.sets)
        assert len(orjson.dumps(plan)) < 80_000


def test_radii_are_of_the_poles_sizes_and_ground_of_the_poles(demo_view: JobView) -> None:
    row = demo_view.row("", "8/2")
    card = card_tape(demo_view, row)
    assert card.radii == {"A": pytest.approx(0.639), "B": pytest.approx(0.639)}
    assert card.rise["A"] == 0.0


def test_stakes_are_those_declared(demo_view: JobView) -> None:
    row = demo_view.row("", "8/2")
    declared = replace(demo_view, stake_plan=StakePlan(pole_along=(10.0, 30.0), pole_arm=()))
    assert names(declared, row) == ["A OS30BK", "A OS30AH", "B OS30BK", "B OS30AH"]
    nothing = replace(demo_view, stake_plan=StakePlan(pole_along=(), pole_arm=(25.0,)))
    assert card_tape(nothing, row).why == "no stakes outside the holes prove this frame"


def test_where_stakes_were_shot_these_are_the_ones_that_stand(demo_view: JobView) -> None:
    row = demo_view.row("", "8/2")
    seen = with_shots(demo_view, row, shot_at(demo_view, row, ("A OS25BK", "A OS25AH", "B OS25R")))
    assert names(seen, row) == ["A OS25BK", "A OS25AH", "B OS25R"]


def test_a_stake_shot_where_it_does_not_belong_is_not_taped_from(demo_view: JobView) -> None:
    row = demo_view.row("", "8/2")
    astray = shot_at(demo_view, row, ("A OS25BK",), east=0.4)
    others = shot_at(demo_view, row, ("A OS25AH", "B OS25BK", "B OS25R"), east=0.02)
    view = with_shots(demo_view, row, [*astray, *others])
    assert card_tape(view, row).left_out == ["8/2 A OS25BK"]
    assert "A OS25BK" not in names(view, row)


def test_a_structure_of_unknown_spacing_has_no_check_and_says_why(demo_view: JobView) -> None:
    row = demo_view.row("", "8/2")
    structures: Any = demo_view.figures.structures
    spacing = structures.spacing.copy()
    spacing[row] = float("nan")
    figures = replace(demo_view.figures, structures=replace(structures, spacing=spacing))
    view = replace(demo_view, figures=figures)
    tape = card_tape(view, row)
    assert (tape.plan, tape.why) == ("", "the pole spacing is not known")
    assert plans_of(view, {row: tape}) == {}


def test_paper_says_what_to_tape_how_long_and_how_far_off_is_good(demo_view: JobView) -> None:
    row = next(
        row
        for row in range(len(demo_view.figures))
        if demo_view.checks.verdict[row] == Verdict.NOT_SURVEYED and tape_words(demo_view, row)
    )
    words = tape_words(demo_view, row)
    back, ahead = (demo_view.key(row + step)[1] for step in (-1, 1))
    assert words[0].startswith(f"from the stake toward {ahead}, 25 ft from A: to A 24.3")
    assert any(each.startswith(f"from the stake toward {back}, 25 ft from A: to A") for each in words)
    assert re.search(r"to B 27\.\d\d \(good ± 1\.0\d, wrong beyond ± 1\.\d\d\)", words[0])
    assert words[-1].endswith("whatever fails again before a pole is moved.")
    assert "The first 4 may pass it" in words[-1]
    assert dict(card_of(demo_view, row).notes)["Check by tape, before tamping"] == words
    surveyed = demo_view.row("", "8/2")
    assert tape_words(demo_view, surveyed) == ()


def test_the_fingerprint_of_plans_changes_only_with_the_plans(demo_view: JobView) -> None:
    plans = all_plans(demo_view)
    fewer = dict(list(plans.items())[1:])
    assert check_plans(plans).version == check_plans(dict(reversed(plans.items()))).version
    assert check_plans(plans).version != check_plans(fewer).version
