"""The order of the work as a job declares it: its named order, its weights, and steps of guys and spans.

A step of a guy is recorded for each guy of the schedule by its name; a step of a span (wire: strung, sagged,
clipped) for the span ahead of a structure, named by the structures at both ends. A job that declares none
has the named order as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, get_args

from linemap.domain.design.guy import Guy
from linemap.domain.record.workflow import (
    FRAMED_ON_GROUND,
    NO_SOURCE,
    WORKFLOWS,
    PartPer,
    Step,
    Workflow,
    with_weights,
)

#: What a step may be of, beside structures and poles.
PARTS: tuple[PartPer, ...] = get_args(PartPer)
_WIRE_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "strung": ("string", "stringing", "wire pulled", "pulled", "pulling"),
        "sagged": ("sag", "sagging", "sagged in"),
        "clipped": ("clip", "clipping", "clipped in", "clip in", "clipping in"),
        "dead-ended": ("dead end", "deadended", "dead ended", "dead ending"),
    }
)
_ALL_WIRE = frozenset({"wire", "wire work", "wires"})
_GUY_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "anchored": ("anchor", "anchors", "anchor set", "anchors set", "anchoring"),
        "tensioned": ("tension", "tensioning", "pulled up", "guy tensioned"),
    }
)
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
    return with_weights(named, settings.get("step_weight") or {})


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


def match_part_step(text: str, steps: Mapping[str, str]) -> str | None:
    """Return the code of the declared step of guys or spans that a crew's word means; None = none does.

    `steps` is code -> what it is of. A step is meant by its code, and by the words that crews have for it.

    >>> match_part_step("Clipping-in", {"clipped": "span"}), match_part_step("clipped", {})
    ('clipped', None)
    """
    word = _squeezed(text)
    for code in steps:
        others = (*_WIRE_WORDS.get(code, ()), *_GUY_WORDS.get(code, ()))
        if word in {_squeezed(code), *map(_squeezed, others)}:
            return code
    return None


def same_wire_work(held: str, asked: str) -> bool:
    """Say whether two words mean the same work on the wire of a span; "wire" is all of it.

    >>> same_wire_work("stringing", "strung"), same_wire_work("wire", "clipped"), same_wire_work("sag", "set")
    (True, True, False)
    """
    one, other = _wire_step(held), _wire_step(asked)
    return other != "" and (one == other or _squeezed(held) in _ALL_WIRE)


def _wire_step(text: str) -> str:
    word = _squeezed(text)
    known = (code for code, words in _WIRE_WORDS.items() if word in {_squeezed(code), *words})
    return next(known, "")


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


def _squeezed(text: str) -> str:
    return " ".join(re.findall(r"[a-z]+", text.casefold()))
