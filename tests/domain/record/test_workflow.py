"""Workflows: graphs that hold together, the order they give, and the words crews use for their steps."""

from __future__ import annotations

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.record.step_words import match_step
from linemap.domain.record.workflow import FRAMED_ALOFT, FRAMED_ON_GROUND, Step, Workflow

BOTH = pytest.mark.parametrize("workflow", [FRAMED_ON_GROUND, FRAMED_ALOFT])


def step(code: str, *requires: str, weight: float = 1.0) -> Step:
    return Step(code=code, words=code, requires=requires, weight=weight)


@st.composite
def workflows(draw: st.DrawFn) -> Workflow:
    size = draw(st.integers(min_value=1, max_value=8))
    steps = []
    for number in range(size):
        earlier = draw(st.sets(st.integers(min_value=0, max_value=number - 1))) if number else set()
        steps.append(step(f"s{number}", *(f"s{other}" for other in sorted(earlier))))
    return Workflow(steps=tuple(draw(st.permutations(steps))))


def test_the_same_record_opens_other_steps_in_the_other_workflow() -> None:
    done = {"staked", "spotted", "dug"}
    assert FRAMED_ON_GROUND.open_steps(done) == ("framed",)
    assert FRAMED_ALOFT.open_steps(done) == ("set",)


def test_nothing_done_opens_staking_only() -> None:
    assert FRAMED_ON_GROUND.open_steps(()) == ("staked",)


@BOTH
def test_standard_workflows_weigh_a_structure_at_a_hundred(workflow: Workflow) -> None:
    assert sum(one.weight for one in workflow.steps) == pytest.approx(100.0)
    assert len(workflow.steps) == 10


@BOTH
def test_poles_are_recorded_one_by_one_where_one_can_be_missing(workflow: Workflow) -> None:
    assert {one.code for one in workflow.steps if one.per == "pole"} == {"spotted", "dug", "set", "surveyed"}


def test_the_stage_is_the_furthest_step_of_the_chain_whatever_lies_unrecorded_behind_it() -> None:
    assert FRAMED_ON_GROUND.stage({"staked", "set"}) == "set"
    assert FRAMED_ON_GROUND.stage({"grounded", "blocks hung"}) == ""
    assert FRAMED_ALOFT.stage({"set", "framed"}) == "framed"


def test_missing_requirements_are_named() -> None:
    assert FRAMED_ON_GROUND.missing({"dug"}, "set") == ("framed",)
    assert FRAMED_ON_GROUND.missing(set(), "no such step") == ()
    assert FRAMED_ON_GROUND.words("set") == "set"
    assert FRAMED_ON_GROUND.words("no such step") == "no such step"


@pytest.mark.parametrize(
    ("steps", "chain", "said"),
    [
        ([step("a", "b"), step("b", "a")], (), "a, b run in a circle"),
        ([step("a", "a")], (), "a run in a circle"),
        ([step("a", "b")], (), "requires 'b', which is no step"),
        ([step("a"), step("a")], (), "two steps have the code 'a'"),
        ([step(" ")], (), "blank code"),
        ([step("a", weight=-1.0)], (), "weight -1.0"),
        ([step("a", weight=float("nan"))], (), "weight nan"),
        ([step("a", weight=float("inf"))], (), "weight inf"),
        ([step("a")], ("a", "b"), "chain names 'b'"),
        ([step("a")], ("a", "a"), "chain names 'a'"),
        ([step("a"), step("b", "a")], ("b", "a"), r"puts 'b' before \['a'\]"),
    ],
)
def test_a_graph_that_does_not_hold_together_is_refused(
    steps: list[Step], chain: tuple[str, ...], said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        Workflow(steps=tuple(steps), chain=chain)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("framed", "framed"),
        ("Built", "framed"),
        ("made up", "framed"),
        ("MADE-UP", "framed"),
        ("framing", "framed"),
        ("set", "set"),
        ("Stood", "set"),
        ("hung", "set"),
        ("blocks hung", "blocks hung"),
        ("hung  blocks", "blocks hung"),
        ("anchors & guys", "guyed"),
        ("dig", "dug"),
        ("as-set surveyed", "surveyed"),
        ("unframed", None),
        ("lunch", None),
        ("", None),
    ],
)
def test_words_of_daily_reports(text: str, code: str | None) -> None:
    assert match_step(text) == code


@BOTH
def test_every_standard_step_is_found_by_its_own_code(workflow: Workflow) -> None:
    assert [match_step(one.code.upper()) for one in workflow.steps] == [one.code for one in workflow.steps]


@given(workflow=workflows())
@settings(max_examples=examples(60))
def test_every_step_follows_what_it_requires(workflow: Workflow) -> None:
    order = workflow.order()
    assert set(order) == set(workflow.steps)
    assert len(order) == len(workflow.steps)
    for position, one in enumerate(order):
        assert {other.code for other in order[:position]} >= set(one.requires)


@given(workflow=workflows(), data=st.data())
@settings(max_examples=examples(60))
def test_doing_any_open_step_again_and_again_finishes_the_work(
    workflow: Workflow, data: st.DataObject
) -> None:
    done: set[str] = set()
    while opened := workflow.open_steps(done):
        assert not done.intersection(opened)
        done.add(data.draw(st.sampled_from(opened)))
    assert done == {one.code for one in workflow.steps}
