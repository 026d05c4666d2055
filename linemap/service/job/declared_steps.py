"""What a person declares about the steps of the work, read from text; what is no answer is refused."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from linemap.domain.record.declared_work import PARTS, workflow_of
from linemap.domain.record.person import Role
from linemap.domain.record.workflow import WORKFLOWS, Workflow, with_weights
from linemap.domain.survey.proof import NEEDS
from linemap.errors import InputRefused
from linemap.service.job.declared import parts_of_rule

#: What is written for a step that its record alone verifies.
_NOTHING = "nothing"
#: What is written for a step that any role records.
_ANYBODY = "anybody"
_RECORDING = tuple(role.value for role in Role if role is not Role.VIEWER)


def read_workflow(text: str) -> Workflow:
    """Read the order of the work by its name.

    >>> read_workflow("Framed aloft").chain
    ('staked', 'spotted', 'dug', 'set', 'framed')
    """
    found = WORKFLOWS.get(" ".join(text.casefold().split()))
    if found is None:
        raise InputRefused.at(
            "--workflow", text, "no order of the work that is known", f"write one of {', '.join(WORKFLOWS)}"
        )
    return found


def read_evidence(
    text: str, saved: Mapping[str, Any], *, workflow: Workflow
) -> Mapping[str, Mapping[str, Any]]:
    """Return the evidence rules a job keeps, step -> "needs" and "source", with that of a text.

    "framed=nothing" says that its record alone verifies a step.

    >>> from linemap.domain.record.workflow import FRAMED_ON_GROUND
    >>> read_evidence("Set = photo, level: spec 9.1", {}, workflow=FRAMED_ON_GROUND)
    {'set': {'needs': ['photo', 'level'], 'source': 'spec 9.1'}}
    """
    name, value, source = parts_of_rule(text, "--evidence", "set=every pole, photo: specification 9.1")
    _require_step(name, workflow, "--evidence")
    needs = [need for part in value.split(",") if (need := " ".join(part.casefold().split()))]
    needs = [] if needs == [_NOTHING] else needs
    for need in needs:
        if need not in NEEDS:
            known = ", ".join((*NEEDS, _NOTHING))
            raise InputRefused.at(
                "--evidence", need, "is no evidence linemap can find", f"use some of {known}"
            )
    return {**saved, name: {"needs": needs, "source": source}}


def read_step_weight(
    text: str, saved: Mapping[str, Any], *, workflow: Workflow
) -> Mapping[str, Mapping[str, Any]]:
    """Return the weights of steps a job keeps, step -> "weight" and "source", with that of a text.

    >>> from linemap.domain.record.workflow import FRAMED_ON_GROUND
    >>> read_step_weight("Set = 30: bid item 4", {}, workflow=FRAMED_ON_GROUND)
    {'set': {'weight': 30.0, 'source': 'bid item 4'}}
    """
    name, value, source = parts_of_rule(text, "--step-weight", "set=30: bid item 4")
    _require_step(name, workflow, "--step-weight")
    if not re.fullmatch(r"\d+(\.\d+)?", value):
        raise InputRefused.at("--step-weight", value, "is no weight", "give a number like 30, or 0")
    merged = {**saved, name: {"weight": float(value), "source": source}}
    with_weights(workflow, merged)
    return merged


def read_step_roles(
    text: str, saved: Mapping[str, Any], *, workflow: Workflow
) -> Mapping[str, Mapping[str, Any]]:
    """Return the roles that record steps of a job, step -> "roles" and "source", with those of a text.

    "inspected=anybody" lets any role record it.

    >>> from linemap.domain.record.workflow import FRAMED_ON_GROUND
    >>> read_step_roles("Inspected = inspector: contract 4.2", {}, workflow=FRAMED_ON_GROUND)
    {'inspected': {'roles': ['inspector'], 'source': 'contract 4.2'}}
    """
    name, value, source = parts_of_rule(text, "--step-roles", "inspected=inspector, manager: contract 4.2")
    _require_step(name, workflow, "--step-roles")
    return {**saved, name: {"roles": _roles(value, "--step-roles"), "source": source}}


def read_punch_roles(text: str) -> Mapping[str, Any]:
    """Return the roles that close punch items, as a job keeps them.

    >>> read_punch_roles("Inspector or manager: contract 9.3")
    {'roles': ['inspector', 'manager'], 'source': 'contract 9.3'}
    """
    value, _, source = text.partition(":")
    return {"roles": _roles(value, "--punch-roles"), "source": source.strip()}


def _roles(text: str, option: str) -> list[str]:
    roles = [role for part in re.split(r",|\bor\b", text) if (role := part.strip().casefold())]
    roles = [] if roles == [_ANYBODY] else roles
    for role in roles:
        if role not in _RECORDING:
            known = ", ".join((*_RECORDING, _ANYBODY))
            raise InputRefused.at(option, role, "is no role that records work", f"use some of {known}")
    return roles


def read_part_step(text: str, settings: Mapping[str, Any]) -> Mapping[str, Mapping[str, Any]]:
    """Return the steps of guys and spans a job keeps, with that of a text: step -> per, requires, source.

    >>> read_part_step("Strung = span after set: contract 3.4", {})
    {'strung': {'per': 'span', 'requires': ['set'], 'source': 'contract 3.4'}}
    """
    option = "--part-step"
    name, value, source = parts_of_rule(text, option, "strung=span after set, blocks hung: contract 3.4")
    per, _, after = " ".join(value.casefold().split()).partition(" ")
    first, _, rest = after.partition(" ")
    if per not in PARTS or (after and first != "after"):
        raise InputRefused.at(
            option, value, "is neither a step of guys nor of spans", "write span or guy, then after and steps"
        )
    requires = [need for part in rest.split(",") if (need := part.strip())]
    saved = settings.get("part_step") or {}
    merged = {**saved, name: {"per": per, "requires": requires, "source": source}}
    known = workflow_of(settings)
    for need in requires:
        _require_step(need, known, option)
    try:
        workflow_of({**settings, "part_step": merged})
    except ValueError as error:
        raise InputRefused.at(option, text, str(error)) from None
    return merged


def _require_step(name: str, workflow: Workflow, option: str) -> None:
    if workflow.step(name) is None:
        steps = ", ".join(step.code for step in workflow.steps)
        raise InputRefused.at(option, name, "is no step of the job's workflow", f"use one of {steps}")
