"""The order of the work as a job declares it: its named order, its weights, and steps of guys and spans.

A step of a guy is recorded for each guy of the schedule by its name; a step of a span (wire: strung, sagged,
clipped) for the span ahead of a structure, named by the structures at both ends. A job that declares none
has the named order as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import Any, get_args

from linemap.domain.design.guy import Guy
from linemap.domain.record.workflow import (
    FRAMED_ON_GROUND,
    NO_SOURCE,
    WORKFLOWS,
    PartPer,
    Step,
    Workflow,
    with_roles,
    with_weights,
)

#: What a step may be of, beside structures and poles.
PARTS: tuple[PartPer, ...] = get_args(PartPer)
_BETWEEN = re.compile(r"\s+to\s+|\s*(?:–|—|->|→|\.\.)\s*|\s+-\s+", re.IGNORECASE)


def workflow_of(settings: Mapping[str, Any]) -> Workflow:
    """Return the order of the work a job's settings name, with its steps of parts and the weights of steps.

    >>> workflow_of({}) is FRAMED_ON_GROUND
    True
    >>> workflow_of({"part_step": {"strung": {"per": "span", "requires": ["set"]}}}).step("strung").per
    'span'
    """
    named = WORKFLOWS.get(str(settings.get("workflow") or ""), FRAMED_ON_GROUND)
    named = with_part_steps(named, settings.get("part_step") or {})
    named = with_weights(named, settings.get("step_weight") or {})
    return with_roles(named, settings.get("step_roles") or {})


def with_part_steps(workflow: Workflow, declared: Mapping[str, Mapping[str, Any]]) -> Workflow:
    """Return a workflow with the steps of guys and spans a job declares.

    `declared` is step -> "per" and "requires". A step the workflow has already becomes one of its parts, and
    keeps what it requires where nothing is said of that; a new one follows all others. What is required and
    is no step any more is passed over.

    Raises
    ------
    ValueError
        As `Workflow`: a circle, or a chain that puts a step before what it requires.
    """
    if not declared:
        return workflow
    codes = {step.code for step in workflow.steps} | {*declared}
    steps = [_redone(step, declared.get(step.code), codes) for step in workflow.steps]
    new = [code for code in declared if workflow.step(code) is None]
    steps += [_redone(Step(code=code, words=code), declared[code], codes) for code in new]
    return replace(workflow, steps=tuple(steps))


def _redone(step: Step, said: Mapping[str, Any] | None, codes: Collection[str]) -> Step:
    if said is None:
        return step
    requires = tuple(code for code in said.get("requires") or () if code in codes)
    source = str(said.get("source") or NO_SOURCE)
    return replace(step, per=said["per"], requires=requires or step.requires, weight_source=source)


def part_steps(workflow: Workflow) -> dict[str, PartPer]:
    """Return what the steps of guys and spans are of, by code."""
    return {step.code: step.per for step in workflow.steps if step.per == "guy" or step.per == "span"}


def guys_by_structure(guys: Iterable[Guy], *, only_line: str = "") -> dict[tuple[str, str], tuple[str, ...]]:
    """Return the names of the guys of each structure by (line, number), in the order of the schedule."""
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for guy in guys:
        key = (guy.line or only_line, guy.structure)
        found[key] = (*found.get(key, ()), guy.id)
    return found


def span_name(back: str, ahead: str) -> str:
    """Name the span between two neighbours; "" where there is none ahead.

    >>> span_name("9/2", "9/3"), span_name("23/4", "")
    ('9/2 to 9/3', '')
    """
    return f"{back} to {ahead}" if back and ahead else ""


def span_ends(text: str) -> tuple[str, str] | None:
    """Read the ends of a span as people write it; None = not two.

    >>> span_ends("9/2 to 9/3"), span_ends("9/2 - 9/3"), span_ends("9/2-9/3"), span_ends("9/2")
    (('9/2', '9/3'), ('9/2', '9/3'), ('9/2', '9/3'), None)
    """
    ends = [part.strip() for part in _BETWEEN.split(text.strip())]
    if len(ends) == 1 and text.count("-") == 1:
        ends = [part.strip() for part in text.split("-")]
    return (ends[0], ends[1]) if len(ends) == 2 and all(ends) else None
